//! A plan made better without starting anew: one plane is slid or tilted, what hangs on it is cut
//! again, and the better of the two is kept.
//!
//! How: a move picks a step of the plan, turns its plane a little about a line through the section or
//! leaves it as it is, and puts it to an offset near by at which the line is shortest or at one drawn. What
//! fits after that is not cut further, so moves find plans with fewer pieces too; mostly they find shorter
//! seams and poses that need no supports.
//! One step is one cut. Moves are drawn from a seed: the result is the same wherever it runs.
//! Not here: cutting again (`realise.rs`).

use crate::draw::Draw;
use crate::ground::Ground;
use crate::partition::Partition;
use crate::realise::Realising;
use crate::sweep::Ready;
use seamwright_mesh::{Plane, vec3};

/// Moves that slide a plane without turning it, of all.
const SLIDES: f64 = 0.4;

/// The most a plane is turned, in degrees: small turns are drawn more often (ours).
const MOST_TURN_DEG: f64 = 15.0;

/// The most a plane is slid, as a share of the part's extent across it (ours).
const MOST_SLIDE: f64 = 0.2;

/// Moves tried on any plan, and for each of its cuts (ours).
const N_MOVES: [usize; 2] = [30, 8];

/// The same on the item itself, where each costs many times as much.
const N_STANDING: [usize; 2] = [12, 0];

/// On finer parts lines are not looked at: that costs more than the cut (ours).
const FEW: usize = 10_000;

/// Where pieces must be held, as many moves as this, of all, are made on cuts beside them.
const BESIDE_HELD: f64 = 0.75;

/// Plans being improved, one after the other.
pub struct Improving {
    n_moves: [usize; 2],
    plans: std::vec::IntoIter<Partition>,
    at_work: Option<Walk>,
    best: Option<Partition>,
    draw: Draw,
}

/// One plan on its way.
struct Walk {
    plan: Partition,
    n_left: usize,
    remade: Option<Realising>,
}

impl Improving {
    /// Will improve plans made on one ground, all of whose pieces fit.
    pub fn new(plans: Vec<Partition>, draw: Draw) -> Self {
        Self { n_moves: N_MOVES, plans: plans.into_iter(), at_work: None, best: None, draw }
    }

    /// Will try a few moves on the item itself that let pieces stand: on a stand-in more of them do.
    pub fn standing(plan: Partition, draw: Draw) -> Self {
        Self { n_moves: N_STANDING, ..Self::new(vec![plan], draw) }
    }

    /// The best so far.
    pub fn take_best(&mut self) -> Option<Partition> {
        let walked = self.at_work.take().map(|walk| walk.plan);
        self.plans.by_ref().chain(walked).for_each(|plan| keep(&mut self.best, plan));
        self.best.take()
    }

    /// Makes one cut; whether there is more to do.
    pub fn step(&mut self, ground: &Ground) -> bool {
        let Some(walk) = &mut self.at_work else {
            let Some(plan) = self.plans.next() else { return false };
            let n_left = self.n_moves[0] + self.n_moves[1] * plan.steps.len();
            self.at_work = Some(Walk { plan, n_left, remade: None });
            return true;
        };
        if let Some(remade) = &mut walk.remade {
            if let Some(made) = remade.step(ground) {
                walk.remade = None;
                if made.outline().all_fit && made.outline().is_better_than(&walk.plan.outline()) {
                    walk.plan = made;
                }
            }
            return true;
        }
        if walk.n_left == 0 || walk.plan.steps.is_empty() {
            if let Some(walk) = self.at_work.take() {
                keep(&mut self.best, walk.plan);
            }
            return true;
        }
        walk.n_left -= 1;
        let step = drawn_step(&walk.plan, &mut self.draw);
        if let Some(plane) = moved(&walk.plan, step, &mut self.draw) {
            walk.remade = Some(Realising::changed(ground, walk.plan.clone(), step, plane));
        }
        true
    }
}

/// The step to change: mostly one that made a piece which must be held, where there is one.
fn drawn_step(plan: &Partition, draw: &mut Draw) -> usize {
    let is_held = |&part: &usize| plan.parts[part].is_held();
    let made_held = |&step: &usize| {
        let step = &plan.steps[step];
        step.below.iter().chain(&step.above).any(is_held)
    };
    let all: Vec<usize> = (0..plan.steps.len()).collect();
    let beside: Vec<usize> = all.iter().copied().filter(made_held).collect();
    let among = if !beside.is_empty() && draw.unit() < BESIDE_HELD { &beside } else { &all };
    among[draw.below(among.len())]
}

fn keep(best: &mut Option<Partition>, plan: Partition) {
    if best.as_ref().is_none_or(|best| plan.outline().is_better_than(&best.outline())) {
        *best = Some(plan);
    }
}

