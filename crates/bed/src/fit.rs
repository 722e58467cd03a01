//! Whether a piece fits a bed in any rotation, by what margin, and what no rotation can beat.
//!
//! Margin as in `upright.rs`: least of (usable size - extent), measured on every hull vertex.
//! How: cheap proofs first (a distance longer than the diagonal, a volume larger than the bed), then
//! rotations given by the caller, a grid of rotations judged by few points, climbing from the
//! best of them, hull faces laid flush, and last the certified search (`cells.rs`, `round.rs`).
//! Budget: counted in cells, never timed, so the answer is the same everywhere. When it runs out
//! the answer is `Undecided` with what was reached and what is proved.
//! Not here: whether the rotation prints (`rest.rs`), keep-outs (`place.rs`).

use seamwright_mesh::hull::Hull;
use seamwright_mesh::vec3;

use crate::bed::{Bed, BedShape};
use crate::cells::{self, Best, Searched, Stop};
use crate::extent::Points;
use crate::round::{self, Cylinder};
use crate::turn::{self, Rows};
use crate::upright::{FITS_MM, best_turn, fits, shadow};

/// The best margin is proved to within this, mm: a fifth of a usual first layer (ours).
pub const TOLERANCE_MM: f64 = 0.1;

/// Hulls with more vertices than this are first judged by a few outermost ones.
const FEW: usize = 160;

/// Those few are the outermost ones along this many directions, both ways.
const N_FEW_DIRECTIONS: usize = 96;

/// What the caller wants to know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Only whether it fits: stops at the first rotation that does, or at a proof that none does.
    Decide,
    /// The best margin, proved to [`TOLERANCE_MM`].
    Best,
}

/// How hard to look.
#[derive(Debug, Clone, Copy)]
pub struct FitOptions<'a> {
    /// What to find out.
    pub goal: Goal,
    /// The largest number of cells of the certified search, one for every 64 points looked at in
    /// a cell (roughly 5 microseconds each).
    pub n_cells: u32,
    /// Rotations to try first, such as that of the piece this one was cut from.
    pub first: &'a [Rows],
}

impl FitOptions<'_> {
    /// Whether it fits, with enough cells for all but the closest calls.
    pub fn decide() -> Self {
        Self { goal: Goal::Decide, n_cells: 4_000, first: &[] }
    }

    /// The best margin.
    pub fn best() -> Self {
        Self { goal: Goal::Best, n_cells: 40_000, first: &[] }
    }
}

/// Whether a piece fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The rotation found fits.
    Fits,
    /// No rotation does; proved.
    CannotFit,
    /// None was found and none ruled out within the budget.
    Undecided,
}

/// The best rotation found and what is proved about all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnyFit {
    /// Room the rotation leaves, on every hull vertex.
    pub margin_mm: f64,
    /// The rotation: rows along the bed's x, y and z, determinant +1.
    pub rotation: Rows,
    /// No rotation leaves more.
    pub upper_bound_mm: f64,
    /// What follows from the two.
    pub verdict: Verdict,
    /// Cells looked at, counted as in [`FitOptions::n_cells`].
    pub n_cells: u32,
}

/// A hull made ready for many fit tests.
#[derive(Debug, Clone)]
pub struct Prepared {
    all: Points,
    few: Points,
    /// Outward normals of the largest faces, largest first.
    faces: Vec<[f64; 3]>,
    long_distance_mm: f64,
    volume_mm3: f64,
}

