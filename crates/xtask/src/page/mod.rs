//! `cargo xtask page`: the page in both its outputs, `target/page/` and `target/seamwright.html`.
//!
//! How: the planner as wasm (`wasm.rs`), the types of its records (`types.rs`), the notices
//! (`notices.rs`) and the demo (`demo.rs`) are made first; then npm builds both outputs from them
//! (`www/build/outputs.ts`).

pub mod bench;
pub mod checks;
mod demo;
mod notices;
mod npm;
pub mod search;
pub mod serve;
mod types;
mod wasm;

use crate::place;
use crate::tally::Tally;
use anyhow::{Context, Result};

/// Options of `page`.
#[derive(Debug, Default, clap::Args)]
pub struct Options {
    /// Only write the page's types of records
    #[arg(long)]
    types: bool,
    /// Only make the planner's wasm and what else the build of the page needs
    #[arg(long)]
    parts: bool,
    /// Also run the page's tests, as `cargo xtask test` does
    #[arg(long)]
    check: bool,
}

/// Builds; whether all tests passed, where they were asked for.
///
/// # Errors
/// When a step fails.
pub fn run(options: &Options) -> Result<bool> {
    if options.check {
        let mut tally = Tally::default();
        checks::run(&place::built_program(false)?, &mut tally)?;
        tally.print_what_did_not_pass();
        println!("{tally}");
        return Ok(tally.failed.is_empty());
    }
    types::write(false)?;
    if options.types {
        println!("{}", types::FILE);
        return Ok(true);
    }
    npm::install()?;
    let made = npm::folder().join("src/planner/gen");
    std::fs::create_dir_all(&made).context("www/src/planner/gen cannot be made")?;
    println!("building the planner (wasm)");
    wasm::build(&made)?;
    std::fs::write(made.join("notices.txt"), notices::text()?)?;
    demo::write(&made.join("demo.seam.json"))?;
    if options.parts {
        return Ok(true);
    }
    println!("building the page");
    place::run(npm::npm().args(["run", "--silent", "build"]))?;
    for file in ["page/index.html", "seamwright.html"] {
        let path = place::target().join(file);
        let size = std::fs::metadata(&path).with_context(|| path.display().to_string())?.len();
        println!("{}: {} KiB", place::shown(&path), size.div_ceil(1024));
    }
    Ok(true)
}
