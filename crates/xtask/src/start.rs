//! `cargo xtask start`: from a fresh checkout to a planned costume, with Rust alone.
//!
//! Builds the program in release, plans the demo costume on a 220 bed, audits the folder and
//! prints what came out and where it is.

use crate::{folders, place, rows};
use anyhow::{Context, Result};
use serde_json::Value;
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
    let text = std::fs::read_to_string(folder.join("plan.json")).context("plan.json cannot be read")?;
    let plan: Value = serde_json::from_str(&text)?;
    print_table(&plan);
    let verdict = folders::audit(&program, &folder)?;
    println!("\naudit: {}", verdict.as_deref().unwrap_or("all holds"));
    print_places(&folder);
    Ok(verdict.is_none())
}

fn print_table(plan: &Value) {
    println!("\n{:<16} {:>22} {:>7} {:>11}", "item", "size mm", "pieces", "plain grid");
    for item in array(plan, "items") {
        let id = item["id"].as_str().unwrap_or_default();
        let of_item = |row: &&Value| row["item"].as_str() == Some(id);
        let size: Vec<String> = item["size_mm"].as_array().map_or_else(Vec::new, |size| {
            size.iter().map(|mm| format!("{:.0}", mm.as_f64().unwrap_or(f64::NAN))).collect()
        });
        let n_pieces = array(plan, "pieces").iter().filter(of_item).count();
        let grid = array(plan, "grid").iter().find(of_item).map(|row| row["pieces"].to_string());
        println!("{id:<16} {:>22} {n_pieces:>7} {:>11}", size.join(" x "), grid.unwrap_or_default());
    }
    let totals = &plan["totals"];
    let seam_mm = totals["seam_mm"].as_f64().unwrap_or(0.0);
    println!(
        "together: {} pieces on {} loads, {:.1} m of seam line",
        array(plan, "pieces").len(),
        array(plan, "loads").len(),
        seam_mm / 1000.0
    );
}

fn print_places(folder: &Path) {
    let shown = place::shown(folder);
    println!("print jobs: {shown}/loads/*.3mf");
    println!("pieces:     {shown}/pieces/*.stl");
    println!("figures:    {shown}/plan.json");
}

fn array<'a>(plan: &'a Value, name: &str) -> &'a [Value] {
    plan[name].as_array().map_or(&[], Vec::as_slice)
}
