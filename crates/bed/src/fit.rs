//! Whether a piece fits a bed in any rotation, by what margin, and what no rotation can beat.
//!
//! Margin as in `upright.rs`: least of (usable size - extent), measured on every hull vertex.
//! How: cheap proofs first (a distance longer than the diagonal, a volume larger than the bed), then
//! rotations given by the caller, a grid of rotations judged by few points, climbing from the
//! best of them, hull faces laid flush, and last the certified search (`cells.rs`, `round.rs`).
//! Budget: counted in cells, never timed, so the answer is the same everywhere. When it runs out
//! the answer is `Undecided` with what was reached and what is proved.
//! Not here: whether the rotation prints (`rest.rs`), keep-outs (`place.rs`).

use crate::bed::{Bed, BedShape};
use crate::cells::{self, Searched, Stop};
use crate::climb::Best;
use crate::extent::Points;
use crate::prepared::spread_directions;
pub use crate::prepared::{Prepared, prepare};
use crate::round::{self, Cylinder};
use crate::turn::{self, Rows};
use crate::upright::{FITS_MM, best_turn, fits, shadow};
use seamwright_mesh::vec3;

/// The best margin is proved to within this, mm: a fifth of a usual first layer (ours).
pub const TOLERANCE_MM: f64 = 0.1;

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

/// The room a rotation leaves in the bed's usable volume, on every point given; on a rectangular
/// bed the largest extent against the largest size.
pub fn margin_mm(points_mm: &[[f64; 3]], rotation: &Rows, bed: &Bed) -> f64 {
    Ground::of(bed).margin_mm(&Points::new(points_mm.iter().copied()), rotation)
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
pub(crate) enum Ground {
    Box([f64; 3]),
    Cylinder(Cylinder),
}

impl Ground {
    pub(crate) fn of(bed: &Bed) -> Self {
        let usable = bed.usable();
        match usable.shape {
            BedShape::Rect { .. } => Self::Box(usable.size_mm()),
            BedShape::Round { diameter_mm } => {
                Self::Cylinder(Cylinder { diameter_mm, height_mm: usable.height_mm })
            }
        }
    }

    /// The longest distance it holds.
    pub(crate) fn diagonal_mm(self) -> f64 {
        match self {
            Self::Box(sizes) => vec3::length(sizes),
            Self::Cylinder(bed) => libm::hypot(bed.diameter_mm, bed.height_mm),
        }
    }

    pub(crate) fn margin_mm(self, points: &Points, rows: &Rows) -> f64 {
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
    pub(crate) fn onto_axes(self, points: &Points, rows: &Rows) -> Rows {
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
mod tests;
