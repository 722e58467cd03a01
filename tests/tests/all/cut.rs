//! The exact cut: closed pieces, kept volume, degenerate planes, chains.

use seamwright_mesh::split::{Split, split};
use seamwright_mesh::{Plane, Solid, lumps, section};
use seamwright_tests::drawn::on_drawn_cases;
use seamwright_tests::shapes;
use std::collections::HashMap;

/// Edges that are not used exactly once each way after joining equal points, as a file reader
/// would: (unbalanced, used by more than two triangles).
fn bad_edges(solid: &Solid) -> (usize, usize) {
    let mut uses: HashMap<[[i32; 3]; 2], (i32, i32)> = HashMap::new();
    for t in solid.triangles() {
        let p = t.map(|i| solid.points()[i as usize]);
        for i in 0..3 {
            let (a, b) = (p[i], p[(i + 1) % 3]);
            let entry = uses.entry([a.min(b), a.max(b)]).or_default();
            if a < b { entry.0 += 1 } else { entry.1 += 1 }
        }
    }
    let unbalanced = uses.values().filter(|u| u.0 != u.1).count();
    (unbalanced, uses.values().filter(|u| u.0 + u.1 > 2).count())
}

/// Cuts and checks everything that must hold for any plane.
fn check(name: &str, solid: &Solid, normal: [f64; 3], offset_mm: f64) -> Split {
    // A vertex within half a step of the plane counts as on it, which bends these coarse faces.
    check_within(name, solid, normal, offset_mm, [1e-7, 1e-7])
}

/// `allowed`: relative volume error before cut points are put on the grid, and after.
fn check_within(name: &str, solid: &Solid, normal: [f64; 3], offset_mm: f64, allowed: [f64; 2]) -> Split {
    let plane = Plane::through([0.0; 3], normal).expect("the normal has a length");
    let plane = Plane { offset_mm, ..plane };
    let halves = split(solid, &plane, 1);
    let whole = solid.volume_mm3();
    let sum: f64 = [&halves.below, &halves.above].into_iter().flatten().map(Solid::volume_mm3).sum();
    // Moving edges that touch apart costs volume too; the contract allows 1e-6 in all.
    let after = if halves.section_points.is_empty() { 1e-6 } else { allowed[1] };
    assert!((sum / whole - 1.0).abs() <= after, "{name}: volume {sum} of {whole}");
    if let (Some(below), Some(above), false) =
        (&halves.below, &halves.above, halves.section_points.is_empty())
    {
        let exact: f64 = [below, above]
            .iter()
            .enumerate()
            .map(|(side, piece)| {
                let mut points = piece.points_mm();
                for point in &halves.section_points {
                    points[point.index[side] as usize] = point.exact_mm;
                }
                volume(&points, piece.triangles())
            })
            .sum();
        assert!((exact / whole - 1.0).abs() <= allowed[0], "{name}: {exact} of {whole} before the grid");
    }
    // Rounding may make lines cross by a grid step or two: half of 160 mm, the longest line here,
    // times two steps. A sound surface shows no more than that.
    assert!(halves.rough_mm2 < 0.04, "{name}: {} mm2 of rough caps", halves.rough_mm2);
    for (side, sign) in [(&halves.below, -1.0), (&halves.above, 1.0)] {
        let Some(piece) = side else { continue };
        assert_eq!(bad_edges(piece), (0, 0), "{name}: edges");
        let beyond = piece.points_mm().iter().map(|&p| -sign * plane.distance_mm(p)).fold(f64::MIN, f64::max);
        // Cut points stay within two grid steps; edges that touch are moved apart by 0.002 mm.
        let allowed_mm = if halves.section_points.is_empty() { 0.003 } else { 2.0 / 4096.0 };
        assert!(beyond <= allowed_mm, "{name}: {beyond} mm beyond the plane");
        let mut is_used = vec![false; piece.points().len()];
        piece.triangles().iter().flatten().for_each(|&point| is_used[point as usize] = true);
        assert!(!is_used.contains(&false), "{name}: a point that no face uses would count in a hull");
        let again =
            Solid::from_triangles(&piece.points_mm(), piece.triangles()).expect("a piece is a solid").0;
        assert_eq!(again.volume_six_steps3(), piece.volume_six_steps3(), "{name}: rebuilt");
    }
    halves
}

