//! The tasks of a round, each a machine that is run in small steps.
//!
//! How: a step is one exact cut with its fit, or one direction's sweep: from below a millisecond to
//! some tens on a large item. Who runs a task decides after each step whether to go on, so a worker
//! that shares its thread with messages answers soon. How many steps are taken in a row changes
//! nothing in the result.
//! Not here: which tasks a round has (`round.rs`), what becomes of results (`search.rs`).

mod heard;

use crate::beam::{Beam, Settings};
use crate::bound::Bounding;
use crate::cover::Covering;
use crate::cuts::Cut;
use crate::draw::Draw;
use crate::few::{self, Few};
use crate::fine::Fining;
use crate::frames::Frame;
use crate::grid::{self, Cutting};
use crate::ground::Ground;
use crate::halves::Halves;
use crate::improve::Improving;
use crate::outline::Prefer;
use crate::part::Part;
use crate::partition::Partition;
use crate::portfolio;
use crate::realise::Realising;
use crate::rows::Rows;
use crate::seek::Seek;
use crate::slabs::Slabs;
pub use heard::{Ended, Found, Heard, Told};
use std::sync::Arc;

/// Work that can be done apart from all other work of its round.
#[derive(Debug, Clone)]
pub enum Task {
    /// A grid in some frame.
    Grid(Frame),
    /// Parallel cuts across a direction.
    Slabs([f64; 3]),
    /// A beam.
    Beam(Box<Settings>),
    /// As few pieces as two or three cuts make of it.
    Few,
    /// Rows cut across, fewest pieces in all.
    Rows,
    /// Cut along a mirror plane, both halves alike.
    Halves,
    /// Cut between the boxes of covers.
    Cover,
    /// A plan made of these cuts made better.
    Better {
        /// Its cuts on the item.
        cuts: Vec<Cut>,
        /// How many such tasks there were before it.
        index: usize,
        /// Whether its parts are asked if they can be fewer pieces.
        asks: bool,
    },
    /// A proof that there are no fewer pieces, worth so many cells of the certified fit.
    Bound(u64),
}

/// Draws of plans made better begin past those of beams.
const BETTER_STREAMS: u64 = 1 << 32;

/// A task at work.
pub struct Running {
    /// The item, and what the task tries its cuts on.
    item: Arc<Ground>,
    ground: Arc<Ground>,
    limit: usize,
    /// What is preferred in it; the search takes of what it finds what the maker prefers.
    prefer: Prefer,
    draw: Draw,
    /// Whether parts of a plan that is made better are asked if they can be fewer pieces.
    asks: bool,
    /// Whether it makes a plan of earlier rounds better.
    is_better: bool,
    stage: Stage,
    /// Planes looked at in stages that are over, and cut one a step in the present one.
    candidates: u64,
}

enum Stage {
    Cutting(Cutting),
    Slabs(Slabs),
    /// Plans being looked for on the stand-in.
    Seeking(Box<dyn Seek>),
    Bounding(Box<Bounding>),
    /// A plan's cuts being made on the item again, to know its parts; then on the stand-in.
    Recalling {
        made: Partition,
        cuts: std::vec::IntoIter<Cut>,
    },
    Lowering(Realising),
    /// What a beam found, made better.
    Improving(Improving),
    /// The same cuts on the item.
    Realising {
        making: Realising,
        /// Pieces held on the stand-in.
        n_held: usize,
    },
    /// Pieces that stand on the stand-in alone made to stand on the item.
    Standing(Improving),
    /// Its planes moved a little on the item.
    Fining(Box<Fining>),
    Done(Option<Found>),
}

