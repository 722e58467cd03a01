//! `cargo xtask prove`: the full tables, row by row, into `target/proof/` and `tests/PROOF.md`.
//!
//! The exact cuts of `cut_table.rs`, the turned items of `turns.rs`, hostile files (`hostile.rs`), the page's figures in a browser, and every
//! closed reference model and demo item on each standard bed, and the rows with a limit from outside: planned, audited, and
//! judged by trimesh, manifold3d and lib3mf. A row is kept in
//! `target/proof/rows/` and used again while program and effort stay the same, so an interrupted
//! run goes on where it was. Seconds depend on the machine; all else does not.
//! Not here: what the checks are (`folders.rs`, `tests/reference/folders.py`).

use crate::folders::{self, Work};
use crate::rows::{self, ReferenceModel, Row};
use crate::tally::Tally;
use crate::{cut_table, hostile, page, place, reference, test, turns};
use anyhow::{Context, Result};
use serde_json::{Value, json};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// Options of `prove`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// Rounds a plan may take
    #[arg(long, default_value_t = 2)]
    effort: u32,
    /// Rows whose name holds this only, or `cuts`, `turns`, `hostile` or `page`; `tests/PROOF.md` is left alone then
    #[arg(long, default_value = "")]
    only: String,
    /// Rows worked on at the same time
    #[arg(long, default_value_t = 2)]
    jobs: usize,
    /// Random mutants of the corner files
    #[arg(long, default_value_t = 1_000_000)]
    mutants: u64,
    /// Keep the plan folders (several GB)
    #[arg(long)]
    keep: bool,
}

/// Times each figure of the page is measured.
const PAGE_REPEATS: usize = 3;