/// Signed volume in f64, for points off the grid.
fn volume(points: &[[f64; 3]], triangles: &[[u32; 3]]) -> f64 {
    let about = points[0];
    triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|i| sub(points[i as usize], about));
            seamwright_mesh::vec3::dot(a, cross(b, c)) / 6.0
        })
        .sum()
}

fn both(halves: Split) -> [Solid; 2] {
    [halves.below.expect("something below"), halves.above.expect("something above")]
}

#[test]
fn a_box_is_cut_into_the_expected_volumes() {
    let solid = shapes::solid(&shapes::cuboid([0.0; 3], [40.0, 30.0, 20.0], 1));
    let [below, above] = both(check("box", &solid, [1.0, 0.0, 0.0], 10.0));
    assert_eq!(below.volume_mm3(), 6000.0);
    assert_eq!(above.volume_mm3(), 18000.0);
    assert_eq!(below.area_mm2(), 2.0 * (10.0 * 30.0 + 30.0 * 20.0 + 10.0 * 20.0));
}

#[test]
fn sections_have_the_area_and_length_of_the_closed_forms() {
    // Circle and ring areas; the facets of 720 sides are short of them by (2 pi / n)^2 / 6.
    let shell = shapes::solid(&shapes::thick_shell(100.0, 96.0, 360));
    let found = section::section(&shell, &Plane { normal: [0.0, 0.0, 1.0], offset_mm: 0.01 });
    let expected = std::f64::consts::PI * (100.0_f64 * 100.0 - 96.0 * 96.0);
    assert!((found.area_mm2 / expected - 1.0).abs() < 2e-5, "{}", found.area_mm2);
    let expected = std::f64::consts::TAU * 196.0;
    assert!((found.length_mm / expected - 1.0).abs() < 2e-5, "{}", found.length_mm);
    let torus = shapes::solid(&shapes::torus(100.0, 40.0, 720, 360));
    let found = section::section(&torus, &Plane { normal: [0.0, 0.0, 1.0], offset_mm: 0.0 });
    let expected = std::f64::consts::PI * (140.0_f64 * 140.0 - 60.0 * 60.0);
    assert!((found.area_mm2 / expected - 1.0).abs() < 2e-5, "{}", found.area_mm2);
}

#[test]
fn the_cut_face_has_the_area_of_the_section() {
    for (name, mesh) in [
        ("shell", shapes::thick_shell(100.0, 96.0, 60)),
        ("torus", shapes::torus(100.0, 40.0, 90, 60)),
        ("tube", shapes::tube(60.0, 56.0, 200.0, 96)),
    ] {
        let solid = shapes::solid(&mesh);
        let plane = Plane { normal: [0.36, 0.48, 0.8], offset_mm: 3.1 };
        let expected = section::section(&solid, &plane).area_mm2;
        for piece in both(check(name, &solid, plane.normal, plane.offset_mm)) {
            let caps: f64 = (0..piece.n_triangles())
                .filter(|&i| piece.origins()[i] == 1)
                .map(|i| piece.triangle_area_mm2(i))
                .sum();
            assert!((caps / expected - 1.0).abs() < 1e-5, "{name}: {caps} of {expected}");
        }
    }
}