impl Running {
    /// Begins a task that may end in a partition with fewer than `limit` pieces.
    pub fn new(item: Arc<Ground>, task: &Task, limit: usize) -> Self {
        let (prefer, limit) = match task {
            Task::Beam(settings) => portfolio::preferred(settings.index, item.prefer, limit),
            _ => (item.prefer, limit),
        };
        let ground = item.stand_in().unwrap_or(&item).clone();
        let stage = match task {
            Task::Grid(frame) => {
                let points = ground.hull_points();
                let counts = grid::cell_counts(&points, frame, &ground.beds);
                let least = counts.into_iter().min_by_key(|&n| grid::n_cells(n));
                match least.filter(|&n| grid::n_cells(n) <= grid::MOST_CELLS) {
                    Some(least) => {
                        let planes = grid::planes(&points, frame, least);
                        let cutting = Cutting::new(ground.start().clone(), planes);
                        let is_free = ground.marks.is_empty();
                        Stage::Cutting(if is_free { cutting } else { cutting.leaving_done() })
                    }
                    None => Stage::Done(None),
                }
            }
            Task::Slabs(normal) => Stage::Slabs(Slabs::new(&ground, *normal)),
            Task::Beam(settings) => {
                let start = ground.start().clone();
                let mut settings = portfolio::with_planes(settings.as_ref().clone(), &ground);
                if prefer == Prefer::Hidden {
                    settings.section_weight *= portfolio::HIDDEN_TIMES;
                }
                Stage::Seeking(Box::new(Beam::new(start, settings, limit, prefer)))
            }
            Task::Few => {
                let most = few::MOST.min(limit.saturating_sub(1));
                Stage::Seeking(Box::new(Few::new(ground.start().clone(), most, prefer)))
            }
            Task::Rows => {
                let most = limit.saturating_sub(2);
                Stage::Seeking(Box::new(Rows::new(ground.start().clone(), most, prefer, &ground)))
            }
            Task::Halves => {
                let settings = portfolio::settings(ground.seed, 0, ground.own_frame);
                // What is seen in a mirror names no regions.
                let settings = Settings { takes_partial: false, ..portfolio::with_planes(settings, &ground) };
                let mut mirrors = ground.mirrors().iter();
                let halves = mirrors.find_map(|&mirror| {
                    Halves::new(ground.start(), mirror, settings.clone(), limit, prefer, &ground)
                });
                halves.map_or(Stage::Done(None), |halves| Stage::Seeking(Box::new(halves)))
            }
            Task::Cover => {
                let draw = Draw::new(ground.seed, 0);
                let covering = Covering::new(limit, prefer, draw, &ground);
                covering.map_or(Stage::Done(None), |covering| Stage::Seeking(Box::new(covering)))
            }
            Task::Better { cuts, .. } => {
                let made = item.start().clone();
                let cuts = cuts.iter().skip(made.n_kept).cloned().collect::<Vec<_>>();
                Stage::Recalling { made, cuts: cuts.into_iter() }
            }
            // On the item itself: what holds of a stand-in proves nothing.
            Task::Bound(n_cells) => {
                Stage::Bounding(Box::new(Bounding::new(item.clone(), limit.saturating_sub(1), *n_cells)))
            }
        };
        // Tasks that find the same plan look for its betters in different places.
        let stream = match task {
            Task::Beam(settings) => settings.index as u64 + 1,
            Task::Better { index, .. } => BETTER_STREAMS + *index as u64,
            Task::Grid(_)
            | Task::Slabs(_)
            | Task::Few
            | Task::Rows
            | Task::Halves
            | Task::Cover
            | Task::Bound(_) => 0,
        };
        let draw = Draw::new(ground.seed, stream);
        let asks = matches!(task, Task::Better { asks: true, .. });
        let is_better = matches!(task, Task::Better { .. });
        Self { item, ground, limit, prefer, draw, asks, is_better, stage, candidates: 0 }
    }

    /// Whether it has ended.
    pub fn is_done(&self) -> bool {
        matches!(self.stage, Stage::Done(_))
    }

    /// One step; nothing where it has ended.
    pub fn step(&mut self) {
        let stands_for_itself = self.stands_for_itself();
        self.candidates += u64::from(matches!(
            self.stage,
            Stage::Cutting(_) | Stage::Slabs(_) | Stage::Realising { .. } | Stage::Lowering(_)
        ));
        let next = match &mut self.stage {
            Stage::Cutting(cutting) => {
                cutting.step(self.ground.as_ref());
                cutting.take_done().map(|partition| self.complete(partition))
            }
            Stage::Slabs(slabs) => {
                slabs.step(&self.ground).map(|found| found.map_or(Stage::Done(None), |p| self.complete(p)))
            }
            Stage::Seeking(seeking) => {
                if seeking.step(&self.ground) {
                    None
                } else {
                    let plans = seeking.take_found();
                    Some(self.improve(plans))
                }
            }
            Stage::Bounding(bounding) => {
                (!bounding.step()).then(|| Stage::Done(Some(Found::Bound(bounding.proof().clone()))))
            }
            Stage::Recalling { made, cuts } => match cuts.next() {
                Some(cut) if stands_for_itself => {
                    (!made.replay(&cut, self.item.as_ref())).then_some(Stage::Done(None))
                }
                // Where the parts lie is all that is asked.
                Some(cut) => (!made.replay(&cut, &Part::uncared)).then_some(Stage::Done(None)),
                None => {
                    let plan = made.clone();
                    Some(if stands_for_itself {
                        self.polish(plan)
                    } else {
                        Stage::Lowering(Realising::new(&self.ground, plan))
                    })
                }
            },
            // Where it does not fit there, nothing can be tried on it.
            Stage::Lowering(making) => making
                .step(&self.ground)
                .map(|plan| if plan.all_fit() { self.polish(plan) } else { Stage::Done(None) }),
            Stage::Improving(improving) => {
                if improving.step(&self.ground) {
                    None
                } else {
                    let best = improving.take_best();
                    Some(best.map_or(Stage::Done(None), |plan| self.realise(plan)))
                }
            }
            // What must be held on the stand-in too is held for good.
            Stage::Realising { making, n_held } => {
                let n_held = *n_held;
                let made = making.step(&self.item);
                made.map(|plan| {
                    if plan.all_fit() && plan.n_held() > n_held {
                        Stage::Standing(Improving::standing(plan, self.draw.clone(), self.prefer))
                    } else {
                        self.fine(plan)
                    }
                })
            }
            Stage::Standing(improving) => {
                if improving.step(&self.item) {
                    None
                } else {
                    let best = improving.take_best();
                    Some(best.map_or(Stage::Done(None), |plan| self.fine(plan)))
                }
            }
            Stage::Fining(fining) => {
                if fining.step(&self.item) {
                    None
                } else {
                    Some(Stage::Done(fining.take_plan().map(Found::Plan)))
                }
            }
            Stage::Done(_) => None,
        };
        if let Some(next) = next {
            self.candidates += self.looked_at();
            self.stage = next;
        }
    }

