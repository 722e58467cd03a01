//! Greedy planes with a small beam: cut the part that needs most, by the few planes that promise
//! most, and keep the best few partitions.
//!
//! How: every direction is swept for all offsets (`sweep.rs`); the best offsets of the best
//! directions are cut exactly and judged exactly; a part that fits counts as one piece, any other
//! by its estimate (`estimate.rs`). Sides that would be slivers are left out.
//! Not here: rounds, seeds and settings (`search.rs`).

use crate::estimate::{self, Need};
use crate::frames::Frame;
use crate::ground::Ground;
use crate::partition::{Part, Partition};
use crate::sweep::Cloud;
use seamwright_mesh::{Plane, vec3};

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

/// A beam at work: a step sweeps one direction or makes one cut.
pub struct Beam {
    settings: Settings,
    limit: usize,
    /// Partitions kept, and how many of them were cut in this turn.
    states: Vec<Partition>,
    n_cut: usize,
    /// Turns made; each cuts every state once, and a state cannot need more turns than pieces allowed.
    n_turns: usize,
    at_work: Option<Expansion>,
    next: Vec<(f64, Partition)>,
    best: Option<Partition>,
}

/// One state's worst part: its directions being swept, then its promises being cut.
struct Expansion {
    piece: usize,
    /// Value of all other pieces.
    others: f64,
    cloud: Cloud,
    n_swept: usize,
    found: Vec<Promise>,
    /// Chosen once all directions are swept.
    promises: Option<std::vec::IntoIter<Promise>>,
}

impl Beam {
    /// Will cut `start` until every piece fits, if that takes fewer than `limit` pieces.
    pub fn new(start: Partition, settings: Settings, limit: usize) -> Self {
        Self {
            settings,
            limit,
            states: vec![start],
            n_cut: 0,
            n_turns: 0,
            at_work: None,
            next: Vec::new(),
            best: None,
        }
    }

    /// The best found so far.
    pub fn take_best(&mut self) -> Option<Partition> {
        self.best.take()
    }

    /// One step; whether there is more to do.
    pub fn step(&mut self, ground: &Ground) -> bool {
        if self.states.is_empty() || self.n_turns >= self.limit {
            return false;
        }
        let Some(work) = &mut self.at_work else {
            match self.states.get(self.n_cut) {
                Some(state) => match Expansion::new(state, &self.settings, &ground.boxes) {
                    Some(work) => self.at_work = Some(work),
                    None => self.n_cut += 1,
                },
                None => self.end_turn(),
            }
            return true;
        };
        let state = &self.states[self.n_cut];
        if work.step(state, &self.settings, ground, &mut self.next) {
            return true;
        }
        self.at_work = None;
        self.n_cut += 1;
        true
    }

    /// Keeps the best few of the partitions made in this turn.
    fn end_turn(&mut self) {
        self.next.sort_by(|a, b| a.0.total_cmp(&b.0));
        self.states.clear();
        let mut scores: Vec<f64> = Vec::new();
        for (score, state) in std::mem::take(&mut self.next) {
            if state.all_fit() {
                let outline = state.outline();
                let better = self.best.as_ref().is_none_or(|b| outline.is_better_than(&b.outline()));
                if state.n_pieces() < self.limit && better {
                    self.best = Some(state);
                }
                continue;
            }
            let bar = self.best.as_ref().map_or(self.limit, Partition::n_pieces);
            // An unfitting part needs at least one more cut, hence one more piece.
            let at_least = state.n_pieces() + 1;
            // Equal scores are nearly always the same partition reached in another order.
            let new = scores.iter().all(|s| (s - score).abs() > 1e-9);
            if at_least <= bar && at_least < self.limit && new && self.states.len() < self.settings.width {
                scores.push(score);
                self.states.push(state);
            }
        }
        self.n_cut = 0;
        self.n_turns += 1;
    }
}

impl Expansion {
    /// `None` where every piece fits.
    fn new(state: &Partition, settings: &Settings, boxes: &[[f64; 3]]) -> Option<Self> {
        let pieces = state.pieces();
        let values: Vec<f64> = pieces.iter().map(|&i| value(&state.parts[i], settings, boxes)).collect();
        let worst = (0..pieces.len())
            .filter(|&k| state.parts[pieces[k]].posed.is_none())
            .max_by(|&a, &b| values[a].total_cmp(&values[b]).then(b.cmp(&a)))?;
        Some(Self {
            piece: pieces[worst],
            others: values.iter().sum::<f64>() - values[worst],
            cloud: Cloud::new(&state.parts[pieces[worst]], &settings.frames),
            n_swept: 0,
            found: Vec::new(),
            promises: None,
        })
    }

    /// One step; whether there is more to do.
    fn step(
        &mut self,
        state: &Partition,
        settings: &Settings,
        ground: &Ground,
        next: &mut Vec<(f64, Partition)>,
    ) -> bool {
        let part = &state.parts[self.piece];
        let Some(promises) = &mut self.promises else {
            match settings.normals.get(self.n_swept) {
                Some(&normal) => {
                    self.found.extend(promises_along(&self.cloud, part, normal, settings, &ground.boxes));
                    self.n_swept += 1;
                }
                None => {
                    let found = std::mem::take(&mut self.found);
                    self.promises = Some(chosen(found, settings.tries).into_iter());
                }
            }
            return true;
        };
        let Some(promise) = promises.next() else { return false };
        let mut cut = state.clone();
        if cut.cut_near(self.piece, promise.plane, &|solid| ground.look(solid)).is_ok() {
            let made = &cut.parts[state.parts.len()..];
            let score = self.others
                + made.iter().map(|part| value(part, settings, &ground.boxes)).sum::<f64>()
                + settings.section_weight * cut.section_mm / girth_mm(&ground.boxes);
            next.push((score, cut));
        }
        true
    }
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

/// The best planes of one direction: its best, and its best elsewhere.
fn promises_along(
    cloud: &Cloud,
    part: &Part,
    normal: [f64; 3],
    settings: &Settings,
    boxes: &[[f64; 3]],
) -> Vec<Promise> {
    let scale = settings.section_weight / girth_mm(boxes);
    let worth = |need: &Need| need.pieces + settings.excess_weight * need.excess;
    let borders = cloud.sweep(part, normal, settings.n_slots, boxes);
    let (Some(first), Some(last)) = (borders.first(), borders.last()) else { return Vec::new() };
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
    let apart = 0.15 * (last.offset_mm - first.offset_mm);
    let Some(best) = row.first().map(|promise| promise.plane.offset_mm) else { return Vec::new() };
    let other = row.iter().position(|p| (p.plane.offset_mm - best).abs() > apart);
    let keep = std::iter::once(0).chain(other);
    keep.map(|i| Promise { plane: row[i].plane, score: row[i].score }).collect()
}

/// The most promising planes of all directions, best first, no two nearly the same.
fn chosen(mut found: Vec<Promise>, tries: usize) -> Vec<Promise> {
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    let mut chosen: Vec<Promise> = Vec::new();
    for promise in found {
        // About 15 degrees and 12 mm: nearer planes leave the same parts.
        let near = |other: &Promise| {
            let (a, b) = (&other.plane, &promise.plane);
            let along = vec3::dot(a.normal, b.normal);
            along.abs() > 0.965 && (a.offset_mm - b.offset_mm * along.signum()).abs() < 12.0
        };
        if chosen.len() < tries && !chosen.iter().any(near) {
            chosen.push(promise);
        }
    }
    chosen
}
