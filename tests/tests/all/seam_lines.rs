//! Seams measured from meshes against closed forms: lengths, skins, detail, hollows.

use seamwright_mesh::{Plane, Solid, split::split};
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::patches::{InnerRule, SkinMap};
use seamwright_tests::drawn::on_drawn_cases;
use seamwright_tests::shapes::{self, Mesh, block, steps};
use std::f64::consts::PI;

/// Snapping moves each point by up to 0.0002 mm; a boundary of a few hundred sides gathers less
/// than this, in mm and mm2 alike for the shapes here.
const SNAPPED: f64 = 0.02;

/// A straight line round one corner of 90 degrees is through detail for 3 mm where a chord ends in
/// the corner, and for 3 mm and the two legs of a chord across it where it is cut evenly.
const ONE_CORNER_MM: (f64, f64) = (2.99, 3.0 + 1.5 * std::f64::consts::SQRT_2 + 0.01);

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} instead of {expected}");
}

/// Every piece cut by every plane in turn.
fn pieces_of(item: &Solid, planes: &[Plane]) -> Vec<Solid> {
    let mut pieces = vec![item.clone()];
    for (index, plane) in planes.iter().enumerate() {
        pieces = pieces
            .iter()
            .flat_map(|piece| {
                let halves = split(piece, plane, index as u32 + 1);
                [halves.below, halves.above].into_iter().flatten()
            })
            .collect();
    }
    pieces
}

fn plane(normal: [f64; 3], point_mm: [f64; 3]) -> Plane {
    Plane::through(point_mm, normal).expect("the normal has a length")
}

fn seams_of(mesh: &Mesh, planes: &[Plane]) -> Vec<SeamMeasure> {
    let item = shapes::solid(mesh);
    let pieces = pieces_of(&item, planes);
    measure_seams(&item, &SkinMap::new(&item), &pieces.iter().collect::<Vec<_>>(), planes)
}

fn total(seams: &[SeamMeasure], value: fn(&SeamMeasure) -> f64) -> f64 {
    seams.iter().map(value).sum()
}

/// Turned about a slanted axis and moved away from the origin.
fn turned_and_moved(p: [f64; 3]) -> [f64; 3] {
    let map = turning();
    map.apply(p)
}

fn turning() -> seamwright_mesh::Placement {
    // Columns of a rotation by whole-number ratios: rows (2,-1,2)/3, (2,2,-1)/3, (-1,2,2)/3.
    let third = 1.0 / 3.0;
    seamwright_mesh::Placement::from_rows(
        [[2.0, -1.0, 2.0], [2.0, 2.0, -1.0], [-1.0, 2.0, 2.0]].map(|row| row.map(|x| x * third)),
        [31.7, -12.3, 77.1],
    )
}

fn turn_plane(plane: &Plane) -> Plane {
    let rows = turning().rows();
    let normal = rows.map(|row| seamwright_mesh::vec3::dot(row, plane.normal));
    let foot = turned_and_moved(seamwright_mesh::vec3::scale(plane.normal, plane.offset_mm));
    Plane::through(foot, normal).expect("the normal has a length")
}

#[test]
fn a_box_cut_in_two_has_one_seam_as_long_as_its_outline_and_all_of_it_shows() {
    let mesh = shapes::cuboid([0.0; 3], [120.0, 80.0, 50.0], 3);
    let seams = seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [50.0, 0.0, 0.0])]);
    assert_eq!(seams.len(), 1);
    near(seams[0].bond_area_mm2, 80.0 * 50.0, SNAPPED, "area");
    near(seams[0].line_mm, 260.0, SNAPPED, "line");
    near(seams[0].visible_mm, 260.0, SNAPPED, "visible");
    near(seams[0].in_hollow_mm, 0.0, 0.0, "in a hollow");
    near(seams[0].min_wall_mm.unwrap(), 50.0, SNAPPED, "thinnest");
    let through_mm = seams[0].through_detail_mm;
    assert!((4.0 * ONE_CORNER_MM.0..=4.0 * ONE_CORNER_MM.1).contains(&through_mm), "{through_mm}");
}

