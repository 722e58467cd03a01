//! The search for a first plan, as rounds of tasks.
//!
//! How: round 0 makes seeds: the plain grid, grids in the item's principal frame, and parallel
//! cuts along a few directions. Later rounds run beams (`beam.rs`) with settings drawn from the
//! seed. A round is a list of tasks fixed by the state at its start; nothing is shared inside a
//! round; results merge in task order. So the result is the same for any number of threads or
//! workers, and the best so far can be had after every round.
//! Plans are compared by their [`crate::outline::Outline`]; only the one that is kept must be had as a
//! whole, so a task that ran elsewhere sends its outline and its cuts.
//! An item of very many triangles is searched on a copy (`trial.rs`); each round's winner is cut on the item.
//! Never worse than the plain grid: the grid is the first plan, and a plan replaces it only with
//! no more pieces. Where the maker marked something, the first plan is what stays cut by the grid's planes, and
//! a plan may have some more pieces. A plan made before is cut again where it holds and taken if it is better.
//! Of all that is found a few plans are kept to be chosen instead (`choice.rs`).
//! Not here: threads and clocks (the caller runs tasks and decides when to stop), how tasks run
//! (`task.rs`).

use crate::bound::Proof;
use crate::choice::Choice;
use crate::cuts::Cut;
use crate::grid::{Cutting, GridMaking, NoGrid, PlainGrid};
use crate::ground::Ground;
use crate::marks;
use crate::outline::{Outline, Prefer};
use crate::partition::Partition;
use crate::remaking::{Remade, Remaking};
use crate::round;
use crate::task::{Heard, Running, Task, Told};
use seamwright_mesh::{Plane, vec3};
use std::sync::Arc;

/// Where the maker marked something, a plan may have as many times the pieces of the plain grid beside what
/// stays (ours).
const MARKED_PIECES: usize = 2;

/// First cuts turned by less against each other - 15 degrees - and nearer are alike (ours).
const LIKE: f64 = 0.966;
const LIKE_MM: f64 = 15.0;

/// The search for one item.
pub struct Search {
    ground: Arc<Ground>,
    /// Counted from 0; the next round to run.
    round: usize,
    grid: PlainGrid,
    best: Option<Remade>,
    /// The best of what begins with another cut than the best plan: one that is cut otherwise may end better.
    other: Option<(Outline, Vec<Cut>)>,
    proof: Proof,
    candidates: u64,
    choice: Choice,
}

/// The plain grid being cut, with which a search begins.
pub struct Beginning {
    ground: Arc<Ground>,
    grid: GridMaking,
    /// The grid once made.
    made: Option<PlainGrid>,
    /// What stays being cut by the grid's planes, where something is marked.
    marked: Option<Cutting>,
    first: Option<Partition>,
    /// A plan made before being cut again, and how many of its cuts are made.
    begun: Option<(Partition, usize)>,
    /// It on the item.
    remaking: Option<Remaking>,
}

impl Beginning {
    /// Begins a search on some ground.
    ///
    /// # Errors
    /// [`NoGrid::TooManyCells`]: then there is no plan to improve.
    pub fn new(ground: Arc<Ground>) -> Result<Self, NoGrid> {
        let grid = GridMaking::new(&ground)?;
        Ok(Self { grid, ground, made: None, marked: None, first: None, begun: None, remaking: None })
    }

    /// Planes cut, and planes in all, about.
    pub fn progress(&self) -> (usize, usize) {
        self.grid.progress()
    }

