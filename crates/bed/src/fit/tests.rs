//! Fits with known answers, and against scans over all rotations.

use super::*;
use seamwright_mesh::hull::convex_hull;
use seamwright_mesh::{Placement, vec3};

fn bare(text: &str) -> Bed {
    Bed { margin_mm: 0.0, ..Bed::parse(text).unwrap() }
}

fn box_points([a, b, c]: [f64; 3]) -> Vec<[f64; 3]> {
    (0..8)
        .map(|i| {
            [
                if i & 1 > 0 { a } else { 0.0 },
                if i & 2 > 0 { b } else { 0.0 },
                if i & 4 > 0 { c } else { 0.0 },
            ]
        })
        .collect()
}

fn fit(points: &[[f64; 3]], bed: &Bed, options: &FitOptions) -> AnyFit {
    let found = fit_any(&prepare(&convex_hull(points)), bed, options);
    // Nothing is believed: the rotation is rigid and leaves the margin on the points given.
    assert!(Placement::from_rows(found.rotation, [0.0; 3]).is_rigid(1e-9), "{found:?}");
    let usable = bed.usable();
    let turned: Vec<_> = points.iter().map(|&p| turn::apply(&found.rotation, p)).collect();
    let extent = |axis: usize| {
        let high = turned.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
        high - turned.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min)
    };
    let margin = match usable.shape {
        BedShape::Rect { width_mm, depth_mm } => (width_mm - extent(0)).min(depth_mm - extent(1)),
        BedShape::Round { diameter_mm } => {
            let flat: Vec<_> = turned.iter().map(|p| [p[0], p[1]]).collect();
            diameter_mm - 2.0 * crate::convex2d::smallest_circle(&flat).1
        }
    };
    let margin = margin.min(usable.height_mm - extent(2));
    assert!((margin - found.margin_mm).abs() < 1e-6, "{margin} {found:?}");
    assert!(found.upper_bound_mm >= found.margin_mm);
    found
}

/// The longest square bar of `thick` mm in a cube among those lying symmetrically: axis `(a, b, a)`,
/// sides `w = (1, 0, -1)/sqrt 2` and `u x w`. Extents of a box are `L|u| + t|v| + t|w|` along each
/// axis (closed form); both equations are met at one `b`, found by bisection.
fn longest_bar(cube: f64, thick: f64) -> f64 {
    let lengths = |b: f64| {
        let a = (0.5 * (1.0 - b * b)).sqrt();
        let w = std::f64::consts::FRAC_1_SQRT_2;
        // v = u x w = (-b, 2a, -b)/sqrt 2.
        [(cube - thick * (b * w + w)) / a, (cube - thick * 2.0 * a * w) / b]
    };
    let (mut low, mut high) = (0.3, 0.8);
    for _ in 0..100 {
        let b = 0.5 * (low + high);
        let [side, middle] = lengths(b);
        if middle > side { low = b } else { high = b }
    }
    lengths(low)[0]
}

#[test]
fn a_long_bar_on_the_bed_diagonal_fits_to_the_mm() {
    let bed = bare("200x200x200");
    for thick in [3.0, 25.0] {
        let longest = longest_bar(200.0, thick);
        // Thinner than the diagonal by about its thickness: sqrt 3 x 200 - O(t) (elementary).
        assert!(longest < 200.0 * 3f64.sqrt() - thick && longest > 200.0 * 3f64.sqrt() - 3.0 * thick);
        let shorter = fit(&box_points([longest - 1.0, thick, thick]), &bed, &FitOptions::decide());
        assert_eq!(shorter.verdict, Verdict::Fits, "{shorter:?}");
        let longer = fit(&box_points([longest + 1.0, thick, thick]), &bed, &FitOptions::decide());
        assert_eq!(longer.verdict, Verdict::CannotFit, "{longer:?}");
        let exact = fit(&box_points([longest, thick, thick]), &bed, &FitOptions::best());
        assert!(exact.margin_mm.abs() < 1e-6, "{exact:?}");
    }
}

#[test]
fn cubes_leave_their_difference_and_not_more() {
    let found = fit(&box_points([100.0; 3]), &bare("130x130x130"), &FitOptions::best());
    assert!((found.margin_mm - 30.0).abs() < 1e-9, "{found:?}");
    assert!(found.upper_bound_mm <= 30.0 + TOLERANCE_MM + 1e-9, "{found:?}");
    let found = fit(&box_points([100.0; 3]), &bare("99.5x150x150"), &FitOptions::decide());
    assert_eq!(found.verdict, Verdict::CannotFit, "{found:?}");
}

