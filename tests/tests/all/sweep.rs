//! Sweeps against brute force: what one pass says of every offset is what cutting there would give.
//!
//! Source: none needed; the exact cut, its lumps and their volumes are measured apart (`cut.rs`).

use seamwright_mesh::split::split;
use seamwright_mesh::{Plane, Solid, bodies, lumps, section, vec3};
use seamwright_seams::frames;
use seamwright_seams::sweep::Ready;
use seamwright_seams::sweep::reach::Reach;
use seamwright_tests::drawn::on_drawn_cases;
use seamwright_tests::shapes;

/// A cut point lies on the grid and may be half a step off along each axis; a point within half a
/// step of the plane counts as on it.
const ROUNDED_MM: f64 = 0.001;

/// A line that costs more where it runs along x; directions and triangles both matter.
fn per_mm(triangle: usize, tangent: [f64; 3]) -> f64 {
    1.0 + tangent[0].abs() + (triangle % 7) as f64 * 0.1
}

/// Heights of all points along a direction, ascending, each once.
fn heights_mm(solid: &Solid, normal: [f64; 3]) -> Vec<f64> {
    let mut heights: Vec<f64> = solid.points_mm().iter().map(|&p| vec3::dot(normal, p)).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    heights
}

/// Length and cost of the section, a triangle at a time.
fn line_by_force(solid: &Solid, normal: [f64; 3], offset_mm: f64) -> [f64; 2] {
    let mut sums = [0.0; 2];
    for index in 0..solid.n_triangles() {
        let corners = solid.corners_mm(index);
        let distances = corners.map(|p| vec3::dot(normal, p) - offset_mm);
        let mut ends = Vec::new();
        for k in 0..3 {
            let (a, b) = (k, (k + 1) % 3);
            if (distances[a] < 0.0) != (distances[b] < 0.0) {
                let share = distances[a] / (distances[a] - distances[b]);
                ends.push(vec3::add(corners[a], vec3::scale(vec3::sub(corners[b], corners[a]), share)));
            }
        }
        if let [from, to] = ends[..] {
            let chord = vec3::sub(to, from);
            sums[0] += vec3::length(chord);
            sums[1] += vec3::length(chord) * vec3::unit(chord).map_or(0.0, |t| per_mm(index, t));
        }
    }
    sums
}

/// Sum of how far two reaches lie apart.
fn apart_mm(a: &Reach, b: &[[f64; 2]]) -> f64 {
    ends_mm(a).zip(b.iter().flatten()).map(|(a, b)| (a - b).abs()).sum()
}

fn ends_mm(reach: &Reach) -> impl Iterator<Item = f64> {
    reach.low_mm.iter().zip(&reach.high_mm).flat_map(|(&low, &high)| [f64::from(low), f64::from(high)])
}

fn reach_mm(solid: &Solid, axes: &[[f64; 3]]) -> Vec<[f64; 2]> {
    let along = |axis: &[f64; 3]| {
        let each = solid.points_mm().into_iter().map(|p| vec3::dot(*axis, p));
        each.fold([f64::MAX, f64::MIN], |[low, high], c| [low.min(c), high.max(c)])
    };
    axes.iter().map(along).collect()
}

