//! Printer beds, the exact test whether a piece fits, resting poses.

pub mod convex2d;
