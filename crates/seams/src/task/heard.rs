//! What a task found, and what a round hears of it: a task may run where its parts stay.

use crate::bound::Proof;
use crate::cuts::Cut;
use crate::outline::Outline;
use crate::partition::Partition;

/// What a task found.
pub enum Found {
    /// A plan.
    Plan(Partition),
    /// A least number of pieces, proved.
    Bound(Proof),
}

impl Found {
    /// What decides about it.
    pub fn told(&self) -> Told {
        match self {
            Self::Plan(plan) => Told::Plan(plan.outline(), plan.cuts()),
            Self::Bound(proof) => Told::Bound(proof.clone()),
        }
    }
}

/// How a task ended.
pub struct Ended {
    /// What it found.
    pub found: Option<Found>,
    /// Planes it looked at: each with the lumps it leaves, how both sides fit and what its line costs.
    pub candidates: u64,
}

impl Ended {
    /// What decides about it.
    pub fn heard(&self) -> Heard {
        Heard { told: self.found.as_ref().map(Found::told), candidates: self.candidates }
    }
}

/// What a round hears of a task.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Heard {
    /// Of what it found.
    pub told: Option<Told>,
    /// Planes it looked at.
    pub candidates: u64,
}

/// What a round hears of what a task found.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// A plan is like this and made of these cuts.
    Plan(Outline, Vec<Cut>),
    /// So much is proved.
    Bound(Proof),
}
