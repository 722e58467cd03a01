//! Printer beds, the exact test whether a piece fits, resting poses.

pub mod bed;
mod cells;
mod climb;
pub mod convex2d;
mod convex_sum;
mod extent;
pub mod fit;
mod frontier;
mod nearby;
pub mod place;
pub mod pose;
mod prepared;
pub mod rest;
pub mod room;
mod room_lp;
mod round;
pub mod together;
pub mod turn;
pub mod upright;

pub use bed::{Bed, BedError, BedShape, Usable};
pub use fit::{AnyFit, FitOptions, Goal, Prepared, Verdict, fit_any, prepare};
pub use pose::{Alternative, Posed, best_pose, printable_poses, put};
pub use rest::{Contact, PoseKind, Resting, contact, resting_poses};
pub use upright::{FITS_MM, Upright, fit_upright, fits};