#[test]
fn the_first_piece_of_a_seam_is_the_one_below_the_plane() {
    let item = shapes::solid(&shapes::cuboid([0.0; 3], [40.0, 30.0, 50.0], 1));
    let planes = [plane([0.0, 0.0, -1.0], [0.0, 0.0, 20.0])];
    let pieces = pieces_of(&item, &planes);
    let seams = measure_seams(&item, &SkinMap::new(&item), &pieces.iter().collect::<Vec<_>>(), &planes);
    let height = |piece: &Solid| piece.points_mm().iter().map(|p| p[2]).fold(0.0, f64::max);
    assert!(height(&pieces[seams[0].pieces.0]) > height(&pieces[seams[0].pieces.1]));
}

#[test]
fn a_tube_cut_across_shows_its_outer_circle_and_hides_its_inner() {
    let n = 96;
    let mesh = shapes::tube(60.0, 56.0, 200.0, n);
    let polygon = |radius: f64| 2.0 * n as f64 * radius * libm::sin(PI / n as f64);
    let seams = seams_of(&mesh, &[plane([0.0, 0.0, 1.0], [0.0, 0.0, 77.0])]);
    assert_eq!(seams.len(), 1);
    near(seams[0].line_mm, polygon(60.0) + polygon(56.0), SNAPPED, "line");
    near(seams[0].visible_mm, polygon(60.0), SNAPPED, "visible");
    near(seams[0].through_detail_mm, 0.0, 0.0, "through detail");
    let wall_mm = seams[0].min_wall_mm.unwrap();
    assert!((3.9..=4.01).contains(&wall_mm), "{wall_mm}");
}

#[test]
fn a_tube_cut_lengthwise_shows_its_outer_edges_and_its_rims() {
    let mesh = shapes::tube(60.0, 56.0, 200.0, 96);
    for normal in [[0.0, 1.0, 0.0], [0.3, 1.0, 0.0]] {
        let seams = seams_of(&mesh, &[plane(normal, [0.0; 3])]);
        assert_eq!(seams.len(), 2);
        for seam in &seams {
            // Facets: a wall seen between two corners of the circle is thinner by cos(pi / 96).
            near(seam.bond_area_mm2, 800.0, 0.6, "area");
            near(seam.line_mm, 408.0, 0.02, "line");
            near(seam.visible_mm, 208.0, 0.02, "visible");
        }
    }
}

#[test]
fn the_skin_that_faces_the_body_is_inner() {
    let n = 96;
    let item = shapes::solid(&shapes::tube(60.0, 56.0, 200.0, n));
    let planes = [plane([0.0, 0.0, 1.0], [0.0, 0.0, 77.0])];
    let pieces = pieces_of(&item, &planes);
    let visible_mm = |rule: &InnerRule| {
        let skin = SkinMap::with_rule(&item, rule);
        measure_seams(&item, &skin, &pieces.iter().collect::<Vec<_>>(), &planes)[0].visible_mm
    };
    let polygon = |radius: f64| 2.0 * n as f64 * radius * libm::sin(PI / n as f64);
    let along = InnerRule::FacingBody { point_mm: [1.0, 2.0, 0.0], axis: Some([0.0, 0.0, 1.0]) };
    near(visible_mm(&along), polygon(60.0), SNAPPED, "body inside the tube");
    let center = InnerRule::FacingBody { point_mm: [0.0, 0.0, 100.0], axis: None };
    near(visible_mm(&center), polygon(60.0), SNAPPED, "body as a point");
}

#[test]
fn a_blade_has_no_inner_side() {
    let mesh = shapes::cuboid([0.0; 3], [40.0, 300.0, 2.0], 4);
    let seams = seams_of(&mesh, &[plane([0.0, 1.0, 0.0], [0.0, 140.0, 0.0])]);
    near(total(&seams, |s| s.line_mm), 84.0, SNAPPED, "line");
    near(total(&seams, |s| s.visible_mm), 84.0, SNAPPED, "visible");
}

