//! A plan made better without starting anew: one plane is slid or tilted and what hangs on it is cut
//! again, or a part is cut otherwise; the better of the two is kept.
//!
//! How: where some pieces of a part may be one too many, or must be held, a small beam along drawn
//! directions looks for fewer, and on a longer walk for cheaper lines with as many. A move picks a step of the plan,
//! turns its plane a little about a line through the section or leaves it as it is, and puts it to an offset near by
//! at which the line is shortest or at one drawn. What fits after that is not cut further, so moves find plans with
//! fewer pieces too; mostly they find shorter seams and poses that need no supports.
//! One step is one cut. Moves are drawn from a seed: the result is the same wherever it runs.
//! Not here: cutting again (`realise.rs`).

use crate::beam::Beam;
use crate::draw::Draw;
use crate::estimate;
use crate::few::{self, Few};
use crate::frames;
use crate::ground::Ground;
use crate::outline::Prefer;
use crate::partition::Partition;
use crate::portfolio;
use crate::realise::Realising;
use crate::seek::Seek;
use crate::sweep;
use seamwright_mesh::{Plane, vec3};

/// Moves that slide a plane without turning it, of those made without looking.
const SLIDES: f64 = 0.4;

/// Moves for which lines are looked at first, of all; turns looked at for such a move, lines kept of each, and of
/// how many of the cheapest one is drawn (ours).
const LOOKS: f64 = 0.75;
const N_TURNS: usize = 6;
const N_MINIMA: usize = 2;
const N_CHEAPEST: usize = 3;

/// Cosine of the most a plane is turned into one along a hollow: 25 degrees (ours).
const HOLLOW_ALONG: f64 = 0.906;

/// The most a plane is turned, in degrees: small turns are drawn more often (ours).
const MOST_TURN_DEG: f64 = 15.0;

/// The most a plane is slid, as a share of the part's extent across it (ours).
const MOST_SLIDE: f64 = 0.2;

/// Moves tried on any plan, and for each of its cuts (ours).
const N_MOVES: [usize; 2] = [30, 8];

/// As many times more on the best plan of earlier rounds (ours).
const LONGER: usize = 2;

/// The same on the item itself, where each costs many times as much.
const N_STANDING: [usize; 2] = [12, 0];

/// On finer parts lines are not looked at: that costs more than the cut (ours).
const FEW: usize = 10_000;

/// Where pieces must be held, as many moves as this, of all, are made on cuts beside them.
const BESIDE_HELD: f64 = 0.75;

/// Parts cut otherwise on any plan, and the most pieces such a part has (ours).
const N_OTHERWISE: usize = 6;
const MOST_OTHERWISE: usize = 4;

/// And where cheaper lines with as many pieces are looked for (ours).
const MOST_CHEAPER: usize = 3;
const N_CHEAPER: usize = 8;

/// Parts cut into no more pieces than this are asked whether they can be fewer.
const MOST_ASKED: usize = few::MOST + 1;

/// As many times more moves are tried on a stand-in where some pieces are held (ours).
const HELD_MOVES: usize = 3;

/// Where a piece made by a cut is held, as many moves of that cut turn it under the piece.
const STOOD: f64 = 0.5;

/// Cosine of the most such a turn is: 60 degrees (ours).
const LEAST_ALONG: f64 = 0.5;

/// And as far either way it is slid, mm (ours).
const STOOD_SLIDE_MM: f64 = 20.0;

/// Plans being improved, one after the other.
pub struct Improving {
    n_moves: [usize; 2],
    n_otherwise: usize,
    plans: std::vec::IntoIter<Partition>,
    at_work: Option<Walk>,
    /// A plan with fewer pieces than that at work, some of which must be held: it is walked from too.
    fewer: Option<Partition>,
    best: Option<Partition>,
    /// Parts of no more pieces are asked whether they can be fewer, each once.
    most_asked: usize,
    /// Whether some parts are cut anew along cheaper lines.
    is_longer: bool,
    draw: Draw,
    prefer: Prefer,
    candidates: u64,
}

/// One plan on its way.
struct Walk {
    plan: Partition,
    n_left: usize,
    n_otherwise: usize,
    /// Parts still to be asked whether they can be fewer pieces.
    to_ask: Vec<usize>,
    trial: Option<Trial>,
}

/// A change being tried.
enum Trial {
    /// A plane moved.
    Moved(Box<Realising>),
    /// This part cut otherwise, or into fewer pieces, if that can be.
    Otherwise(usize, Box<dyn Seek>),
}

impl Improving {
    /// Will improve plans made on one ground, all of whose pieces fit.
    pub fn new(plans: Vec<Partition>, draw: Draw, prefer: Prefer) -> Self {
        let n_otherwise = N_OTHERWISE;
        Self {
            n_moves: N_MOVES,
            n_otherwise,
            plans: plans.into_iter(),
            at_work: None,
            fewer: None,
            best: None,
            most_asked: 0,
            is_longer: false,
            draw,
            prefer,
            candidates: 0,
        }
    }

