//! A finished plan's planes moved by some mm and degrees on the item itself, where the lines they leave can be
//! measured: a stand-in of few triangles knows neither a rivet's rim nor how far off it a line may pass.
//!
//! How: step by step of the plan the lines of drawn planes near by are weighed; the cheapest few are made, with all
//! that hangs on them, until one makes the better plan; then all once more, as what was moved may let others be
//! moved. One step weighs one line or makes one cut.
//! Not here: moves that change more (`improve.rs`).

use crate::draw::Draw;
use crate::frames;
use crate::ground::Ground;
use crate::outline::Prefer;
use crate::partition::{Partition, Step};
use crate::realise::Realising;
use seamwright_mesh::{Plane, vec3};

/// Planes weighed for each cut: as many as look at so many triangles, between a few and many; and how many of the
/// cheapest are made (ours).
const N_LOOKED_AT: usize = 16_000_000;
const N_WEIGHED: [usize; 2] = [60, 600];
const N_MADE: usize = 6;

/// Times all cuts are looked at (ours).
const N_PASSES: usize = 4;

/// How far a plane is slid and turned at most (ours).
const SLIDE_MM: f64 = 8.0;
const TURN_DEG: f64 = 5.0;

/// One in three of these by as many times more (ours).
const FAR: f64 = 3.0;

/// A line that costs less by no more than this is not worth a cut, mm of plain line (ours).
const WORTH_MM: f64 = 2.0;

/// A plan at work.
pub struct Fining {
    plan: Option<Partition>,
    /// Steps still to be looked at, and the one at work.
    steps: std::vec::IntoIter<usize>,
    at_work: Option<Weighing>,
    n_passes: usize,
    /// Whether some plane was moved in this pass.
    is_moved: bool,
    draw: Draw,
    prefer: Prefer,
    candidates: u64,
}

/// The planes near that of one step.
struct Weighing {
    step: usize,
    /// Points inside the regions it cuts alone.
    inside_mm: Vec<[f64; 3]>,
    cost_mm: f64,
    n_left: usize,
    /// Planes whose lines cost less, with what they cost.
    cheaper: Vec<(f64, Plane)>,
    making: Option<Realising>,
}

impl Fining {
    /// Will move the planes of a plan made on the item, but for those that stay.
    pub fn new(plan: Partition, draw: Draw, prefer: Prefer) -> Self {
        let steps: Vec<usize> = (plan.n_kept..plan.steps.len()).collect();
        let (steps, at_work) = (steps.into_iter(), None);
        Self {
            plan: Some(plan),
            steps,
            at_work,
            n_passes: N_PASSES,
            is_moved: false,
            draw,
            prefer,
            candidates: 0,
        }
    }

    /// The plan as it is by now.
    pub fn take_plan(&mut self) -> Option<Partition> {
        self.plan.take()
    }

    /// Planes looked at so far.
    pub fn candidates(&self) -> u64 {
        self.candidates
    }

