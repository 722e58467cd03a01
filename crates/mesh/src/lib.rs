//! Solids: read, write, measure, section, split. Knows nothing of printing.
//!
//! Units and frame everywhere: millimetres, right-handed, Z up; triangles counter-clockwise seen
//! from outside. Points of a [`Solid`] lie on a grid of 1/4096 mm ([`grid`]), so sums and
//! predicates are exact integers and a file equals memory.
//! Start with [`Solid`], then [`split::split`].

pub mod grid;
pub mod model;
pub mod placement;
pub mod plane;
pub mod solid;
pub mod spatial;
pub mod vec3;

pub use grid::GridPoint;
pub use model::{Model, Notice, Part, Unit};
pub use placement::Placement;
pub use plane::Plane;
pub use solid::{NotSolid, Solid};
