//! Shapes and folders shared by the tests that cross crates.

pub mod drawn;
pub mod folders;
pub mod plans;
pub mod shapes;