#[test]
fn the_nine_degenerate_planes_keep_every_piece_closed() {
    // The planes that the study of exact cuts lists: through edge rings, a saddle, coplanar steps,
    // coplanar faces both ways, vertices, tangent, on an outer face, and two tiny offsets.
    let fine =
        |name, solid: &Solid, normal, offset_mm| check_within(name, solid, normal, offset_mm, [1e-9, 1e-7]);
    let torus = shapes::solid(&shapes::torus(100.0, 40.0, 250, 200));
    fine("through edge rings", &torus, [0.0, 0.0, 1.0], 0.0);
    fine("saddle vertex", &torus, [1.0, 0.0, 0.0], 60.0);
    let step = shapes::solid(&shapes::turned(
        &shapes::refined(
            &[[20.0, 0.0], [60.0, 0.0], [60.0, 30.0], [40.0, 30.0], [40.0, 60.0], [20.0, 60.0]],
            2.0,
        ),
        288,
    ));
    fine("coplanar step", &step, [0.0, 0.0, 1.0], 30.0);
    let both_ways = shapes::solid(&shapes::turned(
        &[
            [20.0, 0.0],
            [40.0, 0.0],
            [40.0, 30.0],
            [60.0, 30.0],
            [60.0, 60.0],
            [30.0, 60.0],
            [30.0, 30.0],
            [20.0, 30.0],
        ],
        240,
    ));
    fine("coplanar both ways", &both_ways, [0.0, 0.0, 1.0], 30.0);
    let shell = shapes::solid(&shapes::thick_shell(100.0, 96.0, 112));
    fine("through vertices", &shell, [0.0, 0.0, 1.0], 0.0);
    let tangent = fine("tangent", &shell, [0.0, 0.0, 1.0], 100.0);
    assert!(tangent.above.is_none() && tangent.below.is_some());
    let face = fine("on an outer face", &step, [0.0, 0.0, 1.0], 60.0);
    assert!(face.above.is_none() && face.below.is_some());
    fine("offset 1e-12", &shell, [0.0, 0.0, 1.0], 1e-12);
    fine("offset 1e-7", &shell, [0.0, 0.0, 1.0], 1e-7);
    fine("offset of half a grid step", &shell, [0.0, 0.0, 1.0], 0.5 / 4096.0);
    fine("offset of two grid steps", &torus, [0.0, 0.0, 1.0], 2.0 / 4096.0);
}

#[test]
fn planes_through_vertices_edges_and_faces_keep_volume_and_stay_closed() {
    let rough = |seed: f64| {
        // A shell with a bumpy surface, so that nothing lines up by symmetry.
        let bump = move |p: [f64; 3]| {
            let wave = libm::sin(p[0] * 0.31 + seed) * libm::sin(p[1] * 0.27) * libm::cos(p[2] * 0.23 - seed);
            p.map(|c| c * (1.0 + 0.01 * wave))
        };
        shapes::solid(&shapes::mapped(shapes::thick_shell(80.0, 75.0, 24), bump))
    };
    let solids = [rough(0.3), rough(1.7), shapes::solid(&shapes::torus(60.0, 22.0, 40, 24))];
    on_drawn_cases(1500, |u| {
        let solid = &solids[u.choose_index(solids.len())?];
        let points = solid.points_mm();
        let t = solid.triangles()[u.choose_index(solid.n_triangles())?];
        let p = t.map(|i| points[i as usize]);
        let other = points[u.choose_index(points.len())?];
        let normal = match u.int_in_range(0..=3)? {
            // The plane of a face, a plane along one of its edges, one through three vertices, any.
            0 => cross(sub(p[1], p[0]), sub(p[2], p[0])),
            1 => cross(sub(p[1], p[0]), sub(other, p[0])),
            2 => cross(sub(other, p[0]), sub(points[u.choose_index(points.len())?], p[0])),
            _ => std::array::from_fn(|i| f64::from(u.int_in_range(-9..=9).unwrap_or(1)) + 0.1 * i as f64),
        };
        if let Some(plane) = Plane::through(p[0], normal) {
            check("random plane", solid, plane.normal, plane.offset_mm);
        }
        Ok(())
    });
}

