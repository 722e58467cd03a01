//! Solids: read, write, measure, section, split. Knows nothing of printing.
//!
//! Units and frame everywhere: millimetres, right-handed, Z up; triangles counter-clockwise seen
//! from outside. Points of a [`Solid`] lie on a grid of 1/4096 mm ([`grid`]), so sums and
//! predicates are exact integers and a file equals memory.
//! Start with [`Solid`], then [`split::split`].

mod apart;
mod assemble;
pub mod bodies;
mod cap;
mod crc32;
pub mod crossings;
pub mod curvature;
mod edges;
mod exact;
pub mod fewer;
pub mod flaws;
pub mod gather;
pub mod grid;
pub mod hull;
pub mod item;
mod loose;
pub mod lumps;
pub mod measure;
mod meetings;
pub mod mend;
pub mod model;
pub mod parts;
pub mod placement;
pub mod plane;
pub mod read;
pub mod section;
pub mod simplify;
pub mod solid;
pub mod spatial;
pub mod split;
pub mod thickness;
pub mod transfer;
pub mod unite;
pub mod units;
pub mod vec3;
pub mod write;

pub use grid::GridPoint;
pub use model::{Model, Notice, Part, Unit};
pub use placement::Placement;
pub use plane::Plane;
pub use solid::{NotSolid, Solid};
