//! `cargo xtask start`: from a fresh checkout to the page and a planned costume.
//!
//! Builds the program in release and the page in both its outputs, plans the demo costume on a 220
//! bed (the program prints its table), audits the folder, says where everything is, and serves the
//! page on this machine alone.

use crate::{folders, page, place, rows};
use anyhow::Result;
use std::path::Path;
use std::process::Command;

const BED: &str = "220x220x250";

/// Options of `start`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// End when all is built and planned, without serving the page
    #[arg(long)]
    no_serve: bool,
}

/// Returns whether the audit held.
///
/// # Errors
/// When a build or the plan fails.
pub fn run(options: &Options) -> Result<bool> {
    println!("building seamwright (release)");
    let program = place::built_program(true)?;
    page::run(&page::Options::default())?;
    let folder = place::target().join("demo-plan");
    let costume = rows::costume()?;
    println!("planning the demo costume on a bed of {BED} mm");
    let mut command = Command::new(&program);
    command.current_dir(place::root()).arg("plan").args(costume.iter().map(|(_, argument)| argument));
    place::run(command.args(["--bed", BED, "--force", "--out"]).arg(&folder))?;
    let verdict = folders::audit(&program, &folder)?;
    println!("\naudit: {}", verdict.as_deref().unwrap_or("all holds"));
    print_places(&folder);
    if !options.no_serve {
        page::serve::run(&place::target().join("page"))?;
    }
    Ok(verdict.is_none())
}

fn print_places(folder: &Path) {
    let shown = place::shown(folder);
    println!("print jobs: {shown}/loads/*.3mf");
    println!("pieces:     {shown}/pieces/*.stl");
    println!("figures:    {shown}/plan.json");
    println!(
        "the page:   {} (opens by double click)",
        place::shown(&place::target().join("seamwright.html"))
    );
}
