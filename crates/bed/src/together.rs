//! Whether a few points can lie together in a bed, proved by the certified searches of `cells.rs`
//! and `round.rs`: what the least number of pieces is proved with.
//!
//! Said so only where it is clear: points that lack less than [`CLEAR_MM`] count as fitting, so that
//! neither rounding nor the grid of a solid's points decides a proof, and others can check it.
//! Not here: pieces (`fit.rs`).

use crate::bed::Bed;
use crate::cells::{self, Stop};
use crate::climb::Best;
use crate::extent::Points;
use crate::fit::Ground;
use crate::round;
use crate::turn::Rows;

/// Points count as not fitting where they lack more than this in every rotation, mm (ours).
pub const CLEAR_MM: f64 = 0.25;

/// What is known of some points and a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Together {
    /// This rotation holds them, its rows in the order of the bed's axes.
    Fits(Rows),
    /// No rotation does; proved.
    Cannot,
    /// Too close to tell, or too costly.
    Open,
}

/// Whether the points fit the bed's usable volume together in some rotation, keep-outs ignored. Tries
/// `first`, then looks at up to about `n_cells` cells; gives how many it took too.
pub fn together(points_mm: &[[f64; 3]], bed: &Bed, first: &Rows, n_cells: u32) -> (Together, u32) {
    let ground = Ground::of(bed);
    let points = Points::new(points_mm.iter().copied());
    let start = Best { margin_mm: ground.margin_mm(&points, first), rows: *first };
    if start.margin_mm >= 0.0 {
        return (Together::Fits(ground.onto_axes(&points, first)), 0);
    }
    if points.long_distance_mm() > ground.diagonal_mm() + 2.0 * CLEAR_MM {
        return (Together::Cannot, 0);
    }
    let stop = Stop { enough_mm: 0.0, hopeless_mm: -CLEAR_MM, gap_mm: 0.0, n_cells };
    let found = match ground {
        Ground::Box(sizes) => cells::search(&points, &points, sizes, start, stop),
        Ground::Cylinder(bed) => round::search(&points, &points, bed, start, stop),
    };
    let known = if found.best.margin_mm >= 0.0 {
        Together::Fits(ground.onto_axes(&points, &found.best.rows))
    } else if found.upper_bound_mm < -CLEAR_MM {
        Together::Cannot
    } else {
        Together::Open
    };
    (known, found.n_cells)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::turn;

    fn told(points_mm: &[[f64; 3]], bed: &str) -> Together {
        let bed = Bed { margin_mm: 0.0, ..Bed::parse(bed).expect("a bed") };
        together(points_mm, &bed, &turn::IDENTITY, 20_000).0
    }

    #[test]
    fn a_pair_fits_up_to_the_diagonal_and_not_beyond() {
        // The diagonal of a cube: sqrt 3 sides (elementary).
        let pair = |length: f64| [[0.0; 3], [0.0, length, 0.0]];
        assert!(matches!(told(&pair(100.0 * 3f64.sqrt() - 0.1), "100x100x100"), Together::Fits(_)));
        assert_eq!(told(&pair(100.0 * 3f64.sqrt() + 1.0), "100x100x100"), Together::Cannot);
        // Of a cylinder: Pythagoras.
        assert!(matches!(told(&pair(249.9), "d200x150"), Together::Fits(_)));
        assert_eq!(told(&pair(251.0), "d200x150"), Together::Cannot);
    }

    #[test]
    fn a_square_fits_a_cube_up_to_three_quarters_of_root_two() {
        // The largest square in a unit cube has side 3 sqrt 2 / 4 (the hole-through-a-cube problem).
        let square = |s: f64| [[0.0; 3], [s, 0.0, 0.0], [s, s, 0.0], [0.0, s, 0.0]];
        let largest = 75.0 * 2f64.sqrt();
        assert!(matches!(told(&square(largest - 0.3), "100x100x100"), Together::Fits(_)));
        assert_eq!(told(&square(largest + 1.0), "100x100x100"), Together::Cannot);
        // What lacks next to nothing is no proof.
        assert_ne!(told(&square(largest + 0.05), "100x100x100"), Together::Cannot);
    }
}