/// Makes a hull ready.
pub fn prepare(hull: &Hull) -> Prepared {
    let all = Points::new(hull.points_mm.iter().copied());
    let few = if all.len() > FEW { all.outermost(&spread_directions(N_FEW_DIRECTIONS)) } else { all.clone() };
    let mut faces: Vec<(f64, [f64; 3])> = Vec::new();
    let mut volume_mm3 = 0.0;
    for triangle in &hull.triangles {
        let [a, b, c] = triangle.map(|i| hull.points_mm[i as usize]);
        let from = hull.points_mm[0];
        let twice = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        volume_mm3 += vec3::dot(vec3::sub(a, from), twice) / 6.0;
        if let Some(normal) = vec3::unit(twice) {
            faces.push((0.5 * vec3::length(twice), normal));
        }
    }
    faces.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut largest: Vec<[f64; 3]> = Vec::new();
    for &(_, normal) in faces.iter().take(400) {
        // Both sides of a plate give the same frames; 1 degree apart is as good as one for a start.
        if largest.len() < 24 && largest.iter().all(|&n| vec3::dot(n, normal).abs() < 0.99985) {
            largest.push(normal);
        }
    }
    let long_distance_mm = few.long_distance_mm();
    Prepared { all, few, faces: largest, long_distance_mm, volume_mm3 }
}

/// Some of the points that are outermost, enough to judge most fits by: what does not fit with
/// them does not fit with all.
pub fn outermost(points_mm: &[[f64; 3]]) -> Vec<[f64; 3]> {
    Points::new(points_mm.iter().copied()).outermost(&spread_directions(N_FEW_DIRECTIONS)).iter().collect()
}

/// The room a rotation leaves in the bed's usable volume, on every point given; on a rectangular
/// bed the largest extent against the largest size.
pub fn margin_mm(points_mm: &[[f64; 3]], rotation: &Rows, bed: &Bed) -> f64 {
    Ground::of(bed).margin_mm(&Points::new(points_mm.iter().copied()), rotation)
}

/// Directions spread evenly over half the sphere (a spiral at the golden angle).
fn spread_directions(n: usize) -> Vec<[f64; 3]> {
    (0..n)
        .map(|i| {
            let z = (i as f64 + 0.5) / n as f64;
            let r = (1.0 - z * z).sqrt();
            // 2.399963... = pi (3 - sqrt 5).
            let (sin, cos) = libm::sincos(i as f64 * std::f64::consts::PI * (3.0 - 5f64.sqrt()));
            [r * cos, r * sin, z]
        })
        .collect()
}

/// Whether and how well the hull fits the bed in any rotation.
pub fn fit_any(piece: &Prepared, bed: &Bed, options: &FitOptions) -> AnyFit {
    let ground = Ground::of(bed);
    let plain_bound_mm = plain_bound_mm(piece, ground);
    let decide = options.goal == Goal::Decide;
    let stop = Stop {
        enough_mm: if decide { FITS_MM } else { plain_bound_mm - 1e-6 },
        hopeless_mm: if decide { FITS_MM } else { f64::NEG_INFINITY },
        gap_mm: if decide { 0.0 } else { TOLERANCE_MM },
        n_cells: options.n_cells,
    };
    let mut found = warm(piece, ground, options, &stop, plain_bound_mm);
    // Where only fitting counts, the search finds its own starts and often has its proof sooner.
    if !(decide || found.margin_mm >= stop.enough_mm) {
        found = flush(piece, ground, found, &stop);
    }
    let searched = if found.margin_mm >= stop.enough_mm || plain_bound_mm < stop.hopeless_mm {
        Searched { best: found, upper_bound_mm: plain_bound_mm, n_cells: 0 }
    } else {
        match ground {
            Ground::Box(sizes) => cells::search(&piece.all, &piece.few, sizes, found, stop),
            Ground::Cylinder(bed) => round::search(&piece.all, &piece.few, bed, found, stop),
        }
    };
    let upper_bound_mm = searched.upper_bound_mm.min(plain_bound_mm).max(searched.best.margin_mm);
    let verdict = if fits(searched.best.margin_mm) {
        Verdict::Fits
    } else if upper_bound_mm < FITS_MM {
        Verdict::CannotFit
    } else {
        Verdict::Undecided
    };
    AnyFit {
        margin_mm: searched.best.margin_mm,
        rotation: ground.onto_axes(&piece.all, &searched.best.rows),
        upper_bound_mm,
        verdict,
        n_cells: searched.n_cells,
    }
}

/// What a piece must go into.
#[derive(Debug, Clone, Copy)]
enum Ground {
    Box([f64; 3]),
    Cylinder(Cylinder),
}