    /// Will try more of all on one plan that was improved before, and may ask its parts whether they can be fewer.
    pub fn longer(plan: Partition, draw: Draw, prefer: Prefer, asks: bool) -> Self {
        let n_moves = N_MOVES.map(|n| LONGER * n);
        let n_otherwise = LONGER * N_OTHERWISE + N_CHEAPER;
        let most_asked = if asks { MOST_ASKED } else { 0 };
        let is_longer = true;
        Self { n_moves, n_otherwise, most_asked, is_longer, ..Self::new(vec![plan], draw, prefer) }
    }

    /// Will try a few moves on the item itself that let pieces stand: on a stand-in more of them do.
    pub fn standing(plan: Partition, draw: Draw, prefer: Prefer) -> Self {
        Self { n_moves: N_STANDING, n_otherwise: 0, most_asked: 0, ..Self::new(vec![plan], draw, prefer) }
    }

    /// The best so far.
    pub fn take_best(&mut self) -> Option<Partition> {
        let prefer = self.prefer;
        let walked = self.at_work.take().map(|walk| walk.plan);
        self.plans
            .by_ref()
            .chain(walked)
            .chain(self.fewer.take())
            .for_each(|plan| keep(&mut self.best, plan, prefer));
        self.best.take()
    }

    /// Planes cut or looked at so far.
    pub fn candidates(&self) -> u64 {
        self.candidates
    }

    /// Makes one cut; whether there is more to do.
    pub fn step(&mut self, ground: &Ground) -> bool {
        let prefer = self.prefer;
        let Some(walk) = &mut self.at_work else {
            let Some(plan) = self.plans.next().or_else(|| self.fewer.take()) else { return false };
            let n_moves = self.n_moves[0] + self.n_moves[1] * (plan.steps.len() - plan.n_kept);
            let is_cheap = self.n_otherwise > 0;
            let n_left = if is_cheap && plan.n_held() > 0 { HELD_MOVES * n_moves } else { n_moves };
            let to_ask = to_ask(&plan, self.most_asked);
            self.at_work = Some(Walk { plan, n_left, n_otherwise: self.n_otherwise, to_ask, trial: None });
            return true;
        };
        if let Some(trial) = &mut walk.trial {
            let made = match trial {
                Trial::Moved(remade) => {
                    self.candidates += 1;
                    remade.step(ground).map(|made| vec![made])
                }
                Trial::Otherwise(part, seeking) => (!seeking.step(ground)).then(|| {
                    self.candidates += seeking.candidates();
                    let found = seeking.take_found().into_iter();
                    found.map(|found| walk.plan.with_part_cut(*part, &found)).collect()
                }),
            };
            if let Some(made) = made {
                walk.trial = None;
                let n_before = walk.plan.n_pieces();
                let fewer = made.into_iter().filter_map(|made| walk.consider(made, prefer));
                self.fewer = self.fewer.take().or(fewer.last());
                if walk.plan.n_pieces() < n_before {
                    walk.to_ask = to_ask(&walk.plan, self.most_asked);
                }
            }
            return true;
        }
        if let Some(part) = walk.to_ask.pop() {
            let most = walk.plan.pieces_of(part).len() - 1;
            walk.trial =
                Some(Trial::Otherwise(part, Box::new(Few::new(walk.plan.alone(part), most, prefer))));
            return true;
        }
        if walk.n_otherwise > 0 {
            walk.n_otherwise -= 1;
            // The last of a longer walk look for cheaper lines with as many pieces.
            let is_cheaper = self.is_longer && walk.n_otherwise < N_CHEAPER;
            if let Some((part, limit)) = drawn_part(&walk.plan, is_cheaper, &mut self.draw) {
                let settings = portfolio::drawn(&mut self.draw, is_cheaper, ground.own_frame);
                let beam = Beam::new(walk.plan.alone(part), settings, limit, prefer);
                walk.trial = Some(Trial::Otherwise(part, Box::new(beam)));
            }
            return true;
        }
        if walk.n_left == 0 || walk.plan.steps.len() == walk.plan.n_kept {
            if let Some(walk) = self.at_work.take() {
                keep(&mut self.best, walk.plan, prefer);
            }
            return true;
        }
        walk.n_left -= 1;
        let step = drawn_step(&walk.plan, &mut self.draw);
        let stood = (self.draw.unit() < STOOD).then(|| stood(&walk.plan, step, &mut self.draw)).flatten();
        if let Some(plane) = stood.or_else(|| moved(ground, &walk.plan, step, &mut self.draw)) {
            let remade = Realising::changed(ground, walk.plan.clone(), step, plane);
            walk.trial = Some(Trial::Moved(Box::new(remade)));
        }
        true
    }
}