    /// Makes one cut; the search once all are made.
    pub fn step(&mut self) -> Option<Search> {
        let ground = self.ground.clone();
        if let Some(remaking) = &mut self.remaking {
            return if remaking.step() { None } else { self.end() };
        }
        if let Some((plan, n_done)) = &mut self.begun {
            let Some(cut) = ground.begun.get(*n_done) else {
                let (plan, _) = self.begun.take()?;
                self.remaking = Some(Remaking::of_plan(&ground, plan.with_planes_by_use()));
                return None;
            };
            *n_done += 1;
            // Where it cannot be made again, what is left is judged all the same.
            let part = marks::part_cut_at(plan, &cut.plane, cut.at_mm);
            if let Some(part) = part.filter(|&part| !plan.parts[part].is_done()) {
                let _ = plan.cut_inside_near(part, cut.plane, &cut.inside_mm, ground.searched().as_ref());
            }
            return None;
        }
        let first = match &mut self.marked {
            Some(cutting) => {
                cutting.step(ground.as_ref());
                Some(cutting.take_done()?).filter(Partition::all_fit)
            }
            None => {
                let grid = self.grid.step(&ground)?;
                let first = [&ground.whole, &grid.partition].into_iter().find(|plan| plan.all_fit()).cloned();
                let planes = grid.partition.planes.clone();
                self.made = Some(grid);
                if !ground.marks.is_empty() {
                    self.marked = Some(Cutting::new(ground.start().clone(), planes).leaving_done());
                    return None;
                }
                first
            }
        };
        self.first = first;
        if ground.begun.is_empty() {
            return self.end();
        }
        self.begun = Some((ground.searched().start().clone(), 0));
        None
    }

    /// The search, with the better of the first plan and the one made before.
    fn end(&mut self) -> Option<Search> {
        let ground = self.ground.clone();
        let grid = self.made.take()?;
        let mut best = self.first.take().map(|plan| Remade { found: (plan.outline(), plan.cuts()), plan });
        let before = self.remaking.take().and_then(Remaking::end).filter(|before| {
            let is_few = before.plan.n_pieces() <= grid.partition.n_pieces() || !ground.marks.is_empty();
            before.plan.all_fit() && is_few
        });
        if let Some(before) = before {
            let is_better =
                |best: &Remade| before.plan.outline().is_better_than(&best.plan.outline(), ground.prefer);
            best = if best.as_ref().is_none_or(is_better) { Some(before) } else { best };
        }
        let proof = Proof::plain(&ground);
        let mut choice = Choice::default();
        if let Some(best) = &best {
            choice.consider(&best.found.0, &best.found.1);
        }
        Some(Search { ground, round: 0, grid, best, other: None, proof, candidates: 0, choice })
    }
}

impl Search {
    /// What its tasks stand on.
    pub fn ground(&self) -> &Arc<Ground> {
        &self.ground
    }

    /// The plain grid.
    pub fn grid(&self) -> &PlainGrid {
        &self.grid
    }

    /// Lets go of what the pieces of the plain grid are like, once that is measured; how many there are stays.
    pub fn forget_grid(&mut self) {
        self.grid.partition.parts.clear();
    }

    /// The best plan so far; `None` only where the beds are too small for any cell of the grid.
    pub fn best(&self) -> Option<&Partition> {
        self.best.as_ref().map(|best| &best.plan)
    }

    /// The same; where there is none, the plain grid all the same.
    pub fn best_or_grid(&self) -> &Partition {
        self.best().unwrap_or(&self.grid.partition)
    }

    /// The least number of pieces proved so far, and why.
    pub fn proof(&self) -> &Proof {
        &self.proof
    }

    /// Plans to choose beside the best.
    pub fn others(&self) -> Vec<&(Outline, Vec<Cut>)> {
        self.best.as_ref().map_or(Vec::new(), |best| self.choice.beside(&best.found.0))
    }

    /// The next round to run, counted from 0.
    pub fn round(&self) -> usize {
        self.round
    }

    /// Planes looked at, each with the lumps it leaves, how both sides fit and what its line costs.
    pub fn candidates(&self) -> u64 {
        self.candidates
    }

    /// The tasks of the next round.
    pub fn tasks(&self) -> Vec<Task> {
        if self.ground.start().all_fit() {
            return Vec::new();
        }
        let best = self.best.as_ref().map_or(&[][..], |best| &best.found.1);
        let other = self.other.as_ref().map(|(_, cuts)| &cuts[..]);
        round::tasks(self.ground.searched(), self.round, best, other)
    }