    /// Planes a beam or moves looked at in the present stage.
    fn looked_at(&self) -> u64 {
        match &self.stage {
            Stage::Seeking(seeking) => seeking.candidates(),
            Stage::Improving(improving) | Stage::Standing(improving) => improving.candidates(),
            Stage::Fining(fining) => fining.candidates(),
            _ => 0,
        }
    }

    /// What it found; where it has not ended, what it has so far.
    pub fn end(self) -> Ended {
        let candidates = self.candidates + self.looked_at();
        Ended { found: self.found(), candidates }
    }

    fn found(mut self) -> Option<Found> {
        let best = match &mut self.stage {
            Stage::Seeking(seeking) => {
                let found = seeking.take_found().into_iter();
                found.min_by(|a, b| a.outline().order(&b.outline(), self.prefer))
            }
            Stage::Improving(improving) => improving.take_best(),
            _ => None,
        };
        if let Some(plan) = best {
            self.stage = self.realise(plan);
        }
        while let Stage::Realising { making, .. } = &mut self.stage {
            if let Some(plan) = making.step(&self.item) {
                self.stage = Stage::Done(Some(Found::Plan(plan)));
            }
        }
        match self.stage {
            Stage::Done(found) => found,
            Stage::Standing(mut improving) => improving.take_best().map(Found::Plan),
            Stage::Fining(mut fining) => fining.take_plan().map(Found::Plan),
            Stage::Bounding(bounding) => Some(Found::Bound(bounding.proof().clone())),
            _ => None,
        }
    }

    fn improve(&self, plans: Vec<Partition>) -> Stage {
        Stage::Improving(Improving::new(plans, self.draw.clone(), self.prefer))
    }

    fn polish(&self, plan: Partition) -> Stage {
        Stage::Improving(Improving::longer(plan, self.draw.clone(), self.prefer, self.asks))
    }

    /// A plan of earlier rounds moved a little where its lines can be measured.
    fn fine(&self, plan: Partition) -> Stage {
        if self.is_better && plan.all_fit() {
            return Stage::Fining(Box::new(Fining::new(plan, self.draw.clone(), self.prefer)));
        }
        Stage::Done(Some(Found::Plan(plan)))
    }

    fn stands_for_itself(&self) -> bool {
        Arc::ptr_eq(&self.item, &self.ground)
    }

    /// Makes a plan's cuts on the item.
    fn realise(&self, plan: Partition) -> Stage {
        if self.stands_for_itself() {
            return self.fine(plan);
        }
        Stage::Realising { n_held: plan.n_held(), making: Realising::new(&self.item, plan) }
    }

    /// Cuts what does not fit yet by a beam.
    fn complete(&self, partition: Partition) -> Stage {
        if partition.n_pieces() >= self.limit {
            return Stage::Done(None);
        }
        if partition.all_fit() {
            return self.realise(partition);
        }
        let settings = portfolio::settings(self.ground.seed, 0, self.ground.own_frame);
        let settings = portfolio::with_planes(settings, &self.ground);
        Stage::Seeking(Box::new(Beam::new(partition, settings, self.limit, self.prefer)))
    }
}
