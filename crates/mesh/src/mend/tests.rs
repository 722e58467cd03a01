//! Mending of small broken meshes whose right answer is known.

use super::{Mended, Open, Wishes, mend};
use crate::solid::Solid;
use crate::vec3;
use crate::write::block_mesh;

/// A box of this size, its lowest corner at `from`.
pub(super) fn cuboid(size: [f64; 3], from: [f64; 3]) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    block_mesh(from, vec3::add(from, size))
}

pub(super) fn both(
    one: (Vec<[f64; 3]>, Vec<[u32; 3]>),
    other: (Vec<[f64; 3]>, Vec<[u32; 3]>),
) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let (mut points, mut triangles) = one;
    let first = points.len() as u32;
    points.extend(other.0);
    triangles.extend(other.1.iter().map(|t| t.map(|i| i + first)));
    (points, triangles)
}

fn turned(mesh: (Vec<[f64; 3]>, Vec<[u32; 3]>)) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    (mesh.0, mesh.1.iter().map(|&[a, b, c]| [a, c, b]).collect())
}

pub(super) fn mended(mesh: &(Vec<[f64; 3]>, Vec<[u32; 3]>), wishes: Wishes) -> Mended {
    let mended = mend(&mesh.0, &mesh.1, &wishes).unwrap();
    // Proved again from outside.
    Solid::from_triangles(&mended.solid.points_mm(), mended.solid.triangles()).unwrap();
    mended
}

pub(super) fn codes(mended: &Mended) -> Vec<(&'static str, usize)> {
    mended.steps.iter().map(|step| (step.code, step.count)).collect()
}

#[test]
fn a_missing_face_is_patched_flat_and_the_volume_is_that_of_the_box() {
    let mut mesh = cuboid([100.0, 80.0, 900.0], [0.0; 3]);
    mesh.1.drain(2..4);
    let found = mended(&mesh, Wishes::default());
    assert_eq!(found.solid.volume_mm3(), 100.0 * 80.0 * 900.0);
    assert_eq!(codes(&found), [("mended-holes", 1), ("mended", 1)]);
    assert!(found.deviation_mm < 1e-9);
}

#[test]
fn an_open_box_gets_a_wall_or_a_lid_as_wished() {
    let mut mesh = cuboid([100.0, 80.0, 60.0], [0.0; 3]);
    mesh.1.drain(2..4);
    let open = |open| mended(&mesh, Wishes { open, wall_mm: 2.0, ..Wishes::default() });
    let as_it_looks = open(Open::AsItLooks);
    assert!(codes(&as_it_looks).contains(&("mended-sheets", 1)));
    // Five sides of 2 mm; corner points are moved along their diagonal by the wall, so a little less.
    let most_mm3 = 2.0 * (100.0 * 80.0 + 2.0 * 60.0 * (100.0 + 80.0));
    let share = as_it_looks.solid.volume_mm3() / most_mm3;
    assert!((0.4..1.0).contains(&share), "{share}");
    assert_eq!(as_it_looks.solid.size_mm(), [100.0, 80.0, 60.0]);
    assert_eq!(open(Open::Fill).solid.volume_mm3(), 100.0 * 80.0 * 60.0);
    assert_eq!(open(Open::Thicken).solid.volume_mm3(), as_it_looks.solid.volume_mm3());
}

#[test]
fn a_sheet_gets_a_wall_of_exactly_what_is_asked() {
    let points = vec![[0.0, 0.0, 0.0], [200.0, 0.0, 0.0], [200.0, 150.0, 0.0], [0.0, 150.0, 0.0]];
    let found = mended(
        &(points, vec![[0, 1, 2], [0, 2, 3]]),
        Wishes { open: Open::Fill, wall_mm: 1.5, ..Wishes::default() },
    );
    assert_eq!(found.solid.volume_mm3(), 200.0 * 150.0 * 1.5);
    assert!(found.is_rebuilt());
}