impl Ground {
    fn of(bed: &Bed) -> Self {
        let usable = bed.usable();
        match usable.shape {
            BedShape::Rect { .. } => Self::Box(usable.size_mm()),
            BedShape::Round { diameter_mm } => {
                Self::Cylinder(Cylinder { diameter_mm, height_mm: usable.height_mm })
            }
        }
    }

    fn margin_mm(self, points: &Points, rows: &Rows) -> f64 {
        match self {
            Self::Box(sizes) => cells::margin_mm(points.extents(rows), sizes),
            Self::Cylinder(bed) => round::margin_mm(points, rows[2], bed),
        }
    }

    fn climb(self, points: &Points, start: Best, reach_rad: f64, enough_mm: Option<f64>) -> Best {
        match self {
            Self::Box(sizes) => cells::climb(points, start, sizes, reach_rad, enough_mm),
            Self::Cylinder(bed) => round::climb(points, start, bed, reach_rad, enough_mm),
        }
    }

    /// Rows put in the order of the bed's axes, determinant +1.
    fn onto_axes(self, points: &Points, rows: &Rows) -> Rows {
        let Self::Box(sizes) = self else { return turn::clean(rows) };
        let size_of = cells::assignment(points.extents(rows), sizes);
        let mut placed = *rows;
        for (axis, size) in size_of.into_iter().enumerate() {
            placed[size] = rows[axis];
        }
        turn::clean(&placed)
    }

    /// Where climbing starts: rotations, or directions of row 2.
    fn spread(self) -> Vec<Rows> {
        match self {
            Self::Box(_) => cells::grid(7),
            Self::Cylinder(_) => {
                spread_directions(120).into_iter().map(|up| turn::upright(up, 0.0)).collect()
            }
        }
    }
}

/// What a long distance and the volume alone say: no rotation leaves more.
fn plain_bound_mm(piece: &Prepared, ground: Ground) -> f64 {
    let (least, holds): (f64, Box<dyn Fn(f64) -> bool>) = match ground {
        Ground::Box(sizes) => {
            let least = sizes.iter().copied().fold(f64::INFINITY, f64::min);
            let left = move |m: f64| sizes.map(|size| size - m);
            let (length, volume) = (piece.long_distance_mm, piece.volume_mm3);
            (
                least,
                Box::new(move |m| {
                    let [a, b, c] = left(m);
                    a * a + b * b + c * c >= length * length && a * b * c >= volume
                }),
            )
        }
        Ground::Cylinder(bed) => {
            let (length, volume) = (piece.long_distance_mm, piece.volume_mm3);
            (
                bed.diameter_mm.min(bed.height_mm),
                Box::new(move |m| {
                    let (d, h) = (bed.diameter_mm - m, bed.height_mm - m);
                    d * d + h * h >= length * length && std::f64::consts::FRAC_PI_4 * d * d * h >= volume
                }),
            )
        }
    };
    if holds(least) {
        return least;
    }
    // Both tests only get easier as the margin falls, and hold once every size has grown by the
    // length (a volume of a set with that diameter is below its cube).
    let (mut low, mut high) = (least - 2.0 * piece.long_distance_mm - 1.0, least);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    high
}

/// Rotations given, then a spread of rotations and climbing from the best of them.
fn warm(piece: &Prepared, ground: Ground, options: &FitOptions, stop: &Stop, bound_mm: f64) -> Best {
    let mut best = Best { margin_mm: f64::NEG_INFINITY, rows: turn::IDENTITY };
    for rows in options.first.iter().chain([&turn::IDENTITY]) {
        let margin_mm = ground.margin_mm(&piece.all, rows);
        if margin_mm > best.margin_mm {
            best = Best { margin_mm, rows: *rows };
        }
        if best.margin_mm >= stop.enough_mm {
            return best;
        }
    }
    if bound_mm < stop.hopeless_mm {
        return best;
    }
    let mut starts: Vec<Best> = ground
        .spread()
        .into_iter()
        .map(|rows| Best { margin_mm: ground.margin_mm(&piece.few, &rows), rows })
        .collect();
    starts.push(best);
    // A stable sort: equal margins keep their order.
    starts.sort_by(|a, b| b.margin_mm.total_cmp(&a.margin_mm));
    if starts[0].margin_mm >= stop.enough_mm {
        let margin_mm = ground.margin_mm(&piece.all, &starts[0].rows);
        best = better(best, Best { margin_mm, rows: starts[0].rows });
        if best.margin_mm >= stop.enough_mm {
            return best;
        }
    }
    let n_climbs = if options.goal == Goal::Decide { 2 } else { 8 };
    for start in starts.iter().take(n_climbs) {
        best = better(best, polished(piece, ground, *start, 0.12, stop.climb_to()));
        if best.margin_mm >= stop.enough_mm {
            break;
        }
    }
    best
}

