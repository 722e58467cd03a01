//! Hostile input: what is tried on readers, mending, cutting and project files ([`targets`]), and how
//! sound files are spoiled ([`mutants`]). What guided runs came to is kept in `corpus/` ([`kept`]).
//!
//! Two drivers use it: `cargo xtask fuzz` spoils the sample files at random and counts; the crate in
//! `guided/`, outside the workspace because it builds a C++ library, lets coverage lead.
//! Nothing here may panic but by a broken promise of the code it tries.

pub mod kept;
pub mod mutants;
pub mod targets;