#[test]
fn an_inside_out_shell_keeps_its_cavity_and_a_cavity_that_faces_out_is_a_loose_block() {
    let shell = both(cuboid([50.0; 3], [0.0; 3]), turned(cuboid([30.0; 3], [10.0; 3])));
    let right = 125_000.0 - 27_000.0;
    let found = mended(&turned(shell), Wishes::default());
    assert_eq!(found.solid.volume_mm3(), right);
    assert_eq!(codes(&found), [("mended-orient", 24), ("mended", 1)]);
    // Beside an inside-out body a right one stays.
    let apart = both(cuboid([50.0; 3], [0.0; 3]), turned(cuboid([30.0; 3], [60.0; 3])));
    assert_eq!(mended(&apart, Wishes::default()).solid.volume_mm3(), 125_000.0 + 27_000.0);
}

#[test]
fn points_that_were_torn_apart_are_welded_and_a_gap_of_a_millimetre_between_bodies_is_not() {
    let (points, triangles) = cuboid([50.0; 3], [0.0; 3]);
    // Every triangle has corners of its own, up to 0.01 mm off.
    let mut torn: (Vec<[f64; 3]>, Vec<[u32; 3]>) = Default::default();
    for (i, t) in triangles.iter().enumerate() {
        let first = torn.0.len() as u32;
        for (j, &corner) in t.iter().enumerate() {
            let off = ((i * 7 + j * 13) % 11) as f64 * 0.001 - 0.005;
            torn.0.push(points[corner as usize].map(|x| x + off));
        }
        torn.1.push([first, first + 1, first + 2]);
    }
    let found = mended(&torn, Wishes::default());
    assert_eq!(found.solid.n_triangles(), 12);
    assert!((found.solid.volume_mm3() / 125_000.0 - 1.0).abs() < 1e-3);
    assert!(
        found.steps[0].code == "mended-weld" && found.steps[0].text.contains("0.0156 mm"),
        "{:?}",
        found.steps
    );
}

#[test]
fn a_wall_inside_two_blocks_that_share_a_face_is_left_out() {
    let mut one = cuboid([40.0; 3], [0.0; 3]);
    let other = cuboid([40.0; 3], [40.0, 0.0, 0.0]);
    // The shared face is there once: twelve triangles and ten.
    let mut rest = other.1.clone();
    rest.retain(|t| !t.iter().all(|&i| i % 2 == 0));
    one = both(one, (other.0, rest));
    let found = mended(&one, Wishes::default());
    assert_eq!(found.solid.volume_mm3(), 2.0 * 64_000.0);
    assert_eq!(found.solid.n_triangles(), 20);
    assert!(codes(&found).contains(&("mended-walls", 2)), "{:?}", codes(&found));
}

#[test]
fn cloth_that_hangs_on_a_body_gets_a_wall_of_its_own() {
    let block = cuboid([40.0; 3], [0.0; 3]);
    // From the upper edge at y = 0 a cape of 60 mm.
    let cape = (
        vec![[0.0, 0.0, 40.0], [40.0, 0.0, 40.0], [40.0, -60.0, 40.0], [0.0, -60.0, 40.0]],
        vec![[0, 2, 1], [0, 3, 2]],
    );
    let found =
        mended(&both(block, cape), Wishes { open: Open::AsItLooks, wall_mm: 2.0, ..Wishes::default() });
    assert!(
        (found.solid.volume_mm3() - (64_000.0 + 40.0 * 60.0 * 2.0)).abs() < 5.0,
        "{}",
        found.solid.volume_mm3()
    );
    assert!(codes(&found).contains(&("mended-sheets", 1)), "{:?}", codes(&found));
}