#[test]
fn a_diamond_blade_that_sees_itself_has_no_inner_side() {
    let xs = [-20.0, 0.0, 20.0];
    let profile: Vec<[f64; 2]> = vec![[xs[0], 0.0], [0.0, -3.0], [xs[2], 0.0], [0.0, 3.0]];
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for y in [0.0, 300.0] {
        mesh.0.extend(profile.iter().map(|&[x, z]| [x, y, z]));
    }
    for k in 0..4u32 {
        let l = (k + 1) % 4;
        mesh.1.extend([[k, k + 4, l + 4], [k, l + 4, l]]);
    }
    mesh.1.extend([[0, 1, 2], [0, 2, 3], [4, 6, 5], [4, 7, 6]]);
    let skin = SkinMap::new(&shapes::solid(&mesh));
    assert!(!skin.patches().is_empty());
    let seams = seams_of(&mesh, &[plane([0.0, 1.0, 0.0], [0.0, 140.0, 0.0])]);
    let outline_mm = 4.0 * libm::hypot(20.0, 3.0);
    near(total(&seams, |s| s.visible_mm), outline_mm, SNAPPED, "visible");
}

/// The lower half of a thick sphere shell, rim up.
fn bowl(outer: f64, inner: f64, n_rows: usize, n_around: usize) -> Mesh {
    let arc = |radius: f64, i: usize| {
        let polar = PI / 2.0 * i as f64 / n_rows as f64;
        let r = if i == 0 { 0.0 } else { radius * libm::sin(polar) };
        [r, -radius * libm::cos(polar)]
    };
    let mut profile: Vec<[f64; 2]> = (0..=n_rows).map(|i| arc(outer, i)).collect();
    profile.extend((0..=n_rows).rev().map(|i| arc(inner, i)));
    shapes::turned(&profile, n_around)
}

#[test]
fn a_dome_cut_through_its_pole_shows_the_outer_arc_and_the_rim() {
    let n_rows = 48;
    let mesh = bowl(110.0, 106.0, n_rows, 96);
    let seams = seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [0.0; 3])]);
    assert_eq!(seams.len(), 1);
    let arc = |radius: f64| 4.0 * n_rows as f64 * radius * libm::sin(PI / (4.0 * n_rows as f64));
    near(seams[0].visible_mm, arc(110.0) + 8.0, SNAPPED, "visible");
    near(seams[0].line_mm, arc(110.0) + arc(106.0) + 8.0, SNAPPED, "line");
}

#[test]
fn a_bowl_with_a_rounded_rim_has_an_inner_side_only_once_the_body_is_known() {
    let (n_rows, n_rim) = (48, 4);
    let mut profile: Vec<[f64; 2]> = Vec::new();
    let quarter = |radius: f64, i: usize| {
        let polar = PI / 2.0 * i as f64 / n_rows as f64;
        [if i == 0 { 0.0 } else { radius * libm::sin(polar) }, -radius * libm::cos(polar)]
    };
    profile.extend((0..=n_rows).map(|i| quarter(110.0, i)));
    profile.extend((1..n_rim).map(|i| {
        let turn = PI * i as f64 / n_rim as f64;
        [108.0 + 2.0 * libm::cos(turn), 2.0 * libm::sin(turn)]
    }));
    profile.extend((0..=n_rows).rev().map(|i| quarter(106.0, i)));
    let item = shapes::solid(&shapes::turned(&profile, 96));
    let planes = [plane([1.0, 0.0, 0.0], [0.0; 3])];
    let pieces = pieces_of(&item, &planes);
    let measured = |rule: &InnerRule| {
        let skin = SkinMap::with_rule(&item, rule);
        measure_seams(&item, &skin, &pieces.iter().collect::<Vec<_>>(), &planes)[0].clone()
    };
    let by_size = measured(&InnerRule::BySize);
    near(by_size.visible_mm, by_size.line_mm, SNAPPED, "no side: all shows");
    let arc = |radius: f64| 4.0 * n_rows as f64 * radius * libm::sin(PI / (4.0 * n_rows as f64));
    let head = measured(&InnerRule::FacingBody { point_mm: [0.0, 0.0, -20.0], axis: None });
    // Only the faces of the rim that look inward may go with the inner side.
    let rim_mm = 2.0 * 2.0 * n_rim as f64 * 2.0 * libm::sin(PI / (2.0 * n_rim as f64));
    let hidden_mm = head.line_mm - head.visible_mm;
    assert!((arc(106.0) - SNAPPED..=arc(106.0) + rim_mm / 2.0 + SNAPPED).contains(&hidden_mm), "{hidden_mm}");
}

