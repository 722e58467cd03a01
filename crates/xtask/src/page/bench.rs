//! Figures of the page in a browser (`www/tests/bench/page.mjs`): seconds, memory, size.
//!
//! Never asserted in a test: they are figures of a machine and its load, shown beside what is asked.

use super::{Options, checks, npm, run};
use crate::place;
use anyhow::{Context, Result};
use serde_json::Value;
use std::fmt::Write;
use std::process::Command;

/// Prints them, median of `repeats`; always true.
///
/// # Errors
/// When the page cannot be built or there is no browser.
pub fn print(repeats: usize) -> Result<bool> {
    place::run(&mut command(repeats)?)?;
    Ok(true)
}

/// The same as a table of Markdown.
///
/// # Errors
/// As [`print()`], or when the figures cannot be read.
pub fn table(repeats: usize) -> Result<String> {
    let heard = place::quiet(command(repeats)?.arg("--json"))?;
    let rows: Vec<Value> = serde_json::from_str(&heard.out).with_context(|| heard.err.clone())?;
    let mut table = format!(
        "## The page\n\nIn Chromium with software graphics, median of {repeats}; CPU is that of the whole browser.\n\n\
         | what | asked | is | CPU s |\n|---|---|---|---|\n"
    );
    for row in rows {
        let text = |field: &str| row[field].as_str().unwrap_or_default();
        let figure = |field: &str| match (row[field].as_f64(), text("unit")) {
            (None, _) => String::new(),
            (Some(seconds), "s") => format!("{seconds:.2} s"),
            (Some(amount), unit) => format!("{:.0} {unit}", amount.ceil()),
        };
        let cpu = row["cpu_s"].as_f64().map(|s| format!("{s:.2}")).unwrap_or_default();
        let _ = writeln!(table, "| {} | {} | {} | {cpu} |", text("name"), figure("asked"), figure("value"));
    }
    Ok(table)
}

fn command(repeats: usize) -> Result<Command> {
    run(&Options::default())?;
    let browser = checks::browser().map_err(anyhow::Error::msg)?;
    let mut node = Command::new("node");
    node.current_dir(npm::folder()).args(["tests/bench/page.mjs", &repeats.to_string()]);
    node.env("SEAMWRIGHT_CHROMIUM", browser);
    Ok(node)
}
