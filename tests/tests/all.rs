//! All tests that cross crates, in one binary.
#[path = "all/cut.rs"]
mod cut;
