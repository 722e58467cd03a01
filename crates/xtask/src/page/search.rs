//! The same search in the page's workers: seconds beside those of the program, for the same rounds.
//!
//! Each row is planned by the program with a fixed effort and two threads; the page opens the project it wrote, with
//! two searchers, and makes the same plan (`www/tests/bench/search.mjs`).
//! Not here: what is searched with a clock (`bench_seams.rs`), other figures of the page (`bench.rs`).

use super::{Options, checks, npm};
use crate::place;
use crate::rows::Row;
use anyhow::{Context, Result, ensure};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Rounds of each row.
const EFFORT: &str = "3";

/// Prints a line for each row.
///
/// # Errors
/// When there is no browser, the page cannot be built or a plan cannot be made.
pub fn print(rows: &[&Row], program: &Path, folder: &Path) -> Result<()> {
    super::run(&Options::default())?;
    let browser = checks::browser().map_err(anyhow::Error::msg)?;
    println!(
        "{:<30} {:>6} {:>9} {:>9} {:>6}   fewest pieces after, program and page",
        format!("{EFFORT} rounds, two at once"),
        "pieces",
        "program",
        "page",
        "ratio"
    );
    for row in rows {
        let out = folder.join("plan");
        let mut command = Command::new(program);
        command.current_dir(place::root()).arg("plan").args(&row.models).args(["--bed", row.bed]);
        command.args(&row.more).args(["--effort", EFFORT, "--threads", "2", "--prefer", "fewest"]);
        place::run(command.args(["--quiet", "--force", "--out"]).arg(&out))?;
        let run: Value = serde_json::from_str(&std::fs::read_to_string(out.join("run.json"))?)?;
        let mut node = Command::new("node");
        node.current_dir(npm::folder()).arg("tests/bench/search.mjs").arg(out.join("costume.seam.json"));
        let heard = place::quiet(node.env("SEAMWRIGHT_CHROMIUM", &browser))?;
        let told: Value = serde_json::from_str(&heard.out).with_context(|| heard.err.clone())?;
        let told = told[0].as_array().cloned().unwrap_or_default();
        let history = run["history"].as_array().cloned().unwrap_or_default();
        let native: Vec<(f64, u64)> = history.iter().filter_map(|row| moment(row, "seconds")).collect();
        let paged: Vec<(f64, u64)> =
            told.iter().filter(|one| one["kind"] == "item-plan").filter_map(|one| moment(one, "s")).collect();
        let of = |moments: &[(f64, u64)]| moments.last().map(|last| last.1);
        ensure!(of(&native) == of(&paged), "{}: the page made another plan", row.id);
        let pieces = of(&native).unwrap_or(0);
        let first =
            |moments: &[(f64, u64)]| moments.iter().find(|one| one.1 == pieces).map_or(0.0, |one| one.0);
        let native_s = run["seconds"].as_f64().unwrap_or(0.0);
        let page_s = told.last().and_then(|one| one["s"].as_f64()).unwrap_or(0.0);
        println!(
            "{:<30} {pieces:>6} {native_s:>8.1}s {page_s:>8.1}s {:>6.2}   {:.1} s, {:.1} s",
            row.id,
            page_s / native_s,
            first(&native),
            first(&paged)
        );
    }
    Ok(())
}

/// A time and the pieces of the best plan then.
fn moment(row: &Value, seconds: &str) -> Option<(f64, u64)> {
    Some((row[seconds].as_f64()?, row["pieces"].as_u64()?))
}
