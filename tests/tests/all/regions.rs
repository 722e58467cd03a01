//! Cuts through some regions of a section: closed pieces, kept volume, nothing changed elsewhere.

use arbtest::arbitrary::{Error, Unstructured};
use seamwright_mesh::split::regions::{NotParted, Regions};
use seamwright_mesh::split::{Split, split};
use seamwright_mesh::{Plane, Solid, lumps, section};
use seamwright_tests::drawn::on_drawn_cases;
use seamwright_tests::shapes::{self, Mesh, cells};
use std::collections::{BTreeMap, BTreeSet};

const TAG: u32 = 7;

fn plane(normal: [f64; 3], offset_mm: f64) -> Plane {
    let unit = Plane::through([0.0; 3], normal).expect("the normal has a length");
    Plane { offset_mm, ..unit }
}

fn regions(solid: &Solid, plane: &Plane) -> Regions {
    Regions::of(solid, plane).expect("the plane meets the solid in a sound section")
}

/// Every triangle by its corners from the least on, and how often it occurs.
fn faces(solid: &Solid) -> BTreeMap<[[i32; 3]; 3], usize> {
    let mut count = BTreeMap::new();
    for t in solid.triangles() {
        let p = t.map(|i| solid.points()[i as usize]);
        let least = (0..3).min_by_key(|&k| p[k]).expect("three corners");
        *count.entry([p[least], p[(least + 1) % 3], p[(least + 2) % 3]]).or_insert(0) += 1;
    }
    count
}

fn is_near(p: [f64; 3], (low, high): ([f64; 3], [f64; 3]), mm: f64) -> bool {
    (0..3).all(|k| p[k] >= low[k] - mm && p[k] <= high[k] + mm)
}

/// Everything that must hold of a cut through chosen regions that part the solid.
fn check(solid: &Solid, regions: &Regions, chosen: &[usize], cut: &Split) {
    let sides = [&cut.below, &cut.above].map(|side| side.as_ref().expect("both sides hold something"));
    let whole = solid.volume_mm3();
    let sum: f64 = sides.iter().map(|side| side.volume_mm3()).sum();
    // As for a full cut: moving edges that touch apart costs volume, the contract allows 1e-6.
    let allowed = if cut.section_points.is_empty() { 1e-6 } else { 1e-7 };
    assert!((sum / whole - 1.0).abs() <= allowed, "volume {sum} of {whole}");
    for side in sides {
        let again = Solid::from_triangles(&side.points_mm(), side.triangles()).expect("a side is a solid").0;
        assert_eq!(again.volume_six_steps3(), side.volume_six_steps3(), "closed without mending");
    }
    // What stays together is what the list of regions says, with the volume of its lumps.
    let groups = regions.groups(chosen).expect("they part it");
    let full = [&regions.whole().below, &regions.whole().above];
    let lumps_mm3: Vec<f64> = full
        .iter()
        .flat_map(|side| lumps::lumps((*side).clone().expect("a full cut has both sides")))
        .map(|lump| lump.volume_mm3())
        .collect();
    assert_eq!(lumps_mm3.len(), regions.n_lumps().iter().sum::<usize>());
    for (side, groups) in sides.into_iter().zip(&groups) {
        let mut found: Vec<f64> =
            lumps::lumps(side.clone()).into_iter().map(|lump| lump.volume_mm3()).collect();
        let mut due: Vec<f64> =
            groups.iter().map(|group| group.iter().map(|&lump| lumps_mm3[lump]).sum()).collect();
        found.sort_by(f64::total_cmp);
        due.sort_by(f64::total_cmp);
        assert_eq!(found.len(), due.len(), "{found:?} mm3 for {due:?}");
        // Cut points of the full cut lie up to two steps off the plane.
        let slack = 0.001 * section::section(solid, &regions.plane()).area_mm2 + 1e-6 * whole;
        found.iter().zip(&due).for_each(|(a, b)| assert!((a - b).abs() < slack, "{found:?} mm3 for {due:?}"));
    }
    // Cut faces are the chosen regions; nothing else has changed.
    let area_mm2: f64 = chosen.iter().map(|&r| regions.list()[r].area_mm2).sum();
    let line_mm: f64 = chosen.iter().map(|&r| regions.list()[r].line_mm).sum();
    for side in sides {
        let cap = (0..side.n_triangles()).filter(|&t| side.origins()[t] == TAG);
        let cap_mm2: f64 = cap.map(|t| side.triangle_area_mm2(t)).sum();
        assert!((cap_mm2 - area_mm2).abs() < 1e-3 * line_mm + 1e-3, "{cap_mm2} mm2 for {area_mm2}");
    }
    let boxes: Vec<_> = chosen.iter().map(|&r| regions.list()[r].box_mm).collect();
    let before: BTreeSet<[i32; 3]> = solid.points().iter().copied().collect();
    for side in sides {
        for (p, at) in side.points().iter().zip(side.points_mm()) {
            let at_cut =
                regions.plane().distance_mm(at).abs() < 0.005 && boxes.iter().any(|b| is_near(at, *b, 0.005));
            assert!(before.contains(p) || at_cut, "a new point at {at:?}");
        }
    }
    let (old, mut new) = (faces(solid), faces(sides[0]));
    faces(sides[1]).into_iter().for_each(|(face, n)| *new.entry(face).or_insert(0) += n);
    for (face, n) in old {
        let corners = face.map(seamwright_mesh::grid::to_mm);
        let low: [f64; 3] = std::array::from_fn(|k| corners.iter().map(|c| c[k]).fold(f64::MAX, f64::min));
        let high: [f64; 3] = std::array::from_fn(|k| corners.iter().map(|c| c[k]).fold(f64::MIN, f64::max));
        let meets =
            |(a, b): ([f64; 3], [f64; 3])| (0..3).all(|k| a[k] <= high[k] + 0.01 && low[k] <= b[k] + 0.01);
        if !boxes.iter().any(|&b| meets(b)) {
            assert!(new.get(&face).is_some_and(|&m| m >= n), "a face far from the cut is gone");
        }
    }
}

