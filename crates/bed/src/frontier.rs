//! The cells a certified search has still to look at: highest bound first, then oldest.
//!
//! Not here: what a cell is and how its bound is found (`cells.rs`, `round.rs`).

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Cells and their bounds.
pub(crate) struct Frontier<T> {
    heap: BinaryHeap<Waiting<T>>,
    n_added: u32,
}

struct Waiting<T> {
    bound_mm: f64,
    serial: u32,
    cell: T,
}

impl<T> Frontier<T> {
    /// Starts with cells nothing is known of.
    pub(crate) fn new(cells: impl IntoIterator<Item = T>) -> Self {
        let mut made = Self { heap: BinaryHeap::new(), n_added: 0 };
        cells.into_iter().for_each(|cell| made.add(f64::INFINITY, cell));
        made
    }

    pub(crate) fn add(&mut self, bound_mm: f64, cell: T) {
        self.heap.push(Waiting { bound_mm, serial: self.n_added, cell });
        self.n_added += 1;
    }

    /// The most promising cell and its bound.
    pub(crate) fn take(&mut self) -> Option<(f64, T)> {
        self.heap.pop().map(|waiting| (waiting.bound_mm, waiting.cell))
    }

    /// The highest bound of all that wait; minus infinity where none does.
    pub(crate) fn highest_mm(&self) -> f64 {
        self.heap.peek().map_or(f64::NEG_INFINITY, |waiting| waiting.bound_mm)
    }
}

impl<T> PartialEq for Waiting<T> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl<T> Eq for Waiting<T> {}
impl<T> PartialOrd for Waiting<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl<T> Ord for Waiting<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.bound_mm.total_cmp(&other.bound_mm).then(other.serial.cmp(&self.serial))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_highest_bound_comes_first_and_of_equal_ones_the_oldest() {
        let mut frontier = Frontier::new(["first"]);
        for (bound_mm, cell) in [(1.0, "low"), (3.0, "high"), (2.0, "old"), (2.0, "new")] {
            frontier.add(bound_mm, cell);
        }
        let order: Vec<&str> = std::iter::from_fn(|| frontier.take()).map(|(_, cell)| cell).collect();
        assert_eq!(order, ["first", "high", "old", "new", "low"]);
        assert_eq!(frontier.highest_mm(), f64::NEG_INFINITY);
    }
}