/// A crown over a brim of two sheets 3 mm apart, the lower of which ends at the head band.
#[test]
fn a_hat_gets_a_wall_and_stays_open_below() {
    const N: u32 = 60;
    // Radius and height, from the top down and round the brim.
    let profile = [[60.0, 100.0], [60.0, 40.0], [60.0, 0.0], [110.0, 0.0], [110.0, -3.0], [66.0, -3.0]];
    let mut points = vec![[0.0, 0.0, 100.0]];
    for [radius, z] in profile {
        points.extend((0..N).map(|k| {
            let turn = f64::from(k) / f64::from(N) * std::f64::consts::TAU;
            [radius * libm::cos(turn), radius * libm::sin(turn), z]
        }));
    }
    let at = |ring: u32, k: u32| 1 + ring * N + k % N;
    let mut triangles: Vec<[u32; 3]> = (0..N).map(|k| [0, at(0, k), at(0, k + 1)]).collect();
    for ring in 0..profile.len() as u32 - 1 {
        for k in 0..N {
            let [a, b] = [at(ring, k), at(ring, k + 1)];
            let [c, d] = [at(ring + 1, k), at(ring + 1, k + 1)];
            triangles.extend([[a, c, d], [a, d, b]]);
        }
    }
    let found = mended(&(points, triangles), Wishes { open: Open::Thicken, ..Wishes::default() });
    let told = codes(&found);
    assert!(
        told.contains(&("mended-sheets", 1)) && !told.iter().any(|(code, _)| *code == "wall-crosses"),
        "{told:?}"
    );
    let corners: Vec<_> = (0..found.solid.n_triangles()).map(|t| found.solid.corners_mm(t)).collect();
    for z in [-5.0, 0.0, 3.0, 50.0, 90.0] {
        let winding: f64 = corners.iter().map(|&c| super::holes::solid_angle(c, [0.5, 0.2, z])).sum();
        assert!(winding.abs() < 0.01, "{winding} at {z} mm");
    }
    // Top and crown of 2.4 mm, the brim 3 mm and solid; where they meet a few cm3 more or less.
    let cm3 = std::f64::consts::PI
        * (60.0 * 60.0 * 2.4 + (60.0 * 60.0 - 57.6 * 57.6) * 97.6 + (110.0 * 110.0 - 60.0 * 60.0) * 3.0)
        / 1000.0;
    let off = found.solid.volume_mm3() / 1000.0 - cm3;
    assert!(off.abs() < 0.12 * cm3, "{off} cm3 of {cm3} off");
}

#[test]
fn a_spike_whose_foot_is_inside_a_block_is_closed_though_its_foot_is_wide() {
    let spike = (
        vec![
            [10.0, 10.0, 30.0],
            [30.0, 10.0, 30.0],
            [30.0, 30.0, 30.0],
            [10.0, 30.0, 30.0],
            [20.0, 20.0, 60.0],
        ],
        vec![[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]],
    );
    let found = mended(&both(cuboid([40.0; 3], [0.0; 3]), spike.clone()), Wishes::default());
    assert_eq!(found.solid.volume_mm3(), 64_000.0 + 20.0 * 20.0 * 30.0 / 3.0);
    // Standing free it would be a hood.
    assert!(codes(&mended(&spike, Wishes::default())).contains(&("mended-sheets", 1)));
}

#[test]
fn cloth_modelled_from_both_sides_keeps_one_of_them() {
    let points = vec![[0.0, 0.0, 0.0], [200.0, 0.0, 0.0], [200.0, 150.0, 0.0], [0.0, 150.0, 0.0]];
    let found = mended(&(points, vec![[0, 1, 2], [0, 2, 3], [2, 1, 0], [3, 2, 0]]), Wishes::default());
    assert_eq!(found.solid.n_bodies(), 1);
    assert!((found.solid.volume_mm3() / (200.0 * 150.0 * super::WALL_MM) - 1.0).abs() < 1e-3);
}

#[test]
fn what_has_no_surface_is_refused() {
    let flat = vec![[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]];
    assert!(mend(&flat, &[[0, 1, 2]], &Wishes::default()).is_err());
    assert!(mend(&flat, &[], &Wishes::default()).is_err());
    assert!(mend(&[[0.0, 0.0, 5000.0]; 3], &[[0, 1, 2]], &Wishes::default()).is_err());
    assert!(mend(&flat, &[[0, 1, 7]], &Wishes::default()).is_err());
}

