//! Properties tried on drawn cases that are the same in every run.
//!
//! A run's result then depends on the code alone. `ARBTEST_BUDGET_MS=60000 cargo test NAME` looks
//! at new cases instead, for so long, and prints the seed of one that fails.

use arbtest::arbitrary::{Result, Unstructured};
use arbtest::arbtest;

/// Bytes a case may draw from: more than any property here asks for.
const N_BYTES: u64 = 1 << 16;

/// Tries `property` on `n_cases` cases.
pub fn on_drawn_cases(n_cases: u64, mut property: impl FnMut(&mut Unstructured) -> Result<()>) {
    if std::env::var_os("ARBTEST_BUDGET_MS").is_some() {
        arbtest(property).size_min(N_BYTES as u32).size_max(N_BYTES as u32).run();
        return;
    }
    for case in 1..=n_cases {
        // A seed holds the number of bytes in its lower half.
        arbtest(&mut property).seed(case << 32 | N_BYTES).run();
    }
}