/// Returns whether every row holds.
///
/// # Errors
/// When a chore itself breaks.
pub fn run(options: &Options) -> Result<bool> {
    let program = place::built_program(true)?;
    let commit = commit()?;
    let proof = place::target().join("proof");
    std::fs::create_dir_all(proof.join("rows"))?;
    let python = reference::python().map_err(anyhow::Error::msg).context("the proof needs its libraries")?;
    let mut rows = all_rows(&proof)?;
    rows.retain(|row| row.id.contains(&options.only));
    let bench = Bench {
        key: format!("{:016x} effort {}", number_of_file(&program)?, options.effort),
        work: Work { effort: options.effort, threads: 1 },
        keep: options.keep,
        program,
        python,
        proof,
    };
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..options.jobs.max(1) {
            scope.spawn(|| {
                while let Some((index, row)) = at(&rows, next.fetch_add(1, Ordering::Relaxed)) {
                    let record = bench.row(row);
                    println!("[{}/{}] {}", index + 1, rows.len(), line(&record));
                    if let Ok(mut done) = done.lock() {
                        done.push((index, record));
                    }
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_default();
    done.sort_by_key(|(index, _)| *index);
    let records: Vec<Value> = done.into_iter().map(|(_, record)| record).collect();
    let n_bad = records.iter().filter(|record| !holds(record)).count();
    std::fs::write(bench.proof.join("proof.json"), serde_json::to_string_pretty(&records)?)?;
    let mut text = summary(&records, options, &commit);
    let mut cuts_hold = true;
    let with_cuts = options.only.is_empty() || options.only == "cuts";
    if with_cuts {
        let (table, holds) = cut_table::make()?;
        let _ = write!(text, "\n{table}");
        cuts_hold = holds;
    }
    let with_turns = options.only.is_empty() || options.only == "turns";
    if with_turns {
        let _ = write!(text, "\n{}", turns::table(&bench.program, &bench.proof)?);
    }
    let with_hostile = options.only.is_empty() || options.only == "hostile";
    let mut hostile_holds = true;
    if with_hostile {
        let (table, holds) = hostile::table(&bench.program, &bench.proof, options.mutants)?;
        let _ = write!(text, "\n{table}");
        hostile_holds = holds;
    }
    let with_page = options.only.is_empty() || options.only == "page";
    if with_page {
        let _ = write!(text, "\n{}", page::bench::table(PAGE_REPEATS)?);
    }
    std::fs::write(bench.proof.join("proof.md"), &text)?;
    if options.only.is_empty() {
        std::fs::write(place::root().join("tests/PROOF.md"), &text)?;
    }
    println!("{} passed, {n_bad} failed, 0 skipped", records.len() - n_bad);
    Ok(n_bad == 0
        && cuts_hold
        && hostile_holds
        && (with_cuts || with_turns || with_hostile || with_page || !records.is_empty()))
}

fn at(rows: &[Row], index: usize) -> Option<(usize, &Row)> {
    rows.get(index).map(|row| (index, row))
}

fn all_rows(proof: &Path) -> Result<Vec<Row>> {
    let data = place::reference_data().context("SEAMWRIGHT_REFERENCE is not set")?;
    let mut models = rows::reference_models(&data)?;
    for (name, argument) in rows::costume()? {
        models.push(ReferenceModel { name: format!("demo-{name}"), argument, is_prop: true });
    }
    let (name, argument) = ("letter-f".to_string(), rows::LETTER.to_string());
    models.push(ReferenceModel { name, argument, is_prop: false });
    let mut all = Vec::new();
    for ReferenceModel { name, argument, is_prop } in models {
        for bed in rows::STANDARD_BEDS {
            let mut row = Row::new(&name, argument.clone(), bed);
            row.is_prop = is_prop;
            row.pieces_at_most =
                (name == "sword-1100mm" && bed == "220x220x250").then_some(test::SWORD_PIECES);
            all.push(row);
        }
    }
    reference::npm().map_err(anyhow::Error::msg).context("the bunny comes from npm")?;
    // The published case stands by itself: its bed is none of the four.
    all.push(Row { is_prop: false, ..test::bunny_row(proof)? });
    Ok(all)
}

struct Bench {
    program: PathBuf,
    python: PathBuf,
    proof: PathBuf,
    key: String,
    work: Work,
    keep: bool,
}

impl Bench {
    /// The record of a row: the kept one, or a new one.
    fn row(&self, row: &Row) -> Value {
        let file = self.proof.join("rows").join(format!("{}.json", row.id));
        let kept =
            std::fs::read_to_string(&file).ok().and_then(|text| serde_json::from_str::<Value>(&text).ok());
        if let Some(record) = kept.filter(|record| record["key"] == self.key.as_str()) {
            return record;
        }
        let mut record = self.try_row(row).unwrap_or_else(|error| json!({ "error": format!("{error:#}") }));
        record["id"] = json!(row.id);
        record["bed"] = json!(row.bed);
        record["is_prop"] = json!(row.is_prop);
        record["key"] = json!(self.key);
        if let Err(error) = std::fs::write(&file, record.to_string()) {
            println!("{}: {error}; this row will be done again", file.display());
        }
        record
    }

    fn try_row(&self, row: &Row) -> Result<Value> {
        let folder = self.proof.join("folders").join(&row.id);
        std::fs::create_dir_all(self.proof.join("folders"))?;
        let planned = folders::plan(&self.program, row, self.work, &folder)?;
        let start = Instant::now();
        let verdict = folders::audit(&self.program, &folder)?;
        let audit_s = start.elapsed().as_secs_f64();
        let mut judged = Tally::default();
        reference::judge_quietly(&self.python, &folder, &mut judged);
        let record = json!({
            "pieces": planned.n_pieces(), "grid_pieces": planned.n_grid_pieces(), "loads": planned.n_loads(),
            "at_least": planned.sum("bounds", "pieces_at_least"),
            "visible_mm": planned.sum("seams", "visible_mm"), "grid_visible_mm": planned.sum("grid", "visible_mm"),
            "detail_mm": planned.sum("seams", "through_detail_mm"),
            "grid_detail_mm": planned.sum("grid", "through_detail_mm"),
            "held": planned.plan["totals"]["held"], "volume_error": planned.plan["audit"]["volume_error"],
            "worst_margin_mm": planned.worst_margin_mm(), "over_limit": planned.over_limit(row),
            "audit": verdict, "judged": judged.to_string(), "judged_failed": judged.failed,
            "plan_s": planned.plan_s, "audit_s": audit_s,
        });
        if !self.keep {
            std::fs::remove_dir_all(&folder)?;
        }
        Ok(record)
    }
}

fn holds(record: &Value) -> bool {
    ["error", "audit", "over_limit"].iter().all(|field| record[*field].is_null())
        && record["judged_failed"].as_array().is_some_and(Vec::is_empty)
        && record["judged"].as_str().is_some_and(|judged| !judged.starts_with("0 passed"))
}

/// What is wrong with a row, or nothing.
fn wrong(record: &Value) -> String {
    let fields =
        ["error", "over_limit", "audit"].map(|field| record[field].as_str().unwrap_or_default().to_string());
    let judged = record["judged_failed"].as_array().and_then(|failed| failed.first()).and_then(Value::as_str);
    let all = fields.iter().map(String::as_str).chain(judged);
    all.filter(|text| !text.is_empty()).collect::<Vec<_>>().join("; ").replace('|', "/")
}

fn line(record: &Value) -> String {
    let verdict = if holds(record) { "holds".to_string() } else { format!("FAILED {}", wrong(record)) };
    format!(
        "{}: {} pieces of {}, {}",
        record["id"].as_str().unwrap_or_default(),
        record["pieces"],
        record["grid_pieces"],
        verdict
    )
}

/// What the program was built from, before an hour in which that may change.
fn commit() -> Result<String> {
    let mut git = std::process::Command::new("git");
    let heard = place::quiet(git.current_dir(place::root()).args(["log", "-1", "--format=%h of %cs"]))?;
    Ok(heard.out.trim().to_string())
}

fn summary(records: &[Value], options: &Options, commit: &str) -> String {
    let n_good = records.iter().filter(|record| holds(record)).count();
    let sum = |field: &str| records.iter().filter_map(|record| record[field].as_u64()).sum::<u64>();
    let all: Vec<&Value> = records.iter().collect();
    let props: Vec<&Value> = records.iter().filter(|record| record["is_prop"] == true).collect();
    let mut text = format!(
        "# Proof\n\nMade by `cargo xtask prove --effort {}` at commit {}. {n_good} of {} rows hold: the plan's audit, never more\n\
         pieces than the plain grid, every STL closed for trimesh with the volume stated, every 3MF read by lib3mf in strict mode and\n\
         equal to STL x pose. All rows together: {} pieces, the plain grid {}. Seconds depend on the machine and its load.\n\n\
         {}\n\n{}\n\n\
         | row | pieces | proven least | plain grid | visible mm | grid's | through detail mm | grid's | loads | held | worst margin mm | volume error | audit | libraries | plan s | audit s |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n",
        options.effort,
        commit,
        records.len(),
        sum("pieces"),
        sum("grid_pieces"),
        seams_said("demo items and reference models", &props),
        seams_said("rows, shapes of the geometry book and broken files among them,", &all),
    );
    for record in records {
        let number = |field: &str, digits: usize| {
            record[field].as_f64().map_or_else(String::new, |value| format!("{value:.digits$}"))
        };
        let tiny = record["volume_error"].as_f64().map_or_else(String::new, |value| format!("{value:.0e}"));
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {tiny} | {} | {} | {} | {} |",
            record["id"].as_str().unwrap_or_default(),
            number("pieces", 0),
            number("at_least", 0),
            number("grid_pieces", 0),
            number("visible_mm", 0),
            number("grid_visible_mm", 0),
            number("detail_mm", 0),
            number("grid_detail_mm", 0),
            number("loads", 0),
            number("held", 0),
            number("worst_margin_mm", 2),
            if holds(record) { "holds".to_string() } else { wrong(record) },
            record["judged"].as_str().unwrap_or_default(),
            number("plan_s", 1),
            number("audit_s", 1),
        );
    }
    text
}

/// How plans compare with the plain grid and the proven least, over rows that do not fit whole and whose
/// grid has at most 12 pieces; medians over those where the grid's figure is not zero.
fn seams_said(what: &str, records: &[&Value]) -> String {
    let of = |record: &Value, field: &str| record[field].as_f64().unwrap_or(0.0);
    let cut: Vec<&&Value> = records
        .iter()
        .filter(|record| of(record, "pieces") > 1.0 && (2.0..=12.0).contains(&of(record, "grid_pieces")))
        .collect();
    let within =
        |most: f64| cut.iter().filter(|record| of(record, "pieces") - of(record, "at_least") <= most).count();
    let median = |field: &str, grid: &str| {
        let mut shares: Vec<f64> = cut
            .iter()
            .filter(|record| of(record, grid) > 0.0)
            .map(|record| 100.0 * of(record, field) / of(record, grid))
            .collect();
        shares.sort_by(f64::total_cmp);
        shares.get(shares.len() / 2).copied().unwrap_or(0.0)
    };
    format!(
        "Of {} {what} that do not fit whole and whose grid has at most 12 pieces, {} have the fewest pieces,\n\
         proved, and {} at most one more than proved. Medians there: through-detail line {:.0} % of the grid's, visible line {:.0} %.",
        cut.len(),
        within(0.0),
        within(1.0),
        median("detail_mm", "grid_detail_mm"),
        median("visible_mm", "grid_visible_mm"),
    )
}

/// A number that changes with the bytes of a file.
fn number_of_file(file: &Path) -> Result<u64> {
    let bytes = std::fs::read(file).with_context(|| format!("{} cannot be read", place::shown(file)))?;
    Ok(bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash: u64, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_rows_that_are_cut_and_have_a_small_grid_count() {
        let row = |pieces: u64, at_least: u64, grid: u64, detail: f64| {
            json!({ "pieces": pieces, "at_least": at_least, "grid_pieces": grid, "detail_mm": detail,
                "grid_detail_mm": 100.0, "visible_mm": 50.0, "grid_visible_mm": 0.0 })
        };
        // Fits whole; grid too large; then one proved, one off by one, one by two.
        let rows = [
            row(1, 1, 4, 0.0),
            row(9, 5, 13, 1.0),
            row(2, 2, 4, 10.0),
            row(4, 3, 6, 30.0),
            row(6, 4, 9, 90.0),
        ];
        let said = seams_said("rows", &rows.iter().collect::<Vec<_>>());
        assert!(said.starts_with("Of 3 rows"), "{said}");
        assert!(said.contains("12 pieces, 1 have the fewest pieces,\nproved, and 2 at most"), "{said}");
        assert!(said.contains("through-detail line 30 %") && said.contains("visible line 0 %"), "{said}");
    }

    #[test]
    fn a_row_that_no_library_judged_does_not_hold() {
        let good = json!({ "judged": "9 passed, 0 failed, 0 skipped", "judged_failed": [] });
        assert!(holds(&good));
        assert!(!holds(&json!({ "judged": "0 passed, 0 failed, 0 skipped", "judged_failed": [] })));
        assert!(!holds(&json!({ "error": "plan ended with 1" })));
        assert!(!holds(&json!({ "judged": "9 passed, 1 failed, 0 skipped", "judged_failed": ["closed"] })));
    }
}