/// A half tube along y, 4 mm thick, its two ends rounded in four facets: rays from the facets meet
/// the skins within 10 mm, so all is one patch that sees itself.
fn half_tube(radius: f64, length_mm: f64) -> Mesh {
    let (n_along, n_turn) = (24, 48);
    let ring: Vec<[f64; 2]> = (0..=4)
        .map(|i| PI / 4.0 * f64::from(i) - PI / 2.0)
        .map(|turn| [2.0 * libm::cos(turn), 2.0 * libm::sin(turn)])
        .collect();
    let mut rows: Vec<[f64; 3]> = ring.iter().map(|&[out, up]| [length_mm + out, up, 1.0]).collect();
    rows.extend((1..n_along).rev().map(|i| [length_mm * f64::from(i) / f64::from(n_along), 2.0, 0.0]));
    rows.extend(ring.iter().rev().map(|&[out, up]| [-out, up, -1.0]));
    rows.extend((1..n_along).map(|i| [length_mm * f64::from(i) / f64::from(n_along), -2.0, 0.0]));
    let n_rows = rows.len() as u32;
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for k in 0..=n_turn {
        let turn = PI * f64::from(k) / f64::from(n_turn);
        for &[along, up, _] in &rows {
            let r = radius + up;
            mesh.0.push([r * libm::cos(turn), along, r * libm::sin(turn)]);
        }
    }
    let at = |k: u32, row: u32| k * n_rows + row % n_rows;
    for k in 0..n_turn as u32 {
        for row in 0..n_rows {
            let [a, b, c, d] = [at(k, row), at(k, row + 1), at(k + 1, row + 1), at(k + 1, row)];
            mesh.1.extend([[a, b, c], [a, c, d]]);
        }
    }
    // Flat ends, each a fan about the first row: the section is convex.
    for row in 1..n_rows - 1 {
        mesh.1.push([at(0, 0), at(0, row + 1), at(0, row)]);
        let k = n_turn as u32;
        mesh.1.push([at(k, 0), at(k, row), at(k, row + 1)]);
    }
    shapes::reversed(mesh)
}

#[test]
fn a_role_tells_the_inner_side_of_a_guard_however_short_and_however_it_lies() {
    for length_mm in [40.0, 400.0] {
        let flat = half_tube(50.0, length_mm);
        for mesh in [flat.clone(), shapes::mapped(flat.clone(), turned_and_moved)] {
            let item = shapes::solid(&mesh);
            let inner_mm2 = |role| {
                let skin = SkinMap::with_rule(&item, &InnerRule::of_role(role, &item));
                let inner = (0..item.triangles().len()).filter(|&i| skin.is_inner(i));
                inner.map(|i| item.triangle_area_mm2(i)).sum::<f64>()
            };
            let skin_mm2 = PI * 48.0 * length_mm;
            // Rims turned towards the body may count with it: 2 mm quarter rounds at both ends.
            let rim_mm2 = 2.0 * PI * 48.0 * PI;
            for role in ["greave", "breastplate"] {
                let found_mm2 = inner_mm2(Some(role));
                assert!(found_mm2 > 0.99 * skin_mm2 && found_mm2 < skin_mm2 + rim_mm2, "{role} {found_mm2}");
            }
            assert_eq!(inner_mm2(Some("blade")), 0.0);
        }
    }
}

#[test]
fn bodies_that_run_into_each_other_share_one_seam_along_their_common_outline() {
    let mesh = shapes::together(
        shapes::cuboid([0.0; 3], [60.0, 40.0, 30.0], 2),
        shapes::cuboid([20.0, -10.0, 10.0], [40.0, 25.0, 50.0], 3),
    );
    let item = shapes::solid(&mesh);
    let planes = [plane([1.0, 0.0, 0.0], [31.0, 0.0, 0.0])];
    let pieces = pieces_of(&item, &planes);
    let seams = measure_seams(&item, &SkinMap::new(&item), &pieces.iter().collect::<Vec<_>>(), &planes);
    assert_eq!(seams.len(), 1);
    near(seams[0].bond_area_mm2, 40.0 * 30.0 + 35.0 * 40.0 - 25.0 * 20.0, SNAPPED, "area");
    // Two rectangles that cross at two corners: the box round both, 50 by 50.
    near(seams[0].line_mm, 200.0, SNAPPED, "line");
    near(seams[0].visible_mm, 200.0, SNAPPED, "visible");
}

