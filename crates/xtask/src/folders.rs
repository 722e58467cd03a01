//! Planning a row with the native program, auditing the folder, reading the figures back.
//!
//! Everything goes through the command line, as a maker would; figures come from `plan.json`.
//! Not here: which rows (`rows.rs`), the reference libraries (`reference.rs`).

use crate::place;
use crate::rows::Row;
use anyhow::{Context, Result};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// How much work and how many threads a plan gets.
#[derive(Debug, Clone, Copy)]
pub struct Work {
    /// Rounds (`--effort`); with it the result does not depend on the machine.
    pub effort: u32,
    /// `--threads`.
    pub threads: u32,
}

/// A plan folder that `plan` made.
#[derive(Debug)]
pub struct Planned {
    /// Where it is.
    pub folder: PathBuf,
    /// `plan.json`.
    pub plan: Value,
    /// Wall time of the whole call.
    pub plan_s: f64,
}

/// Plans a row into `folder`.
///
/// # Errors
/// What the program said when it did not end with 0.
pub fn plan(program: &Path, row: &Row, work: Work, folder: &Path) -> Result<Planned> {
    let mut command = Command::new(program);
    command.current_dir(place::root()).arg("plan").args(&row.models).args(["--bed", row.bed]).args(&row.more);
    command.args(["--effort", &work.effort.to_string(), "--threads", &work.threads.to_string()]);
    command.args(["--quiet", "--force", "--out"]).arg(folder);
    let start = Instant::now();
    let heard = place::quiet(&mut command)?;
    let plan_s = start.elapsed().as_secs_f64();
    if heard.code != 0 {
        anyhow::bail!("plan ended with {}: {}", heard.code, heard.first_line());
    }
    let file = folder.join("plan.json");
    let text = std::fs::read_to_string(&file).context("plan.json cannot be read")?;
    let plan = serde_json::from_str(&text).context("plan.json is not JSON")?;
    Ok(Planned { folder: folder.to_path_buf(), plan, plan_s })
}

/// Audits a folder: nothing when it holds, otherwise what the program said.
///
/// # Errors
/// When the program cannot be started.
pub fn audit(program: &Path, folder: &Path) -> Result<Option<String>> {
    let heard = place::quiet(Command::new(program).current_dir(place::root()).arg("audit").arg(folder))?;
    // One line a finding, the first is the most telling; a wrong use speaks on stderr.
    let first = heard.out.lines().next().unwrap_or(&heard.err);
    Ok((heard.code != 0).then(|| format!("audit ended with {}: {}", heard.code, first.trim())))
}

impl Planned {
    /// Number of pieces.
    pub fn n_pieces(&self) -> usize {
        self.list("pieces").len()
    }

    /// Number of print jobs.
    pub fn n_loads(&self) -> usize {
        self.list("loads").len()
    }

    /// Pieces of the plain grid, all items together; nothing if the plan does not say.
    pub fn n_grid_pieces(&self) -> Option<usize> {
        let rows = self.list("grid");
        let sum = rows.iter().filter_map(|row| row["pieces"].as_u64()).sum::<u64>();
        (rows.len() == self.list("items").len()).then_some(usize::try_from(sum).unwrap_or(usize::MAX))
    }

    /// The smallest `margin_printable_mm` of all pieces.
    pub fn worst_margin_mm(&self) -> Option<f64> {
        let margins = self.list("pieces").iter().filter_map(|p| p["fit"]["margin_printable_mm"].as_f64());
        margins.reduce(f64::min)
    }

    /// Sum of a number over such an array.
    pub fn sum(&self, list: &str, field: &str) -> f64 {
        self.list(list).iter().filter_map(|row| row[field].as_f64()).sum()
    }

    /// An array at the top of the plan, empty when absent.
    pub fn list(&self, name: &str) -> &[Value] {
        self.plan[name].as_array().map_or(&[], Vec::as_slice)
    }

    /// What the row's limits say about this plan; nothing when they hold.
    pub fn over_limit(&self, row: &Row) -> Option<String> {
        let n_pieces = self.n_pieces();
        match (self.n_grid_pieces(), row.pieces_at_most) {
            (None, _) => Some("the plan has no grid row for each item".to_string()),
            (Some(grid), _) if n_pieces > grid => {
                Some(format!("{n_pieces} pieces, the plain grid needs {grid}"))
            }
            (_, Some(limit)) if n_pieces > limit => {
                Some(format!("{n_pieces} pieces, at most {limit} expected"))
            }
            _ => None,
        }
    }
}

/// Every file below a folder with its bytes, without `run.json`, sorted by path.
///
/// # Errors
/// When one cannot be read.
pub fn all_bytes(folder: &Path) -> Result<Vec<(String, Vec<u8>)>> {
    let mut files = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(dir) = open.pop() {
        for entry in std::fs::read_dir(&dir).with_context(|| format!("{} cannot be read", dir.display()))? {
            let path = entry?.path();
            let name = path.strip_prefix(folder).unwrap_or(&path).display().to_string();
            if path.is_dir() {
                open.push(path);
            } else if name != "run.json" {
                files.push((name, std::fs::read(&path)?));
            }
        }
    }
    files.sort();
    Ok(files)
}
