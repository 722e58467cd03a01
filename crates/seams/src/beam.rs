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
use crate::offers::{self, Offer};
use crate::outline::Prefer;
use crate::part::{Look, Part};
use crate::partial::choices::{Choice, choices};
use crate::partition::{Partition, SOUND};
use crate::seek::Seek;
use crate::sweep::Ready;
use seamwright_mesh::Plane;
use seamwright_mesh::split::regions::Regions;

/// How one run weighs what it sees.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Their number in the portfolio.
    pub index: usize,
    /// Directions to cut along.
    pub normals: Vec<[f64; 3]>,
    /// Planes looked at just where they are; their normals are among the directions.
    pub planes: Vec<Plane>,
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
    /// Whether cuts through some regions of a plane only are tried.
    pub takes_partial: bool,
    /// A side with a smaller share of the part's surface is a sliver.
    pub least_share: f64,
    /// Slots of a sweep.
    pub n_slots: usize,
}

/// A piece that stands only with supports counts as this much more: one of two plans with equal
/// counts is better if fewer pieces must be held.
const HELD_PIECES: f64 = 0.3;

/// A beam at work: a step sweeps one direction or makes one cut.
pub struct Beam {
    settings: Settings,
    limit: usize,
    prefer: Prefer,
    /// Partitions kept, and how many of them were cut in this turn.
    states: Vec<Partition>,
    n_cut: usize,
    /// Turns made; each cuts every state once, and a state cannot need more turns than pieces allowed.
    n_turns: usize,
    at_work: Option<Expansion>,
    next: Vec<(f64, Partition)>,
    best: Option<Partition>,
    /// The one with fewest pieces, where that is another because some must be held.
    fewest: Option<Partition>,
    candidates: u64,
}

/// Cuts through some regions only that are tried where a plane leaves more than two lumps (ours).
const MOST_PARTIAL: usize = 6;

/// One state's worst part: its directions being swept, then what they offer being cut.
struct Expansion {
    piece: usize,
    /// Value of all other pieces.
    others: f64,
    ready: Ready,
    n_swept: usize,
    found: Vec<Offer>,
    /// Chosen once all directions are swept.
    offers: Option<std::vec::IntoIter<Offer>>,
    /// The section of the plane cut last, and choices of its regions to be cut alone.
    partial: Option<(Regions, std::vec::IntoIter<Choice>)>,
}

impl Beam {
    /// Will cut `start` until every piece fits, if that takes fewer than `limit` pieces.
    pub fn new(start: Partition, settings: Settings, limit: usize, prefer: Prefer) -> Self {
        Self {
            settings,
            limit,
            prefer,
            states: vec![start],
            n_cut: 0,
            n_turns: 0,
            at_work: None,
            next: Vec::new(),
            best: None,
            fewest: None,
            candidates: 0,
        }
    }

    /// The best found so far.
    pub fn take_best(&mut self) -> Option<Partition> {
        self.best.take()
    }

    /// One with fewer pieces than the best, some of them held: a small change may let them stand.
    pub fn take_fewest(&mut self) -> Option<Partition> {
        self.fewest.take()
    }