#[test]
fn where_a_short_touching_edge_is_drawn_together_the_earlier_cut_stays_flat() {
    // The second plane meets the first one's face in an edge that touches itself; the end that lies
    // in both planes must stay, or a triangle of 12 mm2 leaves its face by 0.006 mm.
    let torus = shapes::solid(&shapes::torus(60.0, 15.0, 64, 24));
    let planes = [
        ([-0.4179088496921229, -0.5098810675780341, -0.7519132199093794], 10.889872032372704),
        ([0.7244052947253542, 0.04819169331330234, -0.6876878141056953], 10.106966927599228),
    ]
    .map(|(normal, offset_mm)| Plane { normal, offset_mm });
    let mut n_faces = 0;
    for half in both(split(&torus, &planes[0], 1)) {
        for piece in both(split(&half, &planes[1], 2)) {
            let points = piece.points_mm();
            for (t, &origin) in
                piece.triangles().iter().zip(piece.origins()).filter(|(_, origin)| **origin > 0)
            {
                n_faces += 1;
                for i in t {
                    let off_mm = planes[origin as usize - 1].distance_mm(points[*i as usize]);
                    assert!(off_mm.abs() < 0.003, "a cut face leaves its plane by {off_mm} mm");
                }
            }
        }
    }
    assert!(n_faces > 100);
}

#[test]
fn a_chain_of_forty_cuts_stays_closed_and_keeps_the_volume() {
    let solid = shapes::solid(&shapes::thick_shell(100.0, 96.0, 100));
    let whole = solid.volume_mm3();
    let mut pieces = vec![solid];
    for step in 0..40_u32 {
        let turn = f64::from(step) * 2.399_963; // the golden angle spreads the normals
        let z = 1.0 - 2.0 * (f64::from(step) + 0.5) / 40.0;
        let r = (1.0 - z * z).sqrt();
        let plane = Plane {
            normal: [r * libm::cos(turn), r * libm::sin(turn), z],
            offset_mm: f64::from(step % 7) * 12.0 - 36.0,
        };
        pieces = pieces
            .iter()
            .flat_map(|piece| {
                let halves = split(piece, &plane, step + 1);
                [halves.below, halves.above]
            })
            .flatten()
            .collect();
        if pieces.len() > 300 {
            // Keep the largest: the chain is about depth.
            pieces.sort_by(|a, b| b.volume_mm3().total_cmp(&a.volume_mm3()));
        }
    }
    let sum: f64 = pieces.iter().map(Solid::volume_mm3).sum();
    assert!((sum / whole - 1.0).abs() < 1e-6, "{sum} of {whole}");
    for piece in &pieces {
        assert_eq!(bad_edges(piece), (0, 0));
    }
}

#[test]
fn cavities_are_capped_by_nesting_and_loose_bodies_are_lumps() {
    let ball = |r: f64| shapes::sphere(r, 24);
    let nested = shapes::together(shapes::together(ball(50.0), shapes::reversed(ball(40.0))), ball(20.0));
    let solid = shapes::solid(&nested);
    assert_eq!(solid.n_bodies(), 3);
    let pieces = lumps::lumps(solid.clone());
    assert_eq!(pieces.len(), 2);
    let [below, _] = both(check("nested", &solid, [0.0, 0.0, 1.0], 0.3));
    assert_eq!(lumps::count_lumps(&below), 2);
    // Two overlapping balls are capped each by itself and are one lump.
    let overlapping = shapes::together(ball(30.0), shapes::mapped(ball(30.0), |p| [p[0] + 40.0, p[1], p[2]]));
    let solid = shapes::solid(&overlapping);
    let [below, above] = both(check("overlapping", &solid, [0.0, 0.3, 1.0], 0.1));
    assert_eq!((lumps::count_lumps(&below), lumps::count_lumps(&above)), (1, 1));
    // Union of two balls of radius 30 at 40 apart: 2 V - lens, lens = pi (4r + d)(2r - d)^2 / 12.
    let r: f64 = 30.0;
    let lens = std::f64::consts::PI * (4.0 * r + 40.0) * (2.0 * r - 40.0) * (2.0 * r - 40.0) / 12.0;
    let expected = 8.0 / 3.0 * std::f64::consts::PI * r * r * r - lens;
    assert!((solid.solid_mm3() / expected - 1.0).abs() < 0.01, "{} of {expected}", solid.solid_mm3());
}

fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    seamwright_mesh::vec3::sub(a, b)
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    seamwright_mesh::vec3::cross(a, b)
}

#[test]
fn large_meshes_are_cut_within_the_promised_error() {
    // 100k triangles each; `cargo xtask prove` repeats this with 1M and 2M.
    for (name, mesh) in [
        ("sphere", shapes::sphere(100.0, 158)),
        ("torus", shapes::torus(100.0, 40.0, 250, 200)),
        ("shell", shapes::thick_shell(100.0, 96.0, 112)),
    ] {
        let solid = shapes::solid(&mesh);
        check_within(name, &solid, [0.36, 0.48, 0.8], 3.1, [1e-9, 1e-7]);
        check_within(name, &solid, [1.0, 0.0, 0.0], 12.5, [1e-9, 1e-7]);
    }
}

#[test]
fn a_surface_that_runs_through_itself_is_still_cut_closed_and_locally() {
    // A tube whose wall is pushed through itself on one side: its sections cross themselves.
    let twisted = shapes::mapped(
        shapes::turned(&shapes::refined(&[[50.0, 0.0], [60.0, 0.0], [60.0, 80.0], [50.0, 80.0]], 4.0), 96),
        |p| {
            let r = libm::hypot(p[0], p[1]);
            let pushed = if p[0] > 45.0 && p[1].abs() < 20.0 && r > 55.0 { 0.75 } else { 1.0 };
            [p[0] * pushed, p[1], p[2]]
        },
    );
    let solid = shapes::solid(&twisted);
    let whole = solid.volume_mm3();
    let plane = Plane { normal: [0.0, 0.6, 0.8], offset_mm: 31.7 };
    let halves = split(&solid, &plane, 1);
    let halves_rough = halves.rough_mm2;
    assert!(halves_rough > 0.0, "the section crosses itself");
    let pieces = both(halves);
    let sum: f64 = pieces.iter().map(Solid::volume_mm3).sum();
    assert!((sum / whole - 1.0).abs() < 1e-6, "{sum} of {whole}");
    for piece in &pieces {
        assert_eq!(bad_edges(piece), (0, 0));
        // Where the surface winds twice or the wrong way, layers lie on each other; counted with
        // their sign they are the section, and what is beyond it once is what is called rough.
        let faces = (0..piece.n_triangles()).filter(|&i| piece.origins()[i] == 1);
        let (mut signed, mut plain) = (0.0_f64, 0.0_f64);
        for i in faces {
            let [a, b, c] = piece.triangles()[i].map(|p| piece.points_mm()[p as usize]);
            let along = seamwright_mesh::vec3::dot(cross(sub(b, a), sub(c, a)), plane.normal) / 2.0;
            signed += along;
            plain += along.abs();
        }
        let section = section::section(&solid, &plane).area_mm2;
        assert!((signed.abs() / section - 1.0).abs() < 1e-5, "faces of {signed} mm2, section {section}");
        let rough = halves_rough / 0.8;
        assert!(plain <= section + 2.0 * rough + 1e-3, "{plain} mm2 for {section} and {rough} twice");
    }
}

#[test]
fn a_film_left_beside_a_face_in_the_plane_is_no_piece() {
    // A beam whose side an earlier cut has bent by two grid steps: the plane of that side leaves a
    // film two steps thick. Beside it a block that the plane cuts in earnest.
    let step = 1.0 / 4096.0;
    let beam = shapes::mapped(shapes::cuboid([0.0, 0.0, 0.0], [50.0, 20.0, 20.0], 1), |p| {
        [p[0], if p[1] == 0.0 && p[0] > 0.0 { -2.0 * step } else { p[1] }, p[2]]
    });
    let block = shapes::cuboid([70.0, -30.0, 0.0], [90.0, 30.0, 20.0], 2);
    let solid = shapes::solid(&shapes::together(beam, block));
    let halves = split(&solid, &Plane { normal: [0.0, 1.0, 0.0], offset_mm: 0.0 }, 1);
    let (below, above) = (halves.below.expect("the block's"), halves.above.expect("both"));
    assert_eq!((lumps::count_lumps(&below), lumps::count_lumps(&above)), (1, 2));
    assert_eq!((bad_edges(&below), bad_edges(&above)), ((0, 0), (0, 0)));
    assert_eq!(
        below.volume_six_steps3() + above.volume_six_steps3(),
        solid.volume_six_steps3(),
        "the film's volume stays with the beam"
    );
}

