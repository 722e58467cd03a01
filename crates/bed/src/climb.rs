//! Climbing from a rotation to one that no small turn improves.
//!
//! How: the linear programme of `room_lp.rs` proposes the best turn within a reach; the reach grows
//! where the turn gained what was hoped for and shrinks where it did not.
//! Not here: what limits a turn and what margin a rotation leaves (`cells.rs`, `round.rs`).

use crate::room_lp::{self, Limit};
use crate::turn::{self, Rows};

/// A rotation and the margin it leaves.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Best {
    pub margin_mm: f64,
    pub rows: Rows,
}

/// Climbs from `start`; with `enough_mm` only until that is reached or out of sight. `limits_at` gives
/// the limits at a rotation for turns within a reach, `margin_at` the margin of a rotation.
pub(crate) fn climb(
    start: Best,
    first_reach_rad: f64,
    enough_mm: Option<f64>,
    limits_at: impl Fn(&Rows, f64) -> Vec<Limit>,
    margin_at: impl Fn(&Rows) -> f64,
) -> Best {
    let mut best = start;
    let mut reach = first_reach_rad;
    // Each pass either climbs or shrinks the reach; 80 end even a slow climb.
    for _ in 0..80 {
        let next = room_lp::best_small_turn(&limits_at(&best.rows, reach), reach, reach);
        let rows = turn::turned(&best.rows, next.turn);
        let margin_mm = margin_at(&rows);
        let (gained, hoped) = (margin_mm - best.margin_mm, next.expected_mm - best.margin_mm);
        if gained > 0.0 {
            best = Best { margin_mm, rows };
        }
        reach = if gained > 0.5 * hoped { (2.0 * reach).min(0.3) } else { 0.4 * reach };
        if hoped < 1e-10 || reach < 1e-10 || is_settled(enough_mm, best.margin_mm, hoped, reach) {
            break;
        }
    }
    best
}

/// Whether a climb has reached what is enough, or is so slow near its top that it will not.
fn is_settled(enough_mm: Option<f64>, margin_mm: f64, hoped_mm: f64, reach_rad: f64) -> bool {
    // Five more steps as good as this one hoped to be, from 3 degrees on (ours).
    enough_mm.is_some_and(|enough| {
        margin_mm >= enough || (reach_rad < 0.05 && margin_mm + 5.0 * hoped_mm < enough)
    })
}
