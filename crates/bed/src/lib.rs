//! Printer beds, the exact test whether a piece fits, resting poses.

pub mod bed;
pub mod convex2d;
pub mod place;
pub mod room;
pub mod turn;
pub mod upright;

pub use bed::{Bed, BedError, BedShape, Usable};
pub use upright::{FITS_MM, Upright, fit_upright, fits};
