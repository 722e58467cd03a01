//! A plan that a search found made on the item: from its cuts where it was found in another memory, and cut again
//! where the search works on a copy (`trial.rs`).
//!
//! One step is one cut. What lines cost stays as it was weighed where the plan was found.
//! Not here: how lumps of the copy are told from each other on the item (`realise.rs`).

use crate::cuts::Cut;
use crate::ground::Ground;
use crate::outline::Outline;
use crate::part::Look;
use crate::partition::Partition;
use crate::realise::Realising;
use std::sync::Arc;

/// A plan being made on the item.
pub struct Remaking {
    item: Arc<Ground>,
    stage: Stage,
}

enum Stage {
    /// Cuts being made where they were found; so many are made.
    Replaying {
        made: Partition,
        cuts: Vec<Cut>,
        n_done: usize,
    },
    /// The plan on the copy being cut on the item.
    Realising {
        making: Box<Realising>,
        found: Found,
    },
    Done(Remade),
    /// The cuts were not those of a plan.
    Broken,
}

/// What decided about the plan where it was found.
type Found = (Outline, Vec<Cut>);

/// A plan made on the item.
pub struct Remade {
    /// The plan.
    pub plan: Partition,
    /// What decided about it where it was found, and its cuts there.
    pub found: Found,
}

impl Remaking {
    /// Of a plan whose parts are at hand.
    pub fn of_plan(item: &Arc<Ground>, plan: Partition) -> Self {
        let found = (plan.outline(), plan.cuts());
        let stage = if Arc::ptr_eq(item.searched(), item) {
            Stage::Done(Remade { plan, found })
        } else {
            Stage::Realising { making: Box::new(Realising::weighed(item, plan)), found }
        };
        Self { item: item.clone(), stage }
    }

    /// Of its cuts alone.
    pub fn of_cuts(item: &Arc<Ground>, cuts: Vec<Cut>) -> Self {
        let made = item.searched().start().clone();
        let n_done = made.n_kept;
        Self { item: item.clone(), stage: Stage::Replaying { made, cuts, n_done } }
    }

    /// One step; whether there is more to do.
    pub fn step(&mut self) -> bool {
        let next = match &mut self.stage {
            Stage::Replaying { made, cuts, n_done } => {
                let ground = self.item.searched();
                match cuts.get(*n_done) {
                    Some(cut) => {
                        *n_done += 1;
                        (!made.replay(cut, &|solid| ground.look(solid))).then_some(Stage::Broken)
                    }
                    None => Some(Self::of_plan(&self.item, made.clone()).stage),
                }
            }
            Stage::Realising { making, found } => {
                making.step(&self.item).map(|plan| Stage::Done(Remade { plan, found: found.clone() }))
            }
            Stage::Done(_) | Stage::Broken => return false,
        };
        if let Some(next) = next {
            self.stage = next;
        }
        true
    }

    /// The plan, once there is no more to do; `None` where the cuts cannot be made.
    pub fn end(mut self) -> Option<Remade> {
        while self.step() {}
        match self.stage {
            Stage::Done(remade) => Some(remade),
            _ => None,
        }
    }
}
