//! Greedy planes with a small beam: cut the part that needs most, by the few planes that promise
//! most, and keep the best few partitions.
//!
//! How: every direction is swept for all offsets (`sweep.rs`); the best offsets of the best
//! directions are cut exactly and judged exactly; a part that fits counts as one piece, any other
//! by its estimate (`estimate.rs`). Sides that would be slivers are left out.
//! Not here: rounds, seeds and settings (`search.rs`).

use crate::estimate::{self, Need};
use crate::frames::Frame;
use crate::partition::{Part, Partition};
use crate::sweep::Cloud;
use seamwright_mesh::{Plane, Solid, vec3};

/// How one run weighs what it sees.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Directions to cut along.
    pub normals: Vec<[f64; 3]>,
    /// Frames for estimates.
    pub frames: Vec<Frame>,
    /// Partitions kept after each cut.
    pub width: usize,
    /// Cuts made exactly for each part looked at.
    pub tries: usize,
    /// Weight of the excess beside the count.
    pub excess_weight: f64,
    /// Weight of the section length, in pieces for a section as long as the bed's girth.
    pub section_weight: f64,
    /// A side with a smaller share of the part's surface is a sliver.
    pub least_share: f64,
    /// Slots of a sweep.
    pub n_slots: usize,
}

/// A thin slice is hard to handle and wastes a cut, in mm (common practice, no source).
const LEAST_SLICE_MM: f64 = 15.0;

/// A piece that stands only with supports counts as this much more: one of two plans with equal
/// counts is better if fewer pieces must be held.
const HELD_PIECES: f64 = 0.3;

/// A cut promised by the sweep.
struct Promise {
    plane: Plane,
    score: f64,
}

/// Cuts `start` until every piece fits; `None` if that takes `limit` pieces or more, or `stop`
/// says so.
pub fn run(
    start: &Partition,
    settings: &Settings,
    boxes: &[[f64; 3]],
    limit: usize,
    look: &dyn Fn(Solid) -> Part,
    stop: &dyn Fn() -> bool,
) -> Option<Partition> {
    let mut states = vec![start.clone()];
    let mut best: Option<Partition> = None;
    // Each turn cuts every state once; a state cannot need more turns than pieces allowed.
    for _ in 0..limit {
        let mut next: Vec<(f64, Partition)> = Vec::new();
        for state in &states {
            if stop() {
                return best;
            }
            expand(state, settings, boxes, look, &mut next);
        }
        next.sort_by(|a, b| a.0.total_cmp(&b.0));
        states.clear();
        let mut scores: Vec<f64> = Vec::new();
        for (score, state) in next {
            if state.all_fit() {
                let better = best.as_ref().is_none_or(|b| crate::search::better(&state, b));
                if state.n_pieces() < limit && better {
                    best = Some(state);
                }
                continue;
            }
            let bar = best.as_ref().map_or(limit, Partition::n_pieces);
            // An unfitting part needs at least one more cut, hence one more piece.
            let at_least = state.n_pieces() + 1;
            // Equal scores are nearly always the same partition reached in another order.
            let new = scores.iter().all(|s| (s - score).abs() > 1e-9);
            if at_least <= bar && at_least < limit && new && states.len() < settings.width {
                scores.push(score);
                states.push(state);
            }
        }
        if states.is_empty() {
            break;
        }
    }
    best
}

/// What a part still needs, in pieces, with what it costs to be held or too large.
fn value(part: &Part, settings: &Settings, boxes: &[[f64; 3]]) -> f64 {
    match &part.posed {
        Some(_) => 1.0 + if part.is_held() { HELD_PIECES } else { 0.0 },
        None => {
            let need = estimate::need(&part.hull.points_mm, &settings.frames, boxes);
            // It does not fit, so it needs two even where an estimate in one frame says one.
            need.pieces.max(2.0) + settings.excess_weight * need.excess
        }
    }
}

/// Girth of the first box, by which section lengths are measured.
fn girth_mm(boxes: &[[f64; 3]]) -> f64 {
    boxes.first().map_or(1.0, |b| 2.0 * (b[0] + b[1]))
}

fn expand(
    state: &Partition,
    settings: &Settings,
    boxes: &[[f64; 3]],
    look: &dyn Fn(Solid) -> Part,
    next: &mut Vec<(f64, Partition)>,
) {
    let pieces = state.pieces();
    let values: Vec<f64> = pieces.iter().map(|&i| value(&state.parts[i], settings, boxes)).collect();
    let worst = (0..pieces.len())
        .filter(|&k| state.parts[pieces[k]].posed.is_none())
        .max_by(|&a, &b| values[a].total_cmp(&values[b]).then(b.cmp(&a)));
    let Some(worst) = worst else { return };
    let part = &state.parts[pieces[worst]];
    let others: f64 = values.iter().sum::<f64>() - values[worst];
    for promise in promises(part, settings, boxes) {
        let mut cut = state.clone();
        if cut.cut_near(pieces[worst], promise.plane, look).is_err() {
            continue;
        }
        let made = &cut.parts[state.parts.len()..];
        let score = others
            + made.iter().map(|part| value(part, settings, boxes)).sum::<f64>()
            + settings.section_weight * cut.section_mm / girth_mm(boxes);
        next.push((score, cut));
    }
}

/// The most promising planes for one part, best first, no two nearly the same.
fn promises(part: &Part, settings: &Settings, boxes: &[[f64; 3]]) -> Vec<Promise> {
    let cloud = Cloud::new(part, &settings.frames);
    let scale = settings.section_weight / girth_mm(boxes);
    let worth = |need: &Need| need.pieces + settings.excess_weight * need.excess;
    let mut found: Vec<Promise> = Vec::new();
    for &normal in &settings.normals {
        let borders = cloud.sweep(part, normal, settings.n_slots, boxes);
        let (Some(first), Some(last)) = (borders.first(), borders.last()) else { continue };
        let (low, high) = (first.offset_mm + LEAST_SLICE_MM, last.offset_mm - LEAST_SLICE_MM);
        let mut row: Vec<Promise> = borders
            .iter()
            .filter(|border| {
                let share = border.share_below.min(1.0 - border.share_below);
                share >= settings.least_share && border.offset_mm >= low && border.offset_mm <= high
            })
            .map(|border| Promise {
                plane: Plane { normal, offset_mm: border.offset_mm },
                score: worth(&border.need[0]) + worth(&border.need[1]) + scale * border.section_mm,
            })
            .collect();
        row.sort_by(|a, b| a.score.total_cmp(&b.score));
        // Two of a direction: its best, and its best elsewhere.
        let apart = 0.15 * (last.offset_mm - first.offset_mm);
        if let Some(best) = row.first().map(|promise| promise.plane.offset_mm) {
            let other = row.iter().position(|p| (p.plane.offset_mm - best).abs() > apart);
            let keep: Vec<usize> = std::iter::once(0).chain(other).collect();
            found.extend(keep.into_iter().map(|i| Promise { plane: row[i].plane, score: row[i].score }));
        }
    }
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    let mut chosen: Vec<Promise> = Vec::new();
    for promise in found {
        // About 15 degrees and 12 mm: nearer planes leave the same parts.
        let near = |other: &Promise| {
            let (a, b) = (&other.plane, &promise.plane);
            let along = vec3::dot(a.normal, b.normal);
            along.abs() > 0.965 && (a.offset_mm - b.offset_mm * along.signum()).abs() < 12.0
        };
        if chosen.len() < settings.tries && !chosen.iter().any(near) {
            chosen.push(promise);
        }
    }
    chosen
}
