//! Where to cut: plain grid, parallel cuts, greedy planes, seam measures.