    /// Pieces a result of the next round must stay below: one with as many as the best, each that must be
    /// held there counted twice, may still be better; where only seams count, one with as many as the grid.
    pub fn limit(&self) -> usize {
        let counts = |best: &&Outline| self.ground.prefer != Prefer::Hidden && best.chalked_cm() == 0;
        let best = self.best.as_ref().map(|best| &best.found.0).filter(counts);
        let at_most = best.map_or(usize::MAX, |best| best.n_pieces + best.n_held);
        at_most.min(self.most_pieces()) + 1
    }

    /// Begins one task; it depends on nothing but the state at the round's start.
    pub fn start(&self, task: &Task) -> Running {
        Running::new(self.ground.searched().clone(), task, self.limit())
    }

    /// Ends the round with what is told of its results, in task order. Returns which of them is the
    /// new best plan, if one is; the caller hands it to [`Search::take`].
    pub fn merge(&mut self, results: &[Heard]) -> Option<usize> {
        self.round += 1;
        let mut best = self.best.as_ref().map(|best| best.found.0);
        let mut winner = None;
        let mut plans: Vec<(Outline, Vec<Cut>)> = self.best.iter().map(|best| best.found.clone()).collect();
        plans.extend(self.other.take());
        for (index, found) in results.iter().enumerate() {
            self.candidates += found.candidates;
            let found = match &found.told {
                Some(Told::Plan(outline, cuts)) => {
                    if outline.n_pieces <= self.most_pieces() {
                        self.choice.consider(outline, cuts);
                    }
                    plans.push((*outline, cuts.clone()));
                    outline
                }
                Some(Told::Bound(proof)) => {
                    if proof.pieces_at_least() > self.proof.pieces_at_least() {
                        self.proof = proof.clone();
                    }
                    continue;
                }
                None => continue,
            };
            let prefer = self.ground.prefer;
            let prefers = best.as_ref().is_none_or(|best| found.is_better_than(best, prefer));
            if found.all_fit && found.n_pieces <= self.most_pieces() && prefers {
                best = Some(*found);
                winner = Some(index);
            }
        }
        self.other = other_of(plans, self.ground.prefer);
        winner
    }

    /// Keeps the winner of a round, the same whether it was made here or again of its cuts. Where it was found on a
    /// copy and is no better plan on the item, the best stays.
    pub fn take(&mut self, winner: Remade) {
        let outline = winner.plan.outline();
        let is_few = outline.n_pieces <= self.most_pieces();
        let prefers = |best: &Remade| outline.is_better_than(&best.plan.outline(), self.ground.prefer);
        let holds = || outline.all_fit && is_few && self.best.as_ref().is_none_or(prefers);
        if Arc::ptr_eq(self.ground.searched(), &self.ground) || holds() {
            self.best = Some(Remade { plan: winner.plan.with_planes_by_use(), ..winner });
        }
    }

    /// Pieces no plan may have more of.
    fn most_pieces(&self) -> usize {
        let n_grid = self.grid.partition.n_pieces();
        if self.ground.marks.is_empty() {
            return n_grid;
        }
        MARKED_PIECES * n_grid + self.ground.start().n_pieces()
    }
}

/// The best of the plans that do not begin with a cut like that of the best of all.
fn other_of(plans: Vec<(Outline, Vec<Cut>)>, prefer: Prefer) -> Option<(Outline, Vec<Cut>)> {
    let mut plans: Vec<(Outline, Vec<Cut>)> =
        plans.into_iter().filter(|(outline, cuts)| outline.all_fit && !cuts.is_empty()).collect();
    plans.sort_by(|(a, _), (b, _)| a.order(b, prefer));
    let best = plans.first()?.1[0].plane;
    let is_like = |plane: &Plane| {
        let along = vec3::dot(plane.normal, best.normal);
        along.abs() > LIKE && (plane.offset_mm - best.offset_mm * along.signum()).abs() < LIKE_MM
    };
    plans.into_iter().find(|(_, cuts)| !is_like(&cuts[0].plane))
}