#[test]
fn a_plate_that_is_too_long_leans_under_the_ceiling() {
    // Length a, thickness t, tilted by x: a cos x + t sin x = 200 and a sin x + t cos x = 150 with
    // x the only unknown beside a; solved here by bisection on x.
    let (mut low, mut high) = (0.0, std::f64::consts::FRAC_PI_4);
    let thick = 10.0;
    let length = |x: f64| (200.0 - thick * libm::sin(x)) / libm::cos(x);
    for _ in 0..100 {
        let x = 0.5 * (low + high);
        if length(x) * libm::sin(x) + thick * libm::cos(x) < 150.0 { low = x } else { high = x }
    }
    // 205 wide: wider than the bed's 200, so the plate cannot turn on its face.
    let longest = length(low);
    assert!(longest > 230.0 && longest < 250.0, "{longest}");
    let bed = bare("200x100x150");
    let plate = |by: f64| box_points([longest + by, 100.0, thick]);
    assert_eq!(fit(&plate(-0.01), &bed, &FitOptions::decide()).verdict, Verdict::Fits);
    assert_eq!(fit(&plate(0.5), &bed, &FitOptions::decide()).verdict, Verdict::CannotFit);
}

#[test]
fn a_blade_that_only_fits_diagonally_is_found() {
    // A tapering blade 60 x 8 mm at its root, in a 220 x 220 x 250 bed: 335 mm exceeds the diagonal
    // of any face (333.0), so it has to go from corner to corner.
    let mut blade = Vec::new();
    for i in 0..=20 {
        let x = 335.0 * f64::from(i) / 20.0;
        let half = 30.0 * (1.0 - 0.95 * f64::from(i) / 20.0);
        blade.extend([[x, half, 0.0], [x, -half, 0.0], [x, 0.0, 4.0], [x, 0.0, -4.0]]);
    }
    let found = fit(&blade, &bare("220x220x250"), &FitOptions::decide());
    assert_eq!(found.verdict, Verdict::Fits, "{found:?}");
    let along = found.rotation.map(|row| row[0].abs());
    assert!(along.iter().all(|&a| a > 0.4), "{found:?}");
}

#[test]
fn a_long_bar_leans_in_a_round_bed() {
    // A needle in a cylinder: diagonal sqrt(d^2 + h^2) (Pythagoras).
    let bed = bare("d200x150");
    assert_eq!(fit(&box_points([249.0, 0.5, 0.5]), &bed, &FitOptions::decide()).verdict, Verdict::Fits);
    assert_eq!(fit(&box_points([250.5, 0.5, 0.5]), &bed, &FitOptions::decide()).verdict, Verdict::CannotFit);
    let found = fit(&box_points([100.0, 100.0, 50.0]), &bed, &FitOptions::best());
    assert!((found.margin_mm - (200.0 - 100.0 * 2f64.sqrt())).abs() < 1e-6, "{found:?}");
    assert!(found.upper_bound_mm <= found.margin_mm + TOLERANCE_MM + 1e-9);
}

/// Uniform rotations from a quaternion spiral: a scan independent of the search's cells.
fn scan_rotations(n: usize) -> Vec<Rows> {
    (0..n)
        .map(|i| {
            // Additive recurrence in three dimensions (the plastic-number sequence), then the
            // textbook map of three uniform numbers to a uniform quaternion.
            let at = |k: f64| (0.5 + (i as f64 + 1.0) * k) % 1.0;
            let (a, b, c) = (at(0.8191725133961645), at(0.6710436067037893), at(0.5497004779019703));
            let (s, r) = ((1.0 - a).sqrt(), a.sqrt());
            let turn = std::f64::consts::TAU;
            let (x, y) = (s * libm::sin(turn * b), s * libm::cos(turn * b));
            let (z, w) = (r * libm::sin(turn * c), r * libm::cos(turn * c));
            turn::from_rodrigues([x / w, y / w, z / w])
        })
        .collect()
}