/// Cuts through the regions that hold these points of the plane.
fn cut_at(mesh: &Mesh, plane: &Plane, at_mm: &[[f64; 3]]) -> Result<[Vec<f64>; 2], NotParted> {
    let solid = shapes::solid(mesh);
    let regions = regions(&solid, plane);
    let chosen: Vec<usize> =
        at_mm.iter().map(|&p| regions.region_at(p, 0.01).expect("a region is there")).collect();
    let cut = regions.cut(&chosen, TAG)?;
    check(&solid, &regions, &chosen, &cut);
    Ok([cut.below, cut.above].map(|side| {
        lumps::lumps(side.expect("both sides hold something")).iter().map(Solid::volume_mm3).collect()
    }))
}

fn close(found: &[f64], due: &[f64]) {
    let alike = found.len() == due.len() && found.iter().zip(due).all(|(a, b)| (a / b - 1.0).abs() < 1e-6);
    assert!(alike, "{found:?} mm3 for {due:?}");
}

const UP: [f64; 3] = [0.0, 0.0, 1.0];

#[test]
fn one_of_two_towers_on_a_plate_is_cut_off_and_the_other_stays() {
    let towers = cells(&[&["#####"], &[".#.#."], &[".#.#."]], [10.0; 3]);
    let [below, above] = cut_at(&towers, &plane(UP, 14.0), &[[15.0, 5.0, 14.0]]).expect("a tower comes off");
    close(&above, &[1600.0]);
    close(&below, &[9000.0 - 1600.0]);
    // And both together are the full cut.
    let solid = shapes::solid(&towers);
    let both = regions(&solid, &plane(UP, 14.0));
    assert_eq!(both.cut(&[0, 1], TAG).as_ref(), Ok(&split(&solid, &plane(UP, 14.0), TAG)));
    assert_eq!((both.list().len(), both.n_lumps()), (2, [1, 2]));
    assert!(both.list().iter().all(|region| (region.area_mm2 - 100.0).abs() < 0.01
        && (region.line_mm - 40.0).abs() < 0.01
        && is_near(region.inside_mm, region.box_mm, 0.0)));
}