/// Compares a sweep with brute force at every breakpoint and between any two of them.
fn check(name: &str, solid: &Solid, normal: [f64; 3]) {
    let frames = frames::for_estimates(frames::AXES, 3);
    let axes: Vec<[f64; 3]> = frames.iter().flatten().copied().collect();
    let ready = Ready::new(solid, &frames).expect("it has triangles");
    let sweep = ready.along(normal, &per_mm);
    let heights = heights_mm(solid, normal);
    let [low, high] = sweep.ends_mm();
    assert_eq!([low, high], [heights[0], heights[heights.len() - 1]]);
    let size_mm = high - low;

    let profile = sweep.profile();
    let between = |pair: &[f64]| 0.5 * (pair[0] + pair[1]);
    for &offset_mm in heights.iter().chain(&heights.windows(2).map(between).collect::<Vec<_>>()) {
        let expected = line_by_force(solid, normal, offset_mm);
        let found = profile.at(offset_mm);
        for k in 0..2 {
            let off = (found[k] - expected[k]).abs();
            assert!(off <= 1e-6 * (1.0 + expected[k]), "{name} at {offset_mm}: {found:?}, not {expected:?}");
        }
    }

    // Where points lie nearer than the cut's own rounding there is nothing to compare with.
    let stops_mm: Vec<f64> =
        heights.windows(2).filter(|pair| pair[1] - pair[0] > 2.0 * ROUNDED_MM).map(between).collect();
    assert!(!stops_mm.is_empty());
    let mut n_fused = 0;
    for stop in sweep.stops(&stops_mm) {
        let plane = Plane { normal, offset_mm: stop.offset_mm };
        let halves = split(solid, &plane, 1);
        let measured = section::section(solid, &plane);
        assert!((stop.line_mm - measured.length_mm).abs() <= 1e-6 * (1.0 + measured.length_mm));
        let cost_mm = line_by_force(solid, normal, stop.offset_mm)[1];
        assert!((stop.cost_mm - cost_mm).abs() <= 1e-6 * (1.0 + cost_mm), "{name}: cost {}", stop.cost_mm);
        for (side, half) in [halves.below, halves.above].into_iter().enumerate() {
            let cut: Vec<Solid> = half.map(lumps::lumps).unwrap_or_default();
            let place = format!("{name} at {} of {low} to {high}, side {side}", stop.offset_mm);
            let lumps = &stop.sides[side];
            // Lumps that come within 0.05 mm beside a saddle count as fused once cut, and as two before.
            let outward = |lump: &Solid| bodies::bodies(lump).iter().filter(|b| b.volume_mm3 > 0.0).count();
            let n_outward: usize = cut.iter().map(outward).sum();
            assert_eq!(lumps.len(), n_outward, "lumps of {place}");
            n_fused += usize::from(cut.len() < n_outward);
            let area_mm2: f64 = lumps.iter().map(|lump| lump.section_mm2).sum();
            assert!(
                (area_mm2 - measured.area_mm2).abs() <= 1e-6 * size_mm * size_mm,
                "{place}: {area_mm2}, not {} mm2",
                measured.area_mm2
            );
            for lump in lumps.iter().filter(|_| cut.len() == n_outward) {
                let near = |a: &&Solid, b: &&Solid| {
                    let apart = |l: &Solid| apart_mm(&lump.reach, &reach_mm(l, &axes));
                    apart(a).total_cmp(&apart(b))
                };
                let same = cut.iter().min_by(near).expect("as many as the sweep says");
                let (volume, expected) = (lump.volume_mm3, same.volume_mm3());
                let near = ROUNDED_MM * (expected.abs() + size_mm * size_mm);
                assert!((volume - expected).abs() <= near, "{place}: {volume}, not {expected} mm3");
                for (a, b) in ends_mm(&lump.reach).zip(reach_mm(same, &axes).iter().flatten()) {
                    assert!((a - b).abs() <= 4.0 * ROUNDED_MM, "{place}: reaches {a}, not {b}");
                }
            }
        }
    }
    assert!(
        10 * n_fused <= stops_mm.len(),
        "{name}: {n_fused} of {} stops compared by count only",
        stops_mm.len()
    );
}

/// Directions without any symmetry, and one along an axis.
const DIRECTIONS: [[f64; 3]; 4] =
    [[0.0, 0.0, 1.0], [0.48, 0.64, 0.6], [-0.352, 0.936, 0.0], [0.6, -0.48, 0.64]];

