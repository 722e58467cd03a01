//! A plan of an item that mirrors itself: cut along its mirror plane, one half cut up by a beam and the other the
//! same way round, so that pieces come in pairs, left and right.
//!
//! One step sweeps a direction or makes a cut. Not here: which planes mirror it (`mirror.rs`), making the plan better
//! (`improve.rs`), which may end the likeness.

use crate::beam::{Beam, Settings};
use crate::ground::Ground;
use crate::outline::Prefer;
use crate::partition::Partition;
use crate::realise::Realising;
use crate::seek::Seek;
use seamwright_mesh::Plane;

/// An item at work.
pub struct Halves {
    mirror: Plane,
    /// Cut along the mirror plane; by and by with one half cut up, then the other.
    made: Partition,
    stage: Stage,
    candidates: u64,
}

enum Stage {
    /// One half being cut up.
    One(Box<Beam>),
    /// The other the same way round.
    Other(Box<Realising>),
    Done {
        is_plan: bool,
    },
}

impl Halves {
    /// Will plan it with fewer than `limit` pieces; `None` where the plane does not part it in two lumps.
    pub fn new(
        start: &Partition,
        mirror: Plane,
        settings: Settings,
        limit: usize,
        prefer: Prefer,
        ground: &Ground,
    ) -> Option<Self> {
        if start.n_pieces() != 1 || !start.steps.is_empty() || limit < 3 {
            return None;
        }
        let mut made = start.clone();
        made.cut_near(0, mirror, ground).ok()?;
        let [below, above] = [&made.steps[0].below, &made.steps[0].above];
        if below.len() != 1 || above.len() != 1 {
            return None;
        }
        let half = made.alone(below[0]);
        let stage = if half.all_fit() {
            Stage::Done { is_plan: made.all_fit() }
        } else {
            // Both halves are as many pieces.
            let most_half = (limit - 1) / 2;
            Stage::One(Box::new(Beam::new(half, settings, most_half + 1, prefer)))
        };
        Some(Self { mirror, made, stage, candidates: 1 })
    }
}

impl Seek for Halves {
    fn step(&mut self, ground: &Ground) -> bool {
        match &mut self.stage {
            Stage::One(beam) => {
                if beam.step(ground) {
                    return true;
                }
                self.candidates += beam.candidates();
                let Some(half) = beam.take_best() else {
                    self.stage = Stage::Done { is_plan: false };
                    return false;
                };
                let [below, above] = [self.made.steps[0].below[0], self.made.steps[0].above[0]];
                self.made = self.made.with_part_cut(below, &half);
                // The parts of the first cut keep their places.
                let start = self.made.alone(above);
                self.stage = Stage::Other(Box::new(Realising::onto(start, half.seen_in(&self.mirror))));
                true
            }
            Stage::Other(making) => {
                self.candidates += 1;
                let Some(other) = making.step(ground) else { return true };
                let above = self.made.steps[0].above[0];
                self.made = self.made.with_part_cut(above, &other);
                self.stage = Stage::Done { is_plan: self.made.all_fit() };
                false
            }
            Stage::Done { .. } => false,
        }
    }

    fn take_found(&mut self) -> Vec<Partition> {
        let is_plan = matches!(self.stage, Stage::Done { is_plan: true });
        if is_plan { vec![self.made.clone()] } else { Vec::new() }
    }

    fn candidates(&self) -> u64 {
        match &self.stage {
            Stage::One(beam) => self.candidates + beam.candidates(),
            _ => self.candidates,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::tests::wish;
    use crate::mirror::reflected;
    use crate::portfolio;
    use crate::proxy::tests::hollow_ball;
    use seamwright_mesh::vec3;

    #[test]
    fn both_halves_of_a_ball_are_cut_alike() {
        let ground = Ground::new(&hollow_ball(24), &wish("180x180x120"));
        let normal = vec3::unit([0.2, 0.3, 0.9]).expect("a direction");
        let mirror = Plane { normal, offset_mm: 0.0 };
        let settings = portfolio::settings(1, 0, ground.own_frame);
        let mut halves = Halves::new(&ground.whole, mirror, settings, 13, Prefer::Fewest, &ground)
            .expect("it parts a ball");
        while halves.step(&ground) {}
        let plan = halves.take_found().pop().expect("a plan");
        assert!(plan.all_fit() && plan.n_pieces() > 2 && plan.n_pieces().is_multiple_of(2));
        // Every piece has another that it is mirrored onto, by volume and middle; rounding moves cuts by 0.01 mm.
        let of = |i: usize| {
            let mass = plan.parts[i].solid.mass();
            (plan.parts[i].volume_mm3, mass.centre_mm)
        };
        let pieces: Vec<_> = plan.pieces().into_iter().map(of).collect();
        for (volume_mm3, at_mm) in &pieces {
            let seen_mm = reflected(*at_mm, &mirror);
            let is_its_like = |(other_mm3, there_mm): &&(f64, [f64; 3])| {
                vec3::length(vec3::sub(*there_mm, seen_mm)) < 0.5
                    && (other_mm3 / volume_mm3 - 1.0).abs() < 0.01
            };
            assert!(pieces.iter().any(|piece| is_its_like(&piece)), "{at_mm:?}");
        }
    }
}
