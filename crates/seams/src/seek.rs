//! What looks for plans on its own, in small steps: beams, very few cuts, rows, halves, covers.

use crate::ground::Ground;
use crate::partition::Partition;

/// A search for plans that is run step by step and may be stopped after any.
pub trait Seek: Send {
    /// One step; whether there is more to do.
    fn step(&mut self, ground: &Ground) -> bool;

    /// The plans found so far that are worth making better.
    fn take_found(&mut self) -> Vec<Partition>;

    /// Planes looked at so far.
    fn candidates(&self) -> u64;
}