#[test]
fn a_plane_through_vertices_and_along_a_flat_face_cuts_one_tower_alike() {
    // At 10 mm the plane holds the plate's top, at 20 mm a ring of vertices of each tower.
    let towers = cells(&[&["#####"], &[".#.#."], &[".#.#."]], [10.0; 3]);
    for (offset_mm, due) in [(10.0, 2000.0), (20.0, 1000.0)] {
        let [below, above] =
            cut_at(&towers, &plane(UP, offset_mm), &[[35.0, 5.0, offset_mm]]).expect("a tower comes off");
        close(&above, &[due]);
        close(&below, &[9000.0 - due]);
    }
}

#[test]
fn a_ring_cut_in_one_place_is_still_one_piece() {
    let ring = shapes::torus(60.0, 15.0, 64, 24);
    let across = plane([0.0, 1.0, 0.0], 3.0);
    assert_eq!(cut_at(&ring, &across, &[[60.0, 3.0, 0.0]]), Err(NotParted::Holds));
    assert_eq!(cut_at(&ring, &across, &[]), Err(NotParted::Holds));
    let [below, above] =
        cut_at(&ring, &across, &[[60.0, 3.0, 0.0], [-60.0, 3.0, 0.0]]).expect("two places part a ring");
    assert_eq!((below.len(), above.len()), (1, 1));
}

#[test]
fn a_horseshoe_loses_one_end_and_an_arch_one_foot() {
    let horseshoe = cells(&[&["###", "#.#", "#.#", "#.#"]], [10.0; 3]);
    let across = plane([0.0, 1.0, 0.0], 14.0);
    let [below, above] = cut_at(&horseshoe, &across, &[[5.0, 14.0, 5.0]]).expect("an end comes off");
    close(&below, &[1400.0]);
    close(&above, &[9000.0 - 1400.0]);
    let arch = shapes::mapped(horseshoe, |[x, y, z]| [x, -z, y]);
    let [below, above] = cut_at(&arch, &plane(UP, 5.5), &[[25.0, -5.0, 5.5]]).expect("a foot comes off");
    close(&below, &[550.0]);
    close(&above, &[9000.0 - 550.0]);
}

#[test]
fn a_handle_comes_off_a_mug_whose_rim_lies_in_the_same_plane() {
    // A cup that widens upward; the plane cuts both arms of the handle and the flared rim.
    let cup = shapes::turned(
        &shapes::refined(
            &[[0.0, 0.0], [25.0, 0.0], [45.0, 80.0], [41.0, 80.0], [22.0, 4.0], [0.0, 4.0]],
            4.0,
        ),
        64,
    );
    let handle = shapes::mapped(shapes::torus(24.0, 4.0, 48, 16), |[x, y, z]| [x + 38.0, -z, y + 35.0]);
    let mug = shapes::together(cup, handle);
    let beside = plane([1.0, 0.0, 0.0], 43.0);
    let solid = shapes::solid(&mug);
    let found = regions(&solid, &beside);
    assert_eq!((found.list().len(), found.n_lumps()), (3, [1, 2]));
    let arm = |z: f64| [43.0, 0.0, z];
    let high = 35.0 + (24.0 * 24.0 - 25.0_f64).sqrt();
    let low = 35.0 - (24.0 * 24.0 - 25.0_f64).sqrt();
    assert_eq!(cut_at(&mug, &beside, &[arm(high)]), Err(NotParted::Holds), "one arm still holds it");
    let [below, above] = cut_at(&mug, &beside, &[arm(high), arm(low)]).expect("the handle comes off");
    // The handle's ring, about half of which lies beyond the plane; the cup keeps its rim.
    assert_eq!((below.len(), above.len()), (1, 1));
    let ring_mm3 = 2.0 * std::f64::consts::PI * std::f64::consts::PI * 24.0 * 16.0;
    assert!(above[0] > 0.35 * ring_mm3 && above[0] < 0.5 * ring_mm3, "{} of {ring_mm3}", above[0]);
}

