//! Laying pieces on beds: footprints, lays, lay drawings.
//!
//! Start with [`lay()`]: posed pieces and beds in, loads out (`job.rs`). `footprint.rs` turns a piece into
//! outlines on the bed, `open_load.rs` is a load being filled, `search.rs` looks for fewer loads,
//! `bound.rs` proves how few there can be, `drawing.rs` draws the lay plan with the pens of `ink.rs`.
//! Not here: time, mass and filament of a load.

pub mod bound;
pub mod drawing;
mod footprint;
mod ink;
pub mod job;
pub mod lay;
mod open_load;
mod search;

pub use bound::loads_at_least;
pub use drawing::{DrawnPiece, LayTitle, lay_svg};
pub use job::{Laid, LayError, LayOptions, LayPiece, Load};
pub use lay::lay;
