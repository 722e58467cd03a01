//! One target under coverage-guided fuzzing; `cargo xtask fuzz --guided NAME` builds and runs it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use seamwright_fuzz::targets::{self, Target};
use std::sync::LazyLock;

static TARGET: LazyLock<&'static Target> = LazyLock::new(|| {
    let name = std::env::var("FUZZ_TARGET").unwrap_or_default();
    targets::named(&name).expect("FUZZ_TARGET names no target")
});

fuzz_target!(|bytes: &[u8]| {
    (TARGET.run)(bytes);
});