#[test]
fn a_cavity_and_a_shaft_go_with_the_part_they_lie_in() {
    // Two hollow balls on a bar: one has its cavity below the plane, the other is open through it.
    let ball = |x: f64, z: f64| {
        shapes::mapped(shapes::thick_shell(30.0, 20.0, 24), move |p| [p[0] + x, p[1], p[2] + z])
    };
    let bar = shapes::cuboid([-50.0, -4.0, -50.0], [50.0, 4.0, -20.0], 1);
    let both = shapes::together(shapes::together(ball(-45.0, 0.0), ball(45.0, 0.0)), bar);
    let level = plane(UP, 25.0);
    let solid = shapes::solid(&both);
    let found = regions(&solid, &level);
    // Above the cavity each ball shows a full disc.
    assert_eq!((found.list().len(), found.n_lumps()), (2, [1, 2]));
    let [below, above] = cut_at(&both, &level, &[[-45.0, 0.0, 25.0]]).expect("a cap of a ball comes off");
    // A cap of height 5 of a ball of radius 30: pi h^2 (3 r - h) / 3; 24 rows of facets lie inside.
    let cap_mm3 = std::f64::consts::PI * 25.0 * 85.0 / 3.0;
    assert!(above.len() == 1 && (above[0] / cap_mm3 - 1.0).abs() < 0.06, "{above:?} mm3 of {cap_mm3}");
    assert_eq!(below.len(), 1);
    let through = plane(UP, 1.0);
    let found = regions(&solid, &through);
    let ring_mm2 = std::f64::consts::PI * (30.0 * 30.0 - 20.0 * 20.0);
    let rings = found.list().iter().filter(|region| (region.area_mm2 / ring_mm2 - 1.0).abs() < 0.02);
    assert_eq!(rings.count(), 2, "a disc with a hole is one region");
    let [below, above] = cut_at(&both, &through, &[[-20.0, 0.0, 1.0]]).expect("half a ball comes off");
    assert_eq!((below.len(), above.len()), (1, 1));
}

#[test]
fn a_part_above_one_chosen_region_and_below_another_is_refused() {
    // An S lying on its back: up, across, down, across, up. Cut at its middle arm and an outer one.
    let snake = cells(&[&["###.#", "#.#.#", "#.#.#", "#.###"]], [10.0; 3]);
    let across = plane([0.0, 1.0, 0.0], 20.5);
    let at = |x: f64| [x, 20.5, 5.0];
    assert_eq!(cut_at(&snake, &across, &[at(5.0), at(25.0), at(45.0)]).map(|_| ()), Ok(()), "the full cut");
    assert_eq!(cut_at(&snake, &across, &[at(5.0)]).map(|_| ()), Ok(()));
    assert_eq!(cut_at(&snake, &across, &[at(5.0), at(25.0)]).map(|_| ()), Ok(()), "a bow above both");
    assert_eq!(cut_at(&snake, &across, &[at(5.0), at(45.0)]).map(|_| ()), Err(NotParted::Turned));
    let [below, above] = cut_at(&snake, &across, &[at(25.0)]).expect("the middle arm parts it");
    // The plane runs through both parts; each lies on both sides of it.
    close(&below, &[(2.05 + 2.0 + 3.0) * 1000.0 - 0.05e3 + 0.05e3]);
    close(&above, &[14_000.0 - below[0]]);
}

/// What became of choices.
#[derive(Debug, Default)]
struct Tally {
    n_partial: usize,
    n_held: usize,
    n_turned: usize,
    n_touching: usize,
    n_unsound: usize,
}