impl Walk {
    /// Keeps a plan if it is better; gives it back if it is not but would be if no piece had to be held.
    fn consider(&mut self, made: Partition, prefer: Prefer) -> Option<Partition> {
        let (outline, own) = (made.outline(), self.plan.outline());
        if outline.all_fit && outline.is_better_than(&own, prefer) {
            self.plan = made;
            return None;
        }
        (outline.all_fit && outline.n_pieces < own.n_pieces).then_some(made)
    }
}

/// Parts that were cut into three pieces up to so many; the last is asked first, that of fewest pieces.
fn to_ask(plan: &Partition, most: usize) -> Vec<usize> {
    let cut = plan.steps.iter().skip(plan.n_kept).map(|step| step.whole);
    let mut parts: Vec<(usize, usize)> = cut.map(|part| (plan.pieces_of(part).len(), part)).collect();
    parts.retain(|(n_pieces, _)| (3..=most).contains(n_pieces));
    parts.sort_unstable_by(|a, b| b.cmp(a));
    parts.into_iter().map(|(_, part)| part).collect()
}

/// A part to cut otherwise and the pieces that must be fewer: one more where some are held.
fn drawn_part(plan: &Partition, is_cheaper: bool, draw: &mut Draw) -> Option<(usize, usize)> {
    let limit = |step: usize| {
        let whole = plan.steps[step].whole;
        let pieces = plan.pieces_of(whole);
        let some_held = pieces.iter().any(|&piece| plan.parts[piece].is_held());
        let limit = pieces.len() + usize::from(some_held || is_cheaper);
        let most = if is_cheaper { MOST_CHEAPER } else { MOST_OTHERWISE };
        (pieces.len() <= most && limit > 2).then_some((whole, limit))
    };
    let all: Vec<(usize, usize)> = (plan.n_kept..plan.steps.len()).filter_map(limit).collect();
    (!all.is_empty()).then(|| all[draw.below(all.len())])
}

/// The step to change: mostly one that made a piece which must be held, where there is one.
fn drawn_step(plan: &Partition, draw: &mut Draw) -> usize {
    let is_held = |&part: &usize| plan.parts[part].is_held();
    let made_held = |&step: &usize| {
        let step = &plan.steps[step];
        step.below.iter().chain(&step.above).any(is_held)
    };
    let all: Vec<usize> = (plan.n_kept..plan.steps.len()).collect();
    let beside: Vec<usize> = all.iter().copied().filter(made_held).collect();
    let among = if !beside.is_empty() && draw.unit() < BESIDE_HELD { &beside } else { &all };
    among[draw.below(among.len())]
}

fn keep(best: &mut Option<Partition>, plan: Partition, prefer: Prefer) {
    if best.as_ref().is_none_or(|best| plan.outline().is_better_than(&best.outline(), prefer)) {
        *best = Some(plan);
    }
}

/// The plane of a step turned square to the way a piece it made is held, so that it stands on the cut.
fn stood(plan: &Partition, step: usize, draw: &mut Draw) -> Option<Plane> {
    let plane = plan.planes[plan.steps[step].plane];
    let made = plan.steps[step].below.iter().chain(&plan.steps[step].above);
    let held: Vec<&usize> = made.filter(|&&part| plan.parts[part].is_held()).collect();
    if held.is_empty() {
        return None;
    }
    let part = &plan.parts[*held[draw.below(held.len())]];
    let mut normal = part.posed.as_ref()?.placement.rows()[2];
    let along = vec3::dot(normal, plane.normal);
    if along.abs() < LEAST_ALONG {
        return None;
    }
    normal = vec3::scale(normal, along.signum());
    let whole = &plan.parts[plan.steps[step].whole];
    let reach_mm = STOOD_SLIDE_MM * (2.0 * draw.unit() - 1.0);
    Some(Plane { normal, offset_mm: vec3::dot(normal, whole.pivot_mm(&plane)) + reach_mm })
}