    /// One step; whether there is more to do.
    pub fn step(&mut self, ground: &Ground) -> bool {
        let Some(plan) = &mut self.plan else { return false };
        let Some(work) = &mut self.at_work else {
            // A plan made better may have fewer steps.
            let Some(step) = self.steps.next().filter(|&step| step < plan.steps.len()) else {
                // What was moved may let others be moved.
                self.n_passes = self.n_passes.saturating_sub(1);
                if self.n_passes == 0 || !std::mem::take(&mut self.is_moved) {
                    return false;
                }
                self.steps = (plan.n_kept..plan.steps.len()).collect::<Vec<_>>().into_iter();
                return true;
            };
            let Step { whole, plane, .. } = plan.steps[step];
            let n_triangles = plan.parts[whole].solid.n_triangles();
            let n_left = (N_LOOKED_AT / n_triangles).clamp(N_WEIGHED[0], N_WEIGHED[1]);
            let inside_mm = plan.inside_mm(&plan.steps[step]);
            let cost_mm = cost_mm(plan, whole, &plan.planes[plane], &inside_mm, ground);
            let (cheaper, making) = (Vec::new(), None);
            self.at_work = Some(Weighing { step, inside_mm, cost_mm, n_left, cheaper, making });
            return true;
        };
        self.candidates += 1;
        if let Some(making) = &mut work.making {
            if let Some(made) = making.step(ground) {
                work.making = None;
                let outline = made.outline();
                if outline.all_fit && outline.is_better_than(&plan.outline(), self.prefer) {
                    *plan = made;
                    self.is_moved = true;
                    self.at_work = None;
                }
            }
            return true;
        }
        if work.n_left > 0 {
            work.n_left -= 1;
            if let Some(plane) = near(plan, work.step, &mut self.draw) {
                let whole = plan.steps[work.step].whole;
                let cost_mm = cost_mm(plan, whole, &plane, &work.inside_mm, ground);
                if cost_mm < work.cost_mm - WORTH_MM {
                    work.cheaper.push((cost_mm, plane));
                }
            }
            if work.n_left == 0 {
                work.cheaper.sort_by(|a, b| b.0.total_cmp(&a.0));
                let n_dear = work.cheaper.len().saturating_sub(N_MADE);
                work.cheaper.drain(..n_dear);
            }
            return true;
        }
        match work.cheaper.pop() {
            Some((_, plane)) => {
                work.making = Some(Realising::changed(ground, plan.clone(), work.step, plane));
            }
            None => self.at_work = None,
        }
        true
    }
}

/// What the line of a plane through a part costs; without end where it meets no region that holds a point.
fn cost_mm(plan: &Partition, whole: usize, plane: &Plane, inside_mm: &[[f64; 3]], ground: &Ground) -> f64 {
    plan.line_inside(whole, plane, inside_mm, ground).map_or(f64::INFINITY, |line| line.cost_mm)
}

/// The plane of a step a little aside, turned about the middle of what it cuts.
fn near(plan: &Partition, step: usize, draw: &mut Draw) -> Option<Plane> {
    let plane = plan.planes[plan.steps[step].plane];
    let pivot_mm = plan.parts[plan.steps[step].whole].pivot_mm(&plane);
    // One in three farther away.
    let far = if draw.unit() < 1.0 / 3.0 { FAR } else { 1.0 };
    let (side_rad, by_deg) = (draw.unit() * std::f64::consts::TAU, far * TURN_DEG * draw.unit());
    let slide_mm = far * SLIDE_MM * (2.0 * draw.unit() - 1.0);
    // Every other one only slides.
    let by_deg = if draw.unit() < 0.5 { 0.0 } else { by_deg };
    let normal = frames::leant(plane.normal, side_rad, by_deg.to_radians())?;
    Some(Plane { normal, offset_mm: vec3::dot(normal, pivot_mm) + slide_mm })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::tests::grooved;
    use crate::ground::tests::wish;

    #[test]
    fn a_plane_beside_a_groove_is_moved_into_it_and_the_plan_is_never_worse() {
        // 60 mm across the groove, 120 along it: in two halves of 30 mm it fits on its side.
        let ground = Ground::new(&grooved(-8.0), &wish("140x50x140"));
        let beside = Plane { normal: [1.0, 0.0, 0.0], offset_mm: 33.0 };
        let mut plan = ground.whole.clone();
        plan.cut_near(0, beside, &ground).expect("it meets the block");
        assert!(plan.all_fit());
        let fined = |seed: u64| {
            let mut fining = Fining::new(plan.clone(), Draw::new(seed, 0), Prefer::Fewest);
            while fining.step(&ground) {}
            fining.take_plan().expect("a plan was given")
        };
        for seed in 1..5 {
            let (made, again) = (fined(seed), fined(seed));
            assert_eq!(made.cuts(), again.cuts());
            assert!(made.all_fit() && made.n_pieces() == 2);
            assert!(made.cost_mm() < plan.cost_mm() - 10.0, "{} of {} mm", made.cost_mm(), plan.cost_mm());
        }
    }
}