    /// Keeps the best few of the partitions made in this turn.
    fn end_turn(&mut self) {
        self.next.sort_by(|a, b| a.0.total_cmp(&b.0));
        self.states.clear();
        let mut scores: Vec<f64> = Vec::new();
        for (score, state) in std::mem::take(&mut self.next) {
            if state.all_fit() {
                let outline = state.outline();
                let better =
                    self.best.as_ref().is_none_or(|b| outline.is_better_than(&b.outline(), self.prefer));
                if state.n_pieces() >= self.limit {
                    continue;
                }
                if better {
                    self.best = Some(state);
                } else if self.best.as_ref().is_some_and(|best| state.n_pieces() < best.n_pieces()) {
                    let fewer = self.fewest.as_ref().is_none_or(|kept| {
                        let of = |state: &Partition| (state.n_pieces(), state.n_held());
                        of(&state) < of(kept)
                    });
                    if fewer {
                        self.fewest = Some(state);
                    }
                }
                continue;
            }
            // A plan through chalk is given up for any that is not, whatever it takes; and where only seams
            // count, one more cut may hide more.
            let clean = self
                .best
                .as_ref()
                .filter(|best| self.prefer != Prefer::Hidden && best.outline().chalked_cm() == 0);
            let bar = clean.map_or(self.limit, Partition::n_pieces);
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

impl Seek for Beam {
    fn step(&mut self, ground: &Ground) -> bool {
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
        if work.step(state, &self.settings, ground, &mut self.next, &mut self.candidates) {
            return true;
        }
        self.at_work = None;
        self.n_cut += 1;
        true
    }

    fn take_found(&mut self) -> Vec<Partition> {
        [self.take_fewest(), self.take_best()].into_iter().flatten().collect()
    }

    fn candidates(&self) -> u64 {
        self.candidates
    }
}

impl Expansion {
    /// `None` where every piece fits.
    fn new(state: &Partition, settings: &Settings, boxes: &[[f64; 3]]) -> Option<Self> {
        let pieces = state.pieces();
        let values: Vec<f64> = pieces.iter().map(|&i| value(&state.parts[i], settings, boxes)).collect();
        let worst = (0..pieces.len())
            .filter(|&k| !state.parts[pieces[k]].is_done())
            .max_by(|&a, &b| values[a].total_cmp(&values[b]).then(b.cmp(&a)))?;
        Some(Self {
            piece: pieces[worst],
            others: values.iter().sum::<f64>() - values[worst],
            ready: Ready::new(&state.parts[pieces[worst]].solid, &settings.frames)?,
            n_swept: 0,
            found: Vec::new(),
            offers: None,
            partial: None,
        })
    }

    /// One step; whether there is more to do.
    fn step(
        &mut self,
        state: &Partition,
        settings: &Settings,
        ground: &Ground,
        next: &mut Vec<(f64, Partition)>,
        candidates: &mut u64,
    ) -> bool {
        let Some(offers) = &mut self.offers else {
            match settings.normals.get(self.n_swept) {
                Some(&normal) => {
                    let solid = &state.parts[self.piece].solid;
                    let sweep = self
                        .ready
                        .along(normal, &|triangle, along| ground.per_mm(solid, triangle, along, normal));
                    let girth_mm = girth_mm(&ground.boxes);
                    let is_wanted = |plane: &Plane| !ground.forbids(&state.parts[self.piece], plane);
                    let (found, n) =
                        offers::along(&sweep, normal, settings, &ground.boxes, girth_mm, &is_wanted);
                    self.found.extend(found);
                    *candidates += n;
                    self.n_swept += 1;
                }
                None => {
                    let found = std::mem::take(&mut self.found);
                    self.offers = Some(offers::chosen(found, settings.tries).into_iter());
                }
            }
            return true;
        };
        let score = |cut: &Partition| {
            let made = &cut.parts[state.parts.len()..];
            self.others
                + made.iter().map(|part| value(part, settings, &ground.boxes)).sum::<f64>()
                + settings.section_weight * cut.cost_mm() / girth_mm(&ground.boxes)
        };
        let mut cut = state.clone();
        if let Some((regions, choices)) = &mut self.partial {
            match choices.next() {
                Some(choice) => {
                    *candidates += 1;
                    if cut.cut_regions(self.piece, regions, &choice.regions, SOUND, ground).is_ok() {
                        next.push((score(&cut), cut));
                    }
                }
                None => self.partial = None,
            }
            return true;
        }
        let Some(offer) = offers.next() else { return false };
        *candidates += 1;
        if cut.cut_near(self.piece, offer.plane, ground).is_ok() {
            if settings.takes_partial && cut.parts.len() > state.parts.len() + 2 {
                self.partial = state.regions(self.piece, offer.plane).map(|regions| {
                    let mut choices = choices(&regions);
                    choices.truncate(MOST_PARTIAL);
                    (regions, choices.into_iter())
                });
            }
            next.push((score(&cut), cut));
        }
        true
    }
}

/// What a part still needs, in pieces, with what it costs to be held or too large.
fn value(part: &Part, settings: &Settings, boxes: &[[f64; 3]]) -> f64 {
    if part.is_done() {
        return 1.0 + if part.is_held() { HELD_PIECES } else { 0.0 };
    }
    let need = estimate::need(&part.hull.points_mm, &settings.frames, boxes);
    // It does not fit, so it needs two even where an estimate in one frame says one.
    offers::worth(&Need { pieces: need.pieces.max(2.0), ..need }, settings)
}

/// Girth of the first box, by which section lengths are measured.
fn girth_mm(boxes: &[[f64; 3]]) -> f64 {
    boxes.first().map_or(1.0, |b| 2.0 * (b[0] + b[1]))
}