/// Solid angles, as a second way to a volume: places on a lattice whose winding number is above a half.
/// Slow and coarse, but it asks nothing of closedness.
fn lattice_mm3(solid: &Solid, step_mm: f64) -> f64 {
    let ([x0, y0, z0], [x1, y1, z1]) = solid.box_mm();
    let along = |from: f64, to: f64| {
        (0..((to - from) / step_mm) as usize).map(move |i| from + (i as f64 + 0.5) * step_mm)
    };
    let corners: Vec<_> = (0..solid.n_triangles()).map(|t| solid.corners_mm(t)).collect();
    let mut n = 0_u32;
    for x in along(x0, x1) {
        for y in along(y0, y1) {
            for z in along(z0, z1) {
                let winding: f64 = corners.iter().map(|&c| super::holes::solid_angle(c, [x, y, z])).sum();
                n += u32::from(winding > 2.0 * std::f64::consts::PI);
            }
        }
    }
    f64::from(n) * step_mm * step_mm * step_mm
}

fn reference(test: &str) -> Option<std::path::PathBuf> {
    let folder = std::env::var_os("SEAMWRIGHT_REFERENCE").map(std::path::PathBuf::from);
    if folder.is_none() {
        eprintln!("skipped: {test}: SEAMWRIGHT_REFERENCE is not set");
    }
    folder
}

/// The file as an item, mended or not as it needs.
fn item(folder: &std::path::Path, name: &str, unit: crate::Unit) -> (Solid, Vec<crate::Notice>) {
    let model = crate::read::read_model(&std::fs::read(folder.join(name)).unwrap(), name).unwrap();
    let size = crate::units::Size::Scale(1.0);
    let placement = crate::units::item_placement(&model, unit, crate::units::Up::Z, size).unwrap();
    crate::item::solid_of(&model, &placement, Some(&Wishes::default())).unwrap()
}

