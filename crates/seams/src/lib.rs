//! Where to cut: plain grid, parallel cuts, greedy planes, seam measures.

pub mod hollow;
pub mod lines;
pub mod patches;