/// The plane of a step elsewhere; `None` where the draw leads nowhere.
fn moved(plan: &Partition, step: usize, draw: &mut Draw) -> Option<Plane> {
    let Partition { parts, steps, planes, .. } = plan;
    let part = &parts[steps[step].whole];
    let plane = planes[steps[step].plane];
    let mut normal = plane.normal;
    let (low, high) = part.box_mm;
    let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
    let pivot_mm = vec3::sub(middle, vec3::scale(normal, plane.distance_mm(middle)));
    if draw.unit() > SLIDES {
        let (u, v) = vec3::frame_of(normal);
        let about_rad = draw.unit() * std::f64::consts::TAU;
        let turn_rad = (MOST_TURN_DEG * libm::pow(draw.unit(), 2.0)).to_radians();
        let aside = vec3::add(vec3::scale(u, libm::cos(about_rad)), vec3::scale(v, libm::sin(about_rad)));
        let turned = vec3::add(normal, vec3::scale(aside, libm::tan(turn_rad)));
        normal = vec3::unit(turned)?;
    }
    let at_mm = vec3::dot(normal, pivot_mm);
    let along = part.hull.points_mm.iter().map(|&p| vec3::dot(normal, p));
    let [lowest, highest] = along.fold([f64::MAX, f64::MIN], |[l, h], c| [l.min(c), h.max(c)]);
    let reach_mm = MOST_SLIDE * draw.unit() * (highest - lowest);
    let (from, to) = ((at_mm - reach_mm).max(lowest), (at_mm + reach_mm).min(highest));
    let drawn_mm = from + draw.unit() * (to - from);
    let choice = draw.below(4);
    let mut offset_mm = drawn_mm;
    if choice < 3 && part.solid.n_triangles() <= FEW {
        let ready = Ready::new(&part.solid, &[])?;
        let minima = ready.along(normal, &|_, _| 1.0).profile().minima_mm(from, to);
        offset_mm = minima.get(choice).copied().unwrap_or(drawn_mm);
    }
    Some(Plane { normal, offset_mm })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proxy::tests::hollow_ball;
    use seamwright_bed::Bed;

    /// A ball cut off its middle, with a second cut that is needed only because of that.
    fn clumsy(ground: &Ground) -> Partition {
        let look = |solid| ground.look(solid);
        let mut plan = ground.whole.clone();
        for (whole, normal, offset_mm) in [(0, [0.0, 0.0, 1.0], 30.0), (1, [1.0, 0.0, 0.0], 0.0)] {
            plan.cut_near(whole, Plane { normal, offset_mm }, &look).expect("it meets the ball");
        }
        plan
    }

    #[test]
    fn an_improved_plan_is_never_worse_and_the_same_each_time() {
        let ball = hollow_ball(24);
        let ground = Ground::new(&ball, &[Bed::parse("250x250x125").expect("a bed")], 1);
        let start = clumsy(&ground);
        let improve = || {
            let mut improving = Improving::new(vec![start.clone()], Draw::new(1, 0));
            while improving.step(&ground) {}
            improving.take_best().expect("there was a plan")
        };
        let (once, again) = (improve(), improve());
        assert!(start.all_fit() && once.all_fit());
        assert!(once.outline().is_better_than(&start.outline()), "{:?}", once.outline());
        assert_eq!(once.cuts(), again.cuts());
        let volume_mm3: f64 = once.pieces().iter().map(|&i| once.parts[i].volume_mm3).sum();
        assert!((volume_mm3 / ball.volume_mm3() - 1.0).abs() < 1e-6);
        // Elsewhere it is made of its cuts alone, and must be the same to the origin of each face.
        let kept = once.with_planes_by_use();
        let mut made = ground.whole.clone();
        assert!(kept.cuts().iter().all(|cut| made.replay(cut, &|solid| ground.look(solid))));
        assert_eq!(made.planes, kept.planes);
        assert!(made.pieces().iter().all(|&i| made.parts[i].solid == kept.parts[i].solid));
    }

    #[test]
    fn what_is_stopped_gives_the_best_so_far() {
        let ground = Ground::new(&hollow_ball(24), &[Bed::parse("250x250x125").expect("a bed")], 1);
        let start = clumsy(&ground);
        for n_steps in [0, 1, 2, 9] {
            let mut improving = Improving::new(vec![start.clone()], Draw::new(1, 0));
            for _ in 0..n_steps {
                improving.step(&ground);
            }
            let best = improving.take_best().expect("there was a plan");
            assert!(!start.outline().is_better_than(&best.outline()), "after {n_steps} steps");
        }
    }
}