#[test]
fn the_wall_of_a_closed_shell_hides_its_cavity() {
    let n_rows = 40;
    let mesh = shapes::thick_shell(80.0, 75.0, n_rows);
    let seams = seams_of(&mesh, &[plane([0.0, 0.0, 1.0], [0.0; 3])]);
    let n = 2.0 * n_rows as f64;
    near(seams[0].visible_mm, 2.0 * n * 80.0 * libm::sin(PI / n), SNAPPED, "visible");
    near(seams[0].line_mm, 2.0 * n * 155.0 * libm::sin(PI / n), SNAPPED, "line");
    assert_eq!(seams[0].loops.len(), 2);
}

#[test]
fn a_box_cut_thrice_has_twelve_seams_and_each_shows_half_its_outline() {
    let mesh = shapes::cuboid([0.0; 3], [100.0, 80.0, 60.0], 5);
    let planes = [
        plane([1.0, 0.0, 0.0], [50.0, 0.0, 0.0]),
        plane([0.0, 1.0, 0.0], [0.0, 40.0, 0.0]),
        plane([0.0, 0.0, 1.0], [0.0, 0.0, 30.0]),
    ];
    let seams = seams_of(&mesh, &planes);
    assert_eq!(seams.len(), 12);
    let area_mm2 = [1200.0, 1500.0, 2000.0];
    let half_outline_mm = [70.0, 80.0, 90.0];
    for seam in &seams {
        near(seam.bond_area_mm2, area_mm2[seam.plane_index], SNAPPED, "area");
        near(seam.line_mm, 2.0 * half_outline_mm[seam.plane_index], SNAPPED, "line");
        near(seam.visible_mm, half_outline_mm[seam.plane_index], SNAPPED, "visible");
        assert!((ONE_CORNER_MM.0..=ONE_CORNER_MM.1).contains(&seam.through_detail_mm));
    }
}

#[test]
fn slanted_cuts_measured_from_the_pieces_add_up_to_the_outline_of_each_plane() {
    let mesh = shapes::cuboid([0.0; 3], [100.0, 80.0, 60.0], 5);
    let planes = [
        plane([1.0, 0.21, 0.13], [50.0, 40.0, 30.0]),
        plane([0.17, 1.0, -0.29], [50.0, 40.0, 30.0]),
        plane([-0.11, 0.23, 1.0], [50.0, 40.0, 30.0]),
    ];
    let seams = seams_of(&mesh, &planes);
    assert_eq!(seams.len(), 12);
    for (index, plane) in planes.iter().enumerate() {
        // A parallelogram prism of the box's cross-section: area = projected area / cosine.
        let across = [80.0 * 60.0, 100.0 * 60.0, 100.0 * 80.0][index];
        let expected_mm2 = across / plane.normal[index];
        let of_plane: Vec<_> = seams.iter().filter(|s| s.plane_index == index).cloned().collect();
        near(total(&of_plane, |s| s.bond_area_mm2), expected_mm2, 0.05, "area");
        let one_cut = seams_of(&mesh, &planes[index..=index]);
        near(total(&of_plane, |s| s.visible_mm), one_cut[0].line_mm, 0.05, "visible");
    }
}

#[test]
fn planes_that_coincide_count_once() {
    let mesh = shapes::cuboid([0.0; 3], [100.0, 80.0, 60.0], 2);
    let planes = [plane([1.0, 0.0, 0.0], [50.0, 0.0, 0.0]), plane([-1.0, 0.0, 0.0], [50.0, 3.0, 0.0])];
    assert_eq!(seams_of(&mesh, &planes).len(), 1);
}

/// A thick plate with a groove 2 mm wide and 1 mm deep along y at x = 50.
fn grooved(n_across: usize) -> Mesh {
    let mut xs = steps(100.0, 20);
    xs.extend([49.0, 51.0]);
    xs.extend((1..n_across).flat_map(|i| {
        let x = i as f64 / n_across as f64;
        [49.0 + x, 50.0 + x]
    }));
    xs.sort_by(f64::total_cmp);
    block(&xs, &steps(60.0, 7), |x, _| 20.0 - (1.0 - (x - 50.0).abs()).max(0.0))
}

