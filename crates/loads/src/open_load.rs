//! A load being filled: add a piece at its best turn and spot, or find that it has no room.
//!
//! How: `Among::best_spot` finds the best free spot of an outline; here it is asked once a turn, each
//! time only for spots better than the best so far.
//! Units and frame: millimetres, radians; the frame of the bed.
//! Not here: which load a piece is offered to (`search.rs`).

use seamwright_bed::convex2d::{self, P2};
use seamwright_bed::place::Among;

use crate::footprint::{BedRoom, Ready, middle_of};
use crate::job::{Laid, Load};

/// What makes one spot better than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rule {
    /// Far edge of the piece nearest the front of the bed, then furthest left.
    Front,
    /// Right edge of the piece furthest left, then nearest the front.
    Left,
    /// Far right corner of the piece nearest the front left corner of the bed.
    Corner,
    /// Farthest from the middle of the bed: round the rim first.
    Rim,
}

/// A piece in an open load.
#[derive(Debug, Clone)]
pub(crate) struct Spot {
    /// Position in the list of ready pieces.
    pub piece: usize,
    pub turn_rad: f64,
    pub move_mm: P2,
}

/// A load being filled.
#[derive(Debug, Clone)]
pub(crate) struct OpenLoad {
    pub bed: usize,
    pub spots: Vec<Spot>,
    outlines: Vec<Vec<P2>>,
    /// Sum of the pieces' areas grown by half the gap.
    pub shared_mm2: f64,
}

impl OpenLoad {
    pub(crate) fn new(bed: usize) -> OpenLoad {
        OpenLoad { bed, spots: Vec::new(), outlines: Vec::new(), shared_mm2: 0.0 }
    }

    /// Adds the piece where the rule likes it best; `false`, and nothing changed, where it has no
    /// room. `work` counts as `Among::best_spot` does.
    pub(crate) fn add(
        &mut self,
        piece: usize,
        ready: &[Ready],
        rooms: &[BedRoom],
        rule: Rule,
        work: &mut u64,
    ) -> bool {
        let (this, bed) = (&ready[piece], &rooms[self.bed]);
        let Some(&(_, alone)) = this.alone.iter().find(|(b, _)| *b == self.bed) else { return false };
        let share_mm2 = bed.share_mm2(this);
        if !self.spots.is_empty() && self.shared_mm2 + share_mm2 > bed.shared_mm2 * (1.0 + 1e-12) {
            return false;
        }
        let among = Among { room: &bed.room, obstacles: &self.outlines, gap_mm: bed.gap_mm };
        let mut best: Option<(P2, [f64; 2], usize)> = None;
        for (turn_index, turned) in this.turns.iter().enumerate() {
            let Some(region) = &turned.regions[self.bed] else { continue };
            let rank = |step: P2| {
                let far = [turned.high[0] + step[0], turned.high[1] + step[1]];
                match rule {
                    Rule::Front => [far[1], far[0]],
                    Rule::Left => [far[0], far[1]],
                    Rule::Corner => [far[0] + far[1], far[1]],
                    Rule::Rim => {
                        let middle =
                            |k: usize| 0.5 * (turned.low[k] + turned.high[k]) + step[k] - bed.centre[k];
                        [-libm::hypot(middle(0), middle(1)), far[1]]
                    }
                }
            };
            let limit = best.as_ref().map(|b| b.1);
            if let Some((step, rank)) = among.best_spot(&turned.outline, region, limit, rank, work) {
                best = Some((step, rank, turn_index));
            }
        }
        let (turn_rad, move_mm, outline) = match best {
            Some((step, _, turn_index)) => {
                let turned = &this.turns[turn_index];
                (turned.turn_rad, step, convex2d::moved(&turned.outline, step))
            }
            // The fit test has the last word on a piece alone.
            None if self.spots.is_empty() => {
                let turned = convex2d::turned(&this.footprint, alone.turn_rad);
                (alone.turn_rad, alone.move_mm, convex2d::moved(&turned, alone.move_mm))
            }
            None => return false,
        };
        self.spots.push(Spot { piece, turn_rad, move_mm });
        self.outlines.push(outline);
        self.shared_mm2 += share_mm2;
        true
    }

    /// The load as handed out: a piece alone at its own spot, several as a group brought to the
    /// middle of the bed where nothing is in the way.
    pub(crate) fn finished(mut self, ready: &[Ready], rooms: &[BedRoom]) -> Load {
        let bed = &rooms[self.bed];
        if let [spot] = &mut self.spots[..] {
            if let Some(&(_, alone)) = ready[spot.piece].alone.iter().find(|(b, _)| *b == self.bed) {
                (spot.turn_rad, spot.move_mm) = (alone.turn_rad, alone.move_mm);
            }
        } else {
            let all: Vec<P2> = self.outlines.iter().flatten().copied().collect();
            let middle = middle_of(&all, bed.room.edge());
            let step = [bed.centre[0] - middle[0], bed.centre[1] - middle[1]];
            if self.outlines.iter().all(|outline| bed.room.holds(&convex2d::moved(outline, step))) {
                for spot in &mut self.spots {
                    spot.move_mm = [spot.move_mm[0] + step[0], spot.move_mm[1] + step[1]];
                }
            }
        }
        let used_mm2: f64 = self.spots.iter().map(|spot| ready[spot.piece].area_mm2).sum();
        let mut pieces: Vec<Laid> = self
            .spots
            .iter()
            .map(|spot| Laid {
                index: ready[spot.piece].index,
                turn_rad: spot.turn_rad,
                move_mm: spot.move_mm,
            })
            .collect();
        pieces.sort_by_key(|laid| laid.index);
        Load {
            bed_index: self.bed,
            pieces,
            used_fraction: used_mm2 / bed.room.area_mm2().max(f64::MIN_POSITIVE),
        }
    }
}