#[test]
fn a_sweep_equals_cutting_at_every_breakpoint_of_plain_shapes() {
    let cup =
        shapes::turned(&[[0.0, 0.0], [30.0, 0.0], [30.0, 50.0], [26.0, 50.0], [26.0, 4.0], [0.0, 4.0]], 24);
    let upside_down = shapes::reversed(shapes::mapped(cup.clone(), |[x, y, z]| [x, y, -z]));
    let shapes = [
        ("a ball", shapes::sphere(40.0, 10)),
        ("a ring", shapes::torus(50.0, 14.0, 20, 10)),
        ("a hollow ball", shapes::thick_shell(40.0, 34.0, 10)),
        ("a tube", shapes::tube(30.0, 24.0, 70.0, 20)),
        ("a cup", cup),
        ("a cup upside down", upside_down),
        ("two legs", shapes::cells(&[&["#.#"], &["#.#"], &["###"]], [20.0, 15.0, 30.0])),
    ];
    for (name, mesh) in shapes {
        // Out of line with the grid, so that no two points have one height by chance.
        let mesh = shapes::mapped(mesh, |[x, y, z]| [x + 0.013 * z, y + 0.017 * x, z + 0.011 * y]);
        let solid = shapes::solid(&mesh);
        for normal in DIRECTIONS {
            check(name, &solid, vec3::unit(normal).expect("a direction"));
        }
    }
}

#[test]
fn a_sweep_equals_cutting_at_every_breakpoint_of_bodies_that_overlap() {
    let block = |low: [f64; 3], high: [f64; 3]| shapes::cuboid(low, high, 3);
    let cases = [
        ("a pin let in", block([10.0, 10.0, 15.0], [14.0, 15.0, 45.0])),
        ("a block inside", block([10.0, 10.0, 8.0], [16.0, 15.0, 14.0])),
        ("a bar across", block([-20.0, 12.0, 5.0], [70.0, 19.0, 13.0])),
    ];
    for (name, other) in cases {
        let aslant = shapes::mapped(other, |[x, y, z]| [x + 0.11 * z, y + 0.07 * x, z + 0.05 * y]);
        let solid = shapes::solid(&shapes::together(block([0.0; 3], [50.0, 40.0, 20.0]), aslant));
        for normal in DIRECTIONS {
            check_lumps(name, &solid, vec3::unit(normal).expect("a direction"));
        }
    }
}

/// Counts alone: where bodies overlap the cut joins their cut faces, and volumes differ by the overlap.
fn check_lumps(name: &str, solid: &Solid, normal: [f64; 3]) {
    let ready = Ready::new(solid, &[frames::AXES]).expect("it has triangles");
    let heights = heights_mm(solid, normal);
    let far = |pair: &&[f64]| pair[1] - pair[0] > 0.5;
    let stops_mm: Vec<f64> = heights.windows(2).filter(far).map(|pair| 0.5 * (pair[0] + pair[1])).collect();
    for stop in ready.along(normal, &per_mm).stops(&stops_mm) {
        let halves = split(solid, &Plane { normal, offset_mm: stop.offset_mm }, 1);
        for (side, half) in [halves.below, halves.above].into_iter().enumerate() {
            let n_cut = half.map_or(0, |half| lumps::count_lumps(&half));
            assert_eq!(stop.sides[side].len(), n_cut, "{name} at {}, side {side}", stop.offset_mm);
        }
    }
}

#[test]
fn a_sweep_equals_cutting_at_every_breakpoint_of_drawn_clumps() {
    on_drawn_cases(24, |u| {
        let bits: Vec<bool> = (0..64).map(|_| u.ratio(3, 5)).collect::<Result<_, _>>()?;
        if !bits.iter().any(|&filled| filled) {
            return Ok(());
        }
        let solid = shapes::solid(&shapes::clump(bits, 4));
        let mut coordinate =
            || -> arbtest::arbitrary::Result<f64> { Ok(f64::from(u.int_in_range(-1000..=1000)?)) };
        let drawn = [coordinate()?, coordinate()?, coordinate()?];
        if let Some(normal) = vec3::unit(drawn) {
            check("a clump", &solid, normal);
        }
        Ok(())
    });
}