#[test]
fn a_seam_along_a_groove_lies_in_a_hollow_and_one_across_it_does_not() {
    for n_across in [1, 4, 9] {
        let mesh = grooved(n_across);
        let along = &seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [50.0, 0.0, 0.0])])[0];
        near(along.in_hollow_mm, 60.0, 1.6, "along the groove");
        let across = &seams_of(&mesh, &[plane([0.0, 1.0, 0.0], [0.0, 31.0, 0.0])])[0];
        near(across.in_hollow_mm, 0.0, 0.0, "across the groove");
    }
}

#[test]
fn a_seam_beside_a_groove_counts_to_a_millimetre_and_a_half_and_no_farther() {
    let mesh = grooved(2);
    let at = |x: f64| seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [x, 0.0, 0.0])])[0].in_hollow_mm;
    near(at(50.7), 60.0, 1.6, "0.7 mm off, 1 mm along the surface");
    near(at(52.5), 0.0, 0.0, "2.5 mm off");
    near(at(80.0), 0.0, 0.0, "far off");
}

#[test]
fn a_seam_over_a_row_of_rivets_runs_through_detail_and_one_beside_it_does_not() {
    // Rivets of 4 mm radius, 2.5 mm high, every 15 mm along x at y = 30.
    let height = |x: f64, y: f64| {
        let from_rivet = libm::hypot(x - 15.0 * (x / 15.0).round().clamp(1.0, 5.0), y - 30.0);
        // The sphere through a foot of radius 4 and a top 2.5 up: (16 + 6.25) / 5.
        let radius: f64 = 4.45;
        let lift = (radius * radius - from_rivet * from_rivet).max(0.0).sqrt() - (radius - 2.5);
        20.0 + lift.max(0.0)
    };
    let mesh = block(&steps(90.0, 360), &steps(60.0, 240), height);
    let at = |y: f64| seams_of(&mesh, &[plane([0.0, 1.0, 0.0], [0.0, y, 0.0])])[0].clone();
    let (over, beside) = (at(30.05), at(12.05));
    // Each rivet has two feet, each at least the 3 mm around a corner, but where they run together.
    assert!(over.through_detail_mm > beside.through_detail_mm + 5.0 * 4.0, "{}", over.through_detail_mm);
    assert!(beside.through_detail_mm < 4.0 * ONE_CORNER_MM.1);
    near(over.in_hollow_mm, 0.0, 5.0 * 2.0, "over rivets");
}

/// A relief band given by its equation: z = 20 + 2 sin(2 pi x / 8).
fn relief(n_per_wave: usize) -> Mesh {
    let height = |x: f64, _: f64| 20.0 + 2.0 * libm::sin(2.0 * PI * x / 8.0);
    block(&steps(80.0, 10 * n_per_wave), &steps(60.0, 5), height)
}

#[test]
fn over_a_relief_band_the_line_climbs_and_along_its_valleys_it_hides() {
    for n_per_wave in [16, 40] {
        let mesh = relief(n_per_wave);
        let over = &seams_of(&mesh, &[plane([0.0, 1.0, 0.0], [0.0, 31.0, 0.0])])[0];
        // Each wave turns by 2 x 115 degrees (slope 2 pi 2 / 8 = 1.57 = tan 57.5) within 10.9 mm.
        assert!(over.through_detail_mm > 45.0, "{}", over.through_detail_mm);
        near(over.in_hollow_mm, 0.0, 0.0, "over the band");
        let valley = &seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [38.0, 0.0, 0.0])])[0];
        near(valley.in_hollow_mm, 60.0, 1.6, "in the valley");
        let ridge = &seams_of(&mesh, &[plane([1.0, 0.0, 0.0], [34.0, 0.0, 0.0])])[0];
        near(ridge.in_hollow_mm, 0.0, 0.0, "on the ridge");
        for straight in [valley, ridge] {
            assert!(straight.through_detail_mm < 4.0 * ONE_CORNER_MM.1);
        }
    }
}

