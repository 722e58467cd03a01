//! Write solids: binary STL, PLY and 3MF print jobs.
//!
//! Bytes depend on the input alone: no clock, fixed time stamps in packages, one number format.

pub mod archive;
pub mod ply;
pub mod stl;
#[cfg(test)]
mod tests;
pub mod threemf;

pub use archive::archive;
pub use ply::ply_bytes;
pub use stl::{stl_bytes, stl_triangles};
#[cfg(test)]
pub(crate) use tests::{block_mesh, letter_f};
pub use threemf::{JobObject, threemf_bytes};
