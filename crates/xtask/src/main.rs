//! Chores. See `cargo xtask help`.
fn main() {}