/// A dome with an inner wall, tilted so that nothing lies along an axis, its box in the positive
/// octant.
fn tilted_dome() -> Solid {
    let s = 297.996_110_901_252_34;
    let profile = [
        [0.45, 0.0],
        [0.5, 0.0],
        [0.5, 0.3],
        [0.25, 0.7],
        [0.0, 0.8],
        [0.0, 0.75],
        [0.225, 0.66],
        [0.45, 0.3],
    ];
    let turned_by = |u: f64, v: f64, angle: f64| {
        (u * libm::cos(angle) - v * libm::sin(angle), u * libm::sin(angle) + v * libm::cos(angle))
    };
    let tilt = |[x, y, z]: [f64; 3]| {
        let (x, y) = turned_by(x, y, 3.828_170_025_775_172_3);
        let (y, z) = turned_by(y, z, 5.752_085_280_353_516_5);
        let (x, z) = turned_by(x, z, 1.046_112_256_928_381_6);
        [x + 205.232_879_638_671_88, y + 128.407_546_997_070_3, z + 134.175_552_368_164_06]
    };
    shapes::solid(&shapes::mapped(shapes::turned(&profile.map(|p| p.map(|c| c * s)), 48), tilt))
}

#[test]
fn planes_along_the_edges_of_a_turned_dome_end_and_stay_closed() {
    // Meridian planes run along edges within a grid step or two, so that section lines meet where
    // they should not and films are left; two after another meet along the axis. Splitting lines
    // once went round and round here.
    let dome = tilted_dome();
    let first = (
        [0.235_194_390_916_652_37, 0.807_663_154_329_871_5, -0.540_706_785_253_586_1],
        79.430_031_237_716_79,
    );
    let second = (
        [0.622_717_184_396_146_9, 0.301_920_018_521_421_75, 0.721_850_130_341_305_4],
        263.425_514_968_457_43,
    );
    // Cut points that fall together have one exact place, which bends these long faces.
    let fine = |name, solid: &Solid, (normal, offset_mm): ([f64; 3], f64), steps: f64| {
        check_within(name, solid, normal, offset_mm + steps / 4096.0, [1e-6, 1e-7])
    };
    for n in 0..60 {
        let off = |k: i32| f64::from(k) / 2.0;
        for side in both(fine("first", &dome, first, off(n % 7 - n % 2 * 3))) {
            fine("second", &side, second, off(n * 3 % 8 - n % 3 * 2));
        }
    }
}

#[test]
fn a_needle_of_few_long_faces_keeps_its_volume_however_it_is_cut() {
    let needle = shapes::solid(&shapes::turned(&[[0.0, 0.0], [3.0, 0.0], [0.0, 400.0]], 12));
    let whole = needle.volume_mm3();
    on_drawn_cases(500, |drawn| {
        let mut draw = |range| drawn.int_in_range(range).map(f64::from);
        let normal = [draw(-1000..=1000)?, draw(-1000..=1000)?, draw(-1000..=1000)?];
        let Some(plane) = Plane::through([0.0, 0.0, draw(20..=380)?], normal) else { return Ok(()) };
        let halves = split(&needle, &plane, 1);
        let sum: f64 = [&halves.below, &halves.above].into_iter().flatten().map(Solid::volume_mm3).sum();
        assert!((sum / whole - 1.0).abs() < 1e-7, "{plane:?}: {sum} of {whole} mm3");
        Ok(())
    });
}
