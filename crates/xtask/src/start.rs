//! `cargo xtask start`: from a fresh checkout to a planned costume, with Rust alone.
//!
//! Builds the program in release, plans the demo costume on a 220 bed (the program prints its table),
//! audits the folder and says where everything is.

use crate::{folders, place, rows};
use anyhow::Result;
use std::path::Path;
use std::process::Command;

const BED: &str = "220x220x250";

/// Returns whether the audit held.
///
/// # Errors
/// When the build or the plan fails.
pub fn run() -> Result<bool> {
    println!("building seamwright (release)");
    let program = place::built_program(true)?;
    let folder = place::target().join("demo-plan");
    let costume = rows::costume()?;
    println!("planning the demo costume on a bed of {BED} mm");
    let mut command = Command::new(&program);
    command.current_dir(place::root()).arg("plan").args(costume.iter().map(|(_, argument)| argument));
    place::run(command.args(["--bed", BED, "--force", "--out"]).arg(&folder))?;
    let verdict = folders::audit(&program, &folder)?;
    println!("\naudit: {}", verdict.as_deref().unwrap_or("all holds"));
    print_places(&folder);
    Ok(verdict.is_none())
}

fn print_places(folder: &Path) {
    let shown = place::shown(folder);
    println!("print jobs: {shown}/loads/*.3mf");
    println!("pieces:     {shown}/pieces/*.stl");
    println!("figures:    {shown}/plan.json");
}