#[test]
fn a_relief_measures_alike_whatever_the_tessellation() {
    let planes = [plane([0.05, 1.0, 0.0], [0.0, 31.0, 0.0]), plane([1.0, 0.0, 0.05], [37.9, 0.0, 20.0])];
    let coarse = seams_of(&relief(24), &planes);
    // Four and sixteen times as many faces; the mesh itself comes nearer to the equation by 0.02 mm.
    for n_per_wave in [48, 96] {
        let fine = seams_of(&relief(n_per_wave), &planes);
        near(total(&fine, |s| s.visible_mm) / total(&coarse, |s| s.visible_mm), 1.0, 0.005, "visible");
        near(
            total(&fine, |s| s.through_detail_mm) / total(&coarse, |s| s.through_detail_mm),
            1.0,
            0.1,
            "detail",
        );
        near(total(&fine, |s| s.in_hollow_mm) / total(&coarse, |s| s.in_hollow_mm), 1.0, 0.05, "hollow");
    }
}

#[test]
fn cuts_in_any_direction_leave_no_line_of_the_skin_unmeasured() {
    let item = shapes::solid(&shapes::torus(60.0, 15.0, 64, 24));
    let skin = SkinMap::new(&item);
    let (mut n_cases, mut n_compared) = (0, 0);
    on_drawn_cases(150, |u| {
        let mut planes = Vec::new();
        for _ in 0..3 {
            let mut number =
                || Ok::<f64, arbtest::arbitrary::Error>(f64::from(u.int_in_range(-1000..=1000)?) / 1000.0);
            let normal = [number()?, number()?, number()?];
            let point_mm = [20.0 * number()?, 20.0 * number()?, 8.0 * number()?];
            planes.extend(Plane::through(point_mm, normal));
        }
        let measure = |pieces: &[Solid], planes: &[Plane]| {
            measure_seams(&item, &skin, &pieces.iter().collect::<Vec<_>>(), planes)
        };
        let together = measure(&pieces_of(&item, &planes), &planes);
        let alone: Vec<_> = planes.iter().map(|p| measure(&pieces_of(&item, &[*p]), &[*p])).collect();
        let sum =
            |value| [total(&together, value), alone.iter().map(|seams| total(seams, value)).sum::<f64>()];
        let [area_mm2, expected_mm2] = sum(|s| s.bond_area_mm2);
        near(area_mm2, expected_mm2, 0.2, "all planes together, area");
        // Where two planes meet just under the skin, a strip narrower than a hundredth of a mm is no
        // seam, however long; its area tells of it. Elsewhere only patches under 0.005 mm2 are
        // dropped: corners with a leg of a mm or so where planes meet at a slant.
        if expected_mm2 - area_mm2 < 0.02 {
            let [visible_mm, expected_mm] = sum(|s| s.visible_mm);
            near(visible_mm, expected_mm, 2.0, "all planes together, line");
            n_compared += 1;
        }
        n_cases += 1;
        Ok(())
    });
    assert!(10 * n_compared >= 9 * n_cases, "{n_compared} of {n_cases} lines compared");
}

#[test]
fn turning_and_moving_the_item_changes_no_measure() {
    let planes = [plane([1.0, 0.2, 0.1], [41.0, 30.0, 10.0]), plane([0.1, 1.0, 0.0], [0.0, 26.0, 0.0])];
    let mesh = relief(24);
    let here = seams_of(&mesh, &planes);
    let there = seams_of(&shapes::mapped(mesh, turned_and_moved), &planes.each_ref().map(turn_plane));
    assert_eq!(here.len(), there.len());
    for value in
        [|s: &SeamMeasure| s.bond_area_mm2, |s: &SeamMeasure| s.line_mm, |s: &SeamMeasure| s.visible_mm]
    {
        near(total(&there, value), total(&here, value), 0.05, "lengths and area");
    }
    // One chord or one place looked at may fall the other way of its threshold.
    near(total(&there, |s| s.through_detail_mm), total(&here, |s| s.through_detail_mm), 3.0, "detail");
    near(total(&there, |s| s.in_hollow_mm), total(&here, |s| s.in_hollow_mm), 1.0, "hollow");
}