/// Climbs on the few points, then on all that matter there; the margin is measured on all.
fn polished(piece: &Prepared, ground: Ground, start: Best, reach_rad: f64, enough_mm: Option<f64>) -> Best {
    let rough = ground.climb(&piece.few, start, reach_rad, enough_mm);
    if piece.few.len() == piece.all.len() {
        return rough;
    }
    if enough_mm.is_some_and(|enough| rough.margin_mm < enough) {
        // More points leave less room still.
        return Best { margin_mm: ground.margin_mm(&piece.all, &rough.rows), rows: rough.rows };
    }
    let near = match ground {
        Ground::Box(_) => piece.all.near(&rough.rows, 0.15),
        Ground::Cylinder(_) => round::near(&piece.all, rough.rows[2], 0.15),
    };
    let from = Best { margin_mm: ground.margin_mm(&near, &rough.rows), rows: rough.rows };
    let found = ground.climb(&near, from, 0.03, enough_mm);
    Best { margin_mm: ground.margin_mm(&piece.all, &found.rows), rows: found.rows }
}

/// Hull faces laid flush with each pair of sides, with the best turn about their normal.
fn flush(piece: &Prepared, ground: Ground, mut best: Best, stop: &Stop) -> Best {
    let Ground::Box(sizes) = ground else { return best };
    let points: Vec<[f64; 3]> = piece.few.iter().collect();
    for &up in &piece.faces {
        let (outline, height_mm) = shadow(&points, up);
        for axis in 0..3 {
            let (width_mm, depth_mm) = (sizes[(axis + 1) % 3], sizes[(axis + 2) % 3]);
            if sizes[..axis].contains(&sizes[axis]) {
                continue;
            }
            let (footprint_mm, turn_rad) = best_turn(&outline, BedShape::Rect { width_mm, depth_mm });
            if footprint_mm.min(sizes[axis] - height_mm) > best.margin_mm + 1e-9 {
                let rows = turn::upright(up, turn_rad);
                let start = Best { margin_mm: ground.margin_mm(&piece.few, &rows), rows };
                best = better(best, polished(piece, ground, start, 0.03, None));
                if best.margin_mm >= stop.enough_mm {
                    return best;
                }
            }
        }
    }
    best
}

fn better(a: Best, b: Best) -> Best {
    if b.margin_mm > a.margin_mm { b } else { a }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::Placement;
    use seamwright_mesh::hull::convex_hull;

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
        assert_eq!(
            fit(&box_points([250.5, 0.5, 0.5]), &bed, &FitOptions::decide()).verdict,
            Verdict::CannotFit
        );
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
                assert!(found.upper_bound_mm <= found.margin_mm + TOLERANCE_MM + 1e-9, "{found:?}");
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
                    assert!(ground.margin_mm(&piece.all, rows) <= found.margin_mm + TOLERANCE_MM);
                }
                // Turned input: the same answer, within what is proved.
                let same = fit(&again, &bed, &FitOptions::best());
                assert!((same.margin_mm - found.margin_mm).abs() <= TOLERANCE_MM, "{same:?} {found:?}");
            }
            Ok(())
        })
        .budget_ms(4_000);
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
            assert!(
                (same.margin_mm - found.margin_mm).abs() <= TOLERANCE_MM,
                "{same:?} {found:?} {points:?}"
            );
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
}