/// Cuts the largest lump by a drawn plane through each region alone, through drawn regions, and round
/// each lump.
fn try_choices(u: &mut Unstructured, mesh: &Mesh, tally: &mut Tally) -> Result<(), Error> {
    let Ok((solid, _)) = Solid::from_triangles(&mesh.0, &mesh.1) else { return Ok(()) };
    let volume_order = |a: &Solid, b: &Solid| a.volume_mm3().total_cmp(&b.volume_mm3());
    let largest = lumps::lumps(solid).into_iter().max_by(volume_order).expect("there is a lump");
    let points = largest.points_mm();
    let normal: [f64; 3] = std::array::from_fn(|_| f64::from(u.int_in_range(-9..=9).unwrap_or(1)));
    // Half of the planes run through a vertex.
    let vertex = points[u.choose_index(points.len())?];
    let at = if u.ratio(1, 2)? { vertex } else { vertex.map(|c| 0.7 * c + 7.31) };
    let Some(plane) = Plane::through(at, normal) else { return Ok(()) };
    let Some(regions) = Regions::of(&largest, &plane) else {
        tally.n_unsound += 1;
        return Ok(());
    };
    let all: Vec<usize> = (0..regions.list().len()).collect();
    assert_eq!(regions.whole(), &split(&largest, &plane, u32::MAX >> 2));
    assert_eq!(regions.cut(&[], TAG), Err(NotParted::Holds));
    let section = section::section(&largest, &plane);
    let area_mm2: f64 = regions.list().iter().map(|region| region.area_mm2).sum();
    let line_mm: f64 = regions.list().iter().map(|region| region.line_mm).sum();
    assert!((area_mm2 - section.area_mm2).abs() < 1e-3 * line_mm + 1e-3);
    // Along edges and faces in the plane the section of searches runs beside them.
    let is_general = points.iter().all(|&p| plane.distance_mm(p).abs() > 0.01);
    assert!(
        !is_general || (line_mm - section.length_mm).abs() < 1e-3 * line_mm + 1e-3,
        "{line_mm} of {}",
        section.length_mm
    );
    let mut choices: Vec<Vec<usize>> = all.iter().map(|&region| vec![region]).collect();
    for _ in 0..6 {
        choices.push(all.iter().copied().filter(|_| u.ratio(1, 2).unwrap_or(false)).collect());
    }
    for lump in 0..regions.n_lumps().iter().sum() {
        choices.push(
            all.iter().copied().filter(|&region| regions.list()[region].lumps.contains(&lump)).collect(),
        );
    }
    for chosen in choices {
        match regions.cut(&chosen, TAG) {
            Ok(cut) => {
                tally.n_partial += usize::from(chosen.len() < all.len());
                check(&largest, &regions, &chosen, &cut);
            }
            Err(NotParted::Holds) => tally.n_held += 1,
            Err(NotParted::Turned) => tally.n_turned += 1,
            Err(NotParted::Touches) => tally.n_touching += 1,
            // A cavity that lies in several bodies may lose its owner in the full cut.
            Err(NotParted::Rough) => tally.n_unsound += 1,
        }
    }
    Ok(())
}

#[test]
fn any_choice_that_parts_a_clump_keeps_volume_and_changes_nothing_elsewhere() {
    let mut tally = Tally::default();
    on_drawn_cases(400, |u| {
        let n = 6;
        let bits = (0..n * n * n).map(|_| Ok(u.int_in_range(0..=9)? < 4)).collect::<Result<_, Error>>()?;
        try_choices(u, &shapes::clump(bits, n), &mut tally)
    });
    assert!(
        tally.n_partial > 300 && tally.n_held > 100 && tally.n_unsound < 20 + tally.n_partial / 50,
        "{tally:?}"
    );
}

#[test]
fn any_choice_that_parts_a_thing_of_overlapping_bodies_keeps_volume_too() {
    let mut tally = Tally::default();
    on_drawn_cases(200, |u| {
        let mut mesh: Mesh = (Vec::new(), Vec::new());
        for _ in 0..u.int_in_range(2..=5)? {
            let body = match u.int_in_range(0..=2)? {
                0 => shapes::torus(30.0, 8.0, 24, 12),
                1 => shapes::cuboid([-40.0, -6.0, -5.0], [40.0, 6.0, 5.0], 3),
                _ => shapes::thick_shell(22.0, 15.0, 10),
            };
            let to: [f64; 3] =
                std::array::from_fn(|_| 0.37 * f64::from(u.int_in_range(-60..=60).unwrap_or(0)));
            let axes = u.int_in_range(0..=2)?;
            let placed = |p: [f64; 3]| std::array::from_fn(|k| p[(k + axes) % 3] + to[k]);
            mesh = shapes::together(mesh, shapes::mapped(body, placed));
        }
        try_choices(u, &mesh, &mut tally)
    });
    assert!(
        tally.n_partial > 100 && tally.n_held > 100 && tally.n_unsound < 20 + tally.n_partial / 50,
        "{tally:?}"
    );
}