/// Counts and volumes of `nasty/truth.json`; the sphere of 5120 triangles and radius 60 has
/// 902,823.6 mm3 (its `signed_volume_mm3` turned inside out).
#[test]
fn the_broken_reference_files_become_the_solids_they_were() {
    let Some(folder) = reference("the_broken_reference_files_become_the_solids_they_were") else { return };
    const SPHERE_MM3: f64 = 902_823.612_766_842_4;
    // File, triangles, bodies, volume, how near, the steps due.
    type Row = (&'static str, usize, usize, f64, f64, &'static [(&'static str, usize)]);
    let rows: [Row; 12] = [
        ("sphere_four_holes.ply", 5110, 1, SPHERE_MM3, 1e-4, &[("mended-holes", 4)]),
        ("sphere_fifth_flipped.stl", 5120, 1, SPHERE_MM3, 1e-6, &[("mended-orient", 1024)]),
        ("sphere_inside_out.stl", 5120, 1, SPHERE_MM3, 1e-6, &[("mended-orient", 5120)]),
        (
            "sphere_duplicates_degenerates.obj",
            5120,
            1,
            SPHERE_MM3,
            1e-6,
            &[("mended-degenerate", 40), ("mended-duplicates", 50)],
        ),
        ("soup_jitter_1e-4.stl", 5120, 1, SPHERE_MM3, 1e-5, &[("mended-weld", 8012)]),
        ("box_t_junction.obj", 14, 1, 1e6, 0.0, &[("mended-junctions", 1)]),
        ("edge_touching_boxes.obj", 28, 2, 128_000.0, 1e-4, &[("touching-edges", 1)]),
        ("vertex_touching_boxes.obj", 24, 2, 128_000.0, 0.0, &[]),
        ("nested_cavity.stl", 11_520, 3, 668_542.246_631_929_9, 1e-6, &[]),
        ("overlapping_shells.stl", 5132, 2, 954_467.367_227_532_2, 1e-6, &[]),
        ("cube_vertices_on_cut_planes.ply", 3072, 1, 8e6, 0.0, &[]),
        ("wall_0p2mm.stl", 12, 1, 6000.0, 1e-3, &[]),
    ];
    for (name, n_triangles, n_bodies, volume_mm3, near, due) in rows {
        let (solid, notices) = item(&folder, &format!("nasty/{name}"), crate::Unit::Mm);
        assert_eq!((solid.n_triangles(), solid.n_bodies()), (n_triangles, n_bodies), "{name}");
        let error = (solid.volume_mm3() / volume_mm3 - 1.0).abs();
        assert!(error <= near, "{name}: {} mm3, {error:e} off", solid.volume_mm3());
        let steps: Vec<_> = notices
            .iter()
            .map(|n| (n.code, n.count))
            .filter(|s| s.0 != "mended" && s.0 != "rebuilt")
            .collect();
        assert_eq!(steps, due, "{name}");
    }
    let (shells, _) = item(&folder, "nasty/overlapping_shells.stl", crate::Unit::Mm);
    let union_mm3 = 756_885.646_090_588_5;
    assert!((shells.solid_mm3() / union_mm3 - 1.0).abs() < 0.005);
    assert!((lattice_mm3(&shells, 5.0) / union_mm3 - 1.0).abs() < 0.02);
    let (sheet, _) = item(&folder, "nasty/flat_sheet.stl", crate::Unit::Mm);
    assert!((sheet.volume_mm3() / (200.0 * 150.0 * super::WALL_MM) - 1.0).abs() < 1e-3);
}

/// Real models as they are found: many bodies, open, one a surface of one side.
#[test]
fn real_open_models_become_solids_that_lie_where_the_file_lies() {
    let Some(folder) = reference("real_open_models_become_solids_that_lie_where_the_file_lies") else {
        return;
    };
    // File, its unit, holes, sheets, whether it counts as rebuilt.
    for (name, unit, n_holes, n_sheets, is_rebuilt) in [
        ("FlightHelmet_merged.ply", crate::Unit::M, 19, 0, false),
        ("kk_shield_spikes.stl", crate::Unit::Mm, 6, 0, false),
        ("kk_sword_2handed.stl", crate::Unit::Mm, 2, 0, false),
        ("fedora.obj", crate::Unit::Dm, 0, 1, true),
    ] {
        let bytes = std::fs::read(folder.join("models").join(name)).unwrap();
        let model = crate::read::read_model(&bytes, name).unwrap();
        let size = crate::units::Size::Scale(1.0);
        let placement = crate::units::item_placement(&model, unit, crate::units::Up::Z, size).unwrap();
        let (points_mm, triangles) = crate::placement::placed(&model, &placement);
        let found = mended(&(points_mm, triangles), Wishes::default());
        let count = |code| found.steps.iter().find(|step| step.code == code).map_or(0, |step| step.count);
        assert_eq!((count("mended-holes"), count("mended-sheets")), (n_holes, n_sheets), "{name}");
        assert_eq!(found.is_rebuilt(), is_rebuilt, "{name}: {}", found.repaired_fraction);
        assert!(found.deviation_mm < 0.3, "{name}: {}", found.deviation_mm);
        if name == "fedora.obj" {
            assert_eq!(count("wall-crosses"), 0);
            // Inside the head band, from below the brim up into the crown: nothing but air.
            let corners: Vec<_> = (0..found.solid.n_triangles()).map(|t| found.solid.corners_mm(t)).collect();
            for y_mm in [10.0, 25.0, 40.0, 55.0] {
                let at_mm = [101.0, y_mm, 131.0];
                let winding: f64 = corners.iter().map(|&c| super::holes::solid_angle(c, at_mm)).sum();
                assert!(winding.abs() < 0.01, "{winding} at {at_mm:?}");
            }
        }
        eprintln!(
            "{name}: {:.1} % repaired, {:.4} mm off",
            100.0 * found.repaired_fraction,
            found.deviation_mm
        );
    }
}

/// The shell is made with a wall of 3.5 mm (the reference data's README); faceting takes a little.
#[test]
fn the_thinnest_wall_of_a_shell_of_known_wall_is_found() {
    let Some(folder) = reference("the_thinnest_wall_of_a_shell_of_known_wall_is_found") else { return };
    let name = "models/vambrace_shell.ply";
    let model = crate::read::read_model(&std::fs::read(folder.join(name)).unwrap(), name).unwrap();
    let found = crate::flaws::within(&model, &crate::Placement::IDENTITY).unwrap();
    let thick_mm = found.thinnest_wall.unwrap().thick_mm;
    assert!((3.2..=3.55).contains(&thick_mm), "{thick_mm}");
    assert_eq!(found.self_intersections.count, 0);
}