#[test]
fn no_rotation_of_a_dense_scan_beats_the_bound_or_the_margin_by_the_tolerance() {
    let scan = scan_rotations(20_000);
    let (mut n_asked, mut n_left_open) = (0, 0);
    arbtest::arbtest(|u| {
        let mut points = Vec::new();
        for _ in 0..u.int_in_range(4..=14)? {
            let mut p = [0.0; 3];
            for (axis, value) in p.iter_mut().enumerate() {
                *value = f64::from(u.int_in_range(-1000..=1000)?) * [0.15, 0.1, 0.05][axis];
            }
            points.push(p);
        }
        let sides: [u32; 3] =
            [u.int_in_range(80..=250)?, u.int_in_range(80..=250)?, u.int_in_range(80..=250)?];
        let rect = bare(&format!("{}x{}x{}", sides[0], sides[1], sides[2]));
        let round = bare(&format!("d{}x{}", sides[0], sides[2]));
        let piece = prepare(&convex_hull(&points));
        let turned = turn::from_rodrigues([0.3, -0.7, 0.4]);
        let again: Vec<_> = points.iter().map(|&p| turn::apply(&turned, p)).collect();
        for bed in [rect, round] {
            let found = fit(&points, &bed, &FitOptions::best());
            // A few corners in a round bed can leave a whole family of near-ties; then the cells run out
            // and the bound stays above the margin, as it says.
            let closed = found.n_cells < FitOptions::best().n_cells;
            n_asked += 1;
            n_left_open += i32::from(!closed);
            assert!(!closed || found.upper_bound_mm <= found.margin_mm + TOLERANCE_MM + 1e-9, "{found:?}");
            let decided = fit(&points, &bed, &FitOptions::decide());
            match decided.verdict {
                Verdict::Fits => assert!(found.upper_bound_mm >= FITS_MM),
                Verdict::CannotFit => assert!(found.margin_mm < FITS_MM),
                Verdict::Undecided => {}
            }
            let usable = bed.usable();
            let ground = match usable.shape {
                BedShape::Rect { .. } => Ground::Box(usable.size_mm()),
                BedShape::Round { diameter_mm } => {
                    Ground::Cylinder(Cylinder { diameter_mm, height_mm: usable.height_mm })
                }
            };
            let n = if matches!(ground, Ground::Box(_)) { scan.len() } else { 1000 };
            for rows in &scan[..n] {
                assert!(ground.margin_mm(&piece.all, rows) <= found.upper_bound_mm + 1e-9);
                assert!(!closed || ground.margin_mm(&piece.all, rows) <= found.margin_mm + TOLERANCE_MM);
            }
            // Turned input: the same answer, within what is proved.
            let same = fit(&again, &bed, &FitOptions::best());
            let same_closed = closed && same.n_cells < FitOptions::best().n_cells;
            let apart_mm = (same.margin_mm - found.margin_mm).abs();
            assert!(!same_closed || apart_mm <= TOLERANCE_MM, "{same:?} {found:?}");
        }
        Ok(())
    })
    .budget_ms(4_000);
    assert!(n_left_open <= 1 + n_asked / 20, "{n_left_open} of {n_asked} left open");
}

#[test]
fn turning_a_box_changes_nothing_beyond_what_is_proved() {
    arbtest::arbtest(|u| {
        let mut side =
            || -> arbtest::arbitrary::Result<f64> { Ok(f64::from(u.int_in_range(50..=2500)?) / 10.0) };
        let points = box_points([side()?, side()?, side()?]);
        let bed = bare("220x180x250");
        let found = fit(&points, &bed, &FitOptions::best());
        let turned = turn::from_rodrigues([side()? / 100.0, -side()? / 200.0, side()? / 300.0]);
        let again: Vec<_> = points.iter().map(|&p| turn::apply(&turned, p)).collect();
        let same = fit(&again, &bed, &FitOptions::best());
        assert!((same.margin_mm - found.margin_mm).abs() <= TOLERANCE_MM, "{same:?} {found:?} {points:?}");
        Ok(())
    })
    .budget_ms(2_000);
}

#[test]
fn the_same_question_gets_the_same_answer_to_the_bit() {
    let points: Vec<[f64; 3]> = (0..400)
        .map(|i| {
            let t = f64::from(i);
            [120.0 * libm::sin(t), 80.0 * libm::cos(1.3 * t), 100.0 * libm::sin(0.7 * t + 1.0)]
        })
        .collect();
    let bed = bare("220x180x250");
    let first = fit(&points, &bed, &FitOptions::best());
    assert_eq!(first, fit(&points, &bed, &FitOptions::best()));
    // The order of the points does not matter either, nor repeats of them.
    let mut shuffled = points.clone();
    shuffled.reverse();
    let other = fit(&shuffled, &bed, &FitOptions::best());
    assert!((other.margin_mm - first.margin_mm).abs() < TOLERANCE_MM);
}

#[test]
fn a_rotation_given_first_is_taken_when_it_fits() {
    let points = box_points([300.0, 20.0, 10.0]);
    let bed = bare("220x220x250");
    let fits_so = fit(&points, &bed, &FitOptions::decide()).rotation;
    let found = fit(&points, &bed, &FitOptions { first: &[fits_so], ..FitOptions::decide() });
    assert_eq!((found.n_cells, found.verdict), (0, Verdict::Fits));
}

#[test]
fn points_and_flat_shapes_fit_too() {
    let bed = bare("100x100x100");
    assert_eq!(fit(&[[5.0, 5.0, 5.0]], &bed, &FitOptions::decide()).verdict, Verdict::Fits);
    let square = [[0.0, 0.0, 0.0], [105.0, 0.0, 0.0], [105.0, 105.0, 0.0], [0.0, 105.0, 0.0]];
    // The largest square in a unit cube has side 1.0606 (3 sqrt 2 / 4, the hole-through-a-cube problem).
    assert_eq!(fit(&square, &bed, &FitOptions::decide()).verdict, Verdict::Fits);
    let larger = square.map(|p| vec3::scale(p, 106.2 / 105.0));
    assert_eq!(fit(&larger, &bed, &FitOptions::decide()).verdict, Verdict::CannotFit);
}