/// The plane of a step elsewhere: of some turns and slides one of those whose line costs least, or any.
/// `None` where the draw leads nowhere.
fn moved(ground: &Ground, plan: &Partition, step: usize, draw: &mut Draw) -> Option<Plane> {
    let Partition { parts, steps, planes, .. } = plan;
    let part = &parts[steps[step].whole];
    let plane = planes[steps[step].plane];
    let pivot_mm = part.pivot_mm(&plane);
    let share = MOST_SLIDE * draw.unit();
    let looks = part.solid.n_triangles() <= FEW && draw.unit() < LOOKS;
    let n_turns = if looks { N_TURNS } else { 1 };
    let mut found: Vec<(f64, Plane)> = Vec::new();
    let mut normals: Vec<[f64; 3]> = Vec::new();
    for turn in 0..n_turns {
        // The first of several only slides.
        let slides = if looks { turn == 0 } else { draw.unit() < SLIDES };
        normals.push(if slides { plane.normal } else { turned(plane.normal, draw)? });
    }
    if looks {
        let near = |hollow: &&Plane| vec3::dot(hollow.normal, plane.normal).abs() > HOLLOW_ALONG;
        normals.extend(
            ground
                .hollows()
                .iter()
                .filter(near)
                .map(|hollow| vec3::scale(hollow.normal, vec3::dot(hollow.normal, plane.normal).signum())),
        );
    }
    for normal in normals {
        let at_mm = vec3::dot(normal, pivot_mm);
        let [lowest, highest] = estimate::ends_mm(&part.hull.points_mm, normal);
        let reach_mm = share * (highest - lowest);
        let (from, to) = ((at_mm - reach_mm).max(lowest), (at_mm + reach_mm).min(highest));
        if looks {
            let per_mm =
                |triangle: usize, along: [f64; 3]| ground.per_mm(&part.solid, triangle, along, normal);
            let profile = sweep::profile_along(&part.solid, normal, &per_mm);
            let minima = profile.minima_mm(from, to).into_iter().take(N_MINIMA);
            found.extend(minima.map(|offset_mm| (profile.at(offset_mm)[1], Plane { normal, offset_mm })));
        } else {
            found.push((0.0, Plane { normal, offset_mm: from + draw.unit() * (to - from) }));
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.truncate(N_CHEAPEST);
    (!found.is_empty()).then(|| found[draw.below(found.len())].1)
}

/// A direction turned a little.
fn turned(normal: [f64; 3], draw: &mut Draw) -> Option<[f64; 3]> {
    let side_rad = draw.unit() * std::f64::consts::TAU;
    let by_deg = MOST_TURN_DEG * libm::pow(draw.unit(), 2.0);
    frames::leant(normal, side_rad, by_deg.to_radians())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::tests::wish;
    use crate::part::Look;
    use crate::proxy::tests::hollow_ball;

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
        let ground = Ground::new(&ball, &wish("250x250x125"));
        let start = clumsy(&ground);
        let improve = || {
            let mut improving = Improving::new(vec![start.clone()], Draw::new(1, 0), Prefer::Fewest);
            while improving.step(&ground) {}
            improving.take_best().expect("there was a plan")
        };
        let (once, again) = (improve(), improve());
        assert!(start.all_fit() && once.all_fit());
        assert!(once.outline().is_better_than(&start.outline(), Prefer::Fewest), "{:?}", once.outline());
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
    fn a_part_cut_otherwise_leaves_all_else_as_it_was() {
        let ball = hollow_ball(24);
        let ground = Ground::new(&ball, &wish("250x250x125"));
        let look = |solid| ground.look(solid);
        let mut plan = clumsy(&ground);
        // The last part made is cut once more, then the one before it otherwise.
        let last = plan.parts.len() - 1;
        plan.cut_near(last, Plane { normal: [0.0, 1.0, 0.0], offset_mm: 5.0 }, &look).expect("it meets it");
        let mut other = plan.alone(1);
        let plane = Plane { normal: [0.0, 1.0, 0.0], offset_mm: -10.0 };
        other.cut_near(0, plane, &look).expect("it meets the larger part");
        let made = plan.with_part_cut(1, &other);
        // Part 2, the smaller cap, stays whole or cut as it was; of part 1 there are two halves.
        let volume_mm3: f64 = made.pieces().iter().map(|&i| made.parts[i].volume_mm3).sum();
        assert!((volume_mm3 / ball.volume_mm3() - 1.0).abs() < 1e-6);
        assert!(made.steps.iter().any(|step| made.planes[step.plane] == plane));
        let kept = made.with_planes_by_use();
        let mut again = ground.whole.clone();
        assert!(kept.cuts().iter().all(|cut| again.replay(cut, &look)));
        assert_eq!(again.planes, kept.planes);
        assert!(again.pieces().iter().all(|&i| again.parts[i].solid == kept.parts[i].solid));
    }

    #[test]
    fn what_is_stopped_gives_the_best_so_far() {
        let ground = Ground::new(&hollow_ball(24), &wish("250x250x125"));
        let start = clumsy(&ground);
        for n_steps in [0, 1, 2, 9] {
            let mut improving = Improving::new(vec![start.clone()], Draw::new(1, 0), Prefer::Fewest);
            for _ in 0..n_steps {
                improving.step(&ground);
            }
            let best = improving.take_best().expect("there was a plan");
            assert!(
                !start.outline().is_better_than(&best.outline(), Prefer::Fewest),
                "after {n_steps} steps"
            );
        }
    }
}
