//! Look for the fewest loads: first fit in several orders, then empty loads into others.
//!
//! How: each round lays all pieces largest first by one measure under one rule, each piece in the
//! first load that takes it; then the least filled load is dissolved: its pieces are offered to the
//! others as they are, and to others laid anew with the piece among them. Rounds go on with orders
//! shaken by a fixed sequence until the bound is met or the work is used up.
//! Cost: counted, see `LayOptions::work`.
//! Source: first fit decreasing, textbook. Not here: spots within a load (`open_load.rs`).

use crate::bound;
use crate::footprint::{BedRoom, Ready};
use crate::job::LayOptions;
use crate::open_load::{OpenLoad, Rule};

/// By what pieces are ordered, largest first.
const MEASURES: [fn(&Ready) -> f64; 4] =
    [|p| p.area_mm2, |p| p.longest_mm, |p| p.girth_mm, |p| p.area_mm2 * p.longest_mm];

const RULES: [Rule; 4] = [Rule::Front, Rule::Corner, Rule::Left, Rule::Rim];

struct Search<'a> {
    ready: &'a [Ready],
    rooms: &'a [BedRoom],
    work: u64,
    work_limit: u64,
}

/// All pieces in as few loads as found within the work allowed.
pub(crate) fn fewest_loads(ready: &[Ready], rooms: &[BedRoom], options: LayOptions) -> Vec<OpenLoad> {
    let at_least = bound::at_least(ready, rooms);
    let mut search = Search { ready, rooms, work: 0, work_limit: options.work };
    let mut best: Option<(Vec<OpenLoad>, Vec<usize>)> = None;
    let mut shake = 1u64;
    for round in 0usize.. {
        // Sixteen plain rounds, each measure with each rule, then shaken ones.
        let rule = RULES[(round + round / 4) % 4];
        let order = match &best {
            Some((_, order)) if round >= 16 => shaken(order, &mut shake),
            _ => {
                let measure = MEASURES[round % 4];
                let mut order: Vec<usize> = (0..ready.len()).collect();
                order.sort_by(|&a, &b| measure(&ready[b]).total_cmp(&measure(&ready[a])).then(a.cmp(&b)));
                order
            }
        };
        // On odd passes a new load opens the roomiest bed a piece may go on, not the preferred.
        let roomiest = (round / 4) % 2 == 1;
        if let Some(loads) = search.first_fit(&order, rule, roomiest, best.is_none()) {
            let loads = search.emptied(loads);
            if best.as_ref().is_none_or(|(b, _)| score(&loads) < score(b)) {
                best = Some((loads, order));
            }
        }
        let n_loads = best.as_ref().map_or(0, |(loads, _)| loads.len());
        if n_loads <= at_least || search.spent() {
            break;
        }
    }
    best.map(|(loads, _)| loads).unwrap_or_default()
}

/// Fewer loads first; then the least filled as empty as can be, in whole mm².
fn score(loads: &[OpenLoad]) -> (usize, i64) {
    let least = loads.iter().map(|load| load.shared_mm2).fold(f64::INFINITY, f64::min);
    (loads.len(), if least.is_finite() { least.round() as i64 } else { 0 })
}

/// The order with a tenth of its places exchanged with a near one, by a fixed sequence of numbers.
fn shaken(order: &[usize], state: &mut u64) -> Vec<usize> {
    // Multiplier and increment of a 64-bit congruential sequence (from memory, widely published).
    let mut next = |below: usize| {
        *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((*state >> 33) % below.max(1) as u64) as usize
    };
    let mut order = order.to_vec();
    for _ in 0..order.len().div_ceil(10) + 1 {
        let from = next(order.len());
        let to = (from + 1 + next(6)).min(order.len().saturating_sub(1));
        order.swap(from, to);
    }
    order
}

impl Search<'_> {
    fn spent(&self) -> bool {
        self.work >= self.work_limit
    }

    /// Each piece into the first load that takes it. `None` where the work runs out first, unless
    /// the round must be finished.
    fn first_fit(
        &mut self,
        order: &[usize],
        rule: Rule,
        roomiest: bool,
        must: bool,
    ) -> Option<Vec<OpenLoad>> {
        let mut loads: Vec<OpenLoad> = Vec::new();
        for &piece in order {
            if self.spent() && !must {
                return None;
            }
            if !loads.iter_mut().any(|load| load.add(piece, self.ready, self.rooms, rule, &mut self.work)) {
                let beds = || self.ready[piece].alone.iter().map(|(bed, _)| *bed);
                let shared = |bed: &usize| self.rooms[*bed].shared_mm2;
                let bed = if roomiest {
                    // The first of equals: `max_by` would take the last.
                    beds().reduce(|a, b| if shared(&b) > shared(&a) { b } else { a })
                } else {
                    beds().next()
                };
                let mut load = OpenLoad::new(bed?);
                load.add(piece, self.ready, self.rooms, rule, &mut self.work);
                loads.push(load);
            }
        }
        Some(loads)
    }

    /// Dissolves the least filled load, again and again while that succeeds.
    fn emptied(&mut self, mut loads: Vec<OpenLoad>) -> Vec<OpenLoad> {
        while loads.len() > 1 && !self.spent() {
            let mut by_fill: Vec<usize> = (0..loads.len()).collect();
            by_fill.sort_by(|&a, &b| loads[a].shared_mm2.total_cmp(&loads[b].shared_mm2).then(a.cmp(&b)));
            let Some(fewer) = by_fill.into_iter().take(2).find_map(|victim| self.without(&loads, victim))
            else {
                break;
            };
            loads = fewer;
        }
        loads
    }

    fn without(&mut self, loads: &[OpenLoad], victim: usize) -> Option<Vec<OpenLoad>> {
        let mut left = loads.to_vec();
        let mut pieces: Vec<usize> = left.remove(victim).spots.iter().map(|spot| spot.piece).collect();
        pieces.sort_by(|&a, &b| self.ready[b].area_mm2.total_cmp(&self.ready[a].area_mm2).then(a.cmp(&b)));
        for piece in pieces {
            let taken = left.iter_mut().any(|load| {
                !self.spent()
                    && (RULES
                        .iter()
                        .any(|&rule| load.add(piece, self.ready, self.rooms, rule, &mut self.work)))
            });
            if !taken {
                let anew =
                    (0..left.len()).find_map(|i| self.laid_anew(&left[i], piece).map(|load| (i, load)));
                let (i, load) = anew?;
                left[i] = load;
            }
        }
        Some(left)
    }

    /// The load's pieces and one more on the same bed, from an empty bed on.
    fn laid_anew(&mut self, load: &OpenLoad, more: usize) -> Option<OpenLoad> {
        let bed = &self.rooms[load.bed];
        if load.shared_mm2 + bed.share_mm2(&self.ready[more]) > bed.shared_mm2 {
            return None;
        }
        let mut order: Vec<usize> = load.spots.iter().map(|spot| spot.piece).chain([more]).collect();
        for (measure, rule) in MEASURES.into_iter().zip(RULES) {
            order.sort_by(|&a, &b| {
                measure(&self.ready[b]).total_cmp(&measure(&self.ready[a])).then(a.cmp(&b))
            });
            let mut fresh = OpenLoad::new(load.bed);
            let all = order.iter().all(|&piece| {
                !self.spent() && fresh.add(piece, self.ready, self.rooms, rule, &mut self.work)
            });
            if all {
                return Some(fresh);
            }
        }
        None
    }
}
