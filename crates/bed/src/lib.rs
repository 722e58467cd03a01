//! Printer beds, the exact test whether a piece fits, resting poses.

pub mod convex2d;
pub mod place;
pub mod room;
