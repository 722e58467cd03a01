//! Shapes and folders shared by the tests that cross crates.

pub mod folders;
pub mod shapes;
