//! The planner as wasm: target, build, glue, all without a tool of its own to install.
//!
//! The glue is made by the library behind the usual tool, in exactly the version of the crate.

use crate::place;
use anyhow::{Context, Result};
use std::path::Path;
use std::process::Command;
use wasm_bindgen_cli_support::Bindgen;

/// What the browsers of the last years can do: 128-bit vectors and the small extensions before them.
const FLAGS: &str = "-Ctarget-feature=+bulk-memory,+nontrapping-fptoint,+sign-ext,+mutable-globals,+reference-types,+multivalue,+simd128";

/// Builds `planner_bg.wasm` and its glue into `folder`.
///
/// # Errors
/// When the target cannot be had or the build fails.
pub fn build(folder: &Path) -> Result<()> {
    add_target()?;
    // A folder of its own: other flags there would build everything again here.
    let target = place::target().join("wasm");
    let mut build = place::cargo();
    build.args(["build", "--locked", "--quiet", "--package", "seamwright-web", "--lib"]);
    build.args(["--target", "wasm32-unknown-unknown", "--profile", "wasm"]);
    build.env("CARGO_ENCODED_RUSTFLAGS", FLAGS).env("CARGO_TARGET_DIR", &target);
    place::run(&mut build)?;
    let made = target.join("wasm32-unknown-unknown/wasm/seamwright_web.wasm");
    let mut glue = Bindgen::new();
    glue.input_path(&made).out_name("planner").typescript(true).omit_default_module_path(true);
    glue.remove_name_section(true).remove_producers_section(true);
    let glue = glue.web(true).and_then(|glue| glue.generate(folder));
    glue.with_context(|| format!("no glue for {}", made.display()))
}

/// Adds the target with rustup, where it is missing.
fn add_target() -> Result<()> {
    let mut ask = Command::new("rustc");
    ask.current_dir(place::root()).args(["--print", "target-libdir", "--target", "wasm32-unknown-unknown"]);
    let there = place::quiet(&mut ask).is_ok_and(|heard| Path::new(heard.out.trim()).is_dir());
    if there {
        return Ok(());
    }
    let mut add = Command::new("rustup");
    add.current_dir(place::root()).args(["target", "add", "wasm32-unknown-unknown"]);
    place::run(&mut add).context("the page needs the target wasm32-unknown-unknown")
}
