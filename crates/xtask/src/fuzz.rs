//! `cargo xtask fuzz`: hostile input for readers, mending, cutting and project files.
//!
//! Without a target, sample files (the reference data's corner and broken files, or the kept ones of
//! `crates/fuzz/corpus`) are spoiled at random; a table says how many mutants got past the header, how
//! many were read, what panicked or hung, and what is left in `target/fuzz/findings/`.
//! `--guided NAME` builds `crates/fuzz/guided` with the compiler's coverage counters and lets them
//! lead for `--seconds`; what it keeps is in `target/fuzz/corpus/NAME`.
//! `--coverage` runs the random mutants once more under line counters and prints each reader's share.
//! Not here: what is tried and how files are spoiled (`crates/fuzz`).

mod coverage;
mod guided;

use crate::place;
use anyhow::{Context, Result, bail};
use seamwright_fuzz::mutants::{Sample, Sequence};
use seamwright_fuzz::targets::{AND_AFTER, Reached, read_as};
use std::collections::BTreeMap;
use std::panic;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

#[derive(clap::Args)]
pub struct Options {
    /// Mutants in all
    #[arg(long, default_value_t = 1_000_000)]
    mutants: u64,
    /// Seed of what is spoiled
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Samples larger than this many bytes are left out: a mutant of a large file takes long
    #[arg(long, default_value_t = 70_000)]
    largest: u64,
    /// Let coverage lead on this target instead: stl, obj, ply, off, 3mf, 3mf-model, mend, unite, cut or project
    #[arg(long, value_name = "NAME")]
    guided: Option<String>,
    /// How long coverage leads
    #[arg(long, default_value_t = 3600)]
    seconds: u64,
    /// Also print the lines of each reader that the mutants run through; takes llvm-tools
    #[arg(long)]
    coverage: bool,
}

/// A mutant that takes longer counts as hung.
const HUNG: Duration = Duration::from_secs(10);

/// What became of the mutants of one format.
#[derive(Default)]
struct Row {
    n_mutants: u64,
    n_past_header: u64,
    n_read: u64,
    n_panics: u64,
    n_hung: u64,
    slowest: Duration,
}

impl Row {
    fn add(&mut self, other: &Self) {
        self.n_mutants += other.n_mutants;
        self.n_past_header += other.n_past_header;
        self.n_read += other.n_read;
        self.n_panics += other.n_panics;
        self.n_hung += other.n_hung;
        self.slowest = self.slowest.max(other.slowest);
    }
}

/// Fuzzes; false where something panicked or hung.
///
/// # Errors
/// When samples cannot be read or the guided fuzzer cannot be built.
pub fn run(options: &Options) -> Result<bool> {
    if let Some(name) = &options.guided {
        return guided::run(name, options.seconds);
    }
    if options.coverage {
        return coverage::run(options.mutants, options.seed);
    }
    let samples = samples(options.largest)?;
    let findings = place::target().join("fuzz/findings");
    std::fs::create_dir_all(&findings)?;
    println!("{} samples, {} mutants, seed {}", samples.len(), options.mutants, options.seed);
    let rows: Mutex<BTreeMap<String, Row>> = Mutex::default();
    let n_done = AtomicU64::new(0);
    // A million takes hours: whoever ends it earlier gets the table of what was done.
    let is_ended = Arc::new(AtomicBool::new(false));
    let heard = Arc::clone(&is_ended);
    ctrlc::set_handler(move || heard.store(true, Ordering::Relaxed))?;
    let n_threads = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    // A panic is caught and counted; its message would fill the screen.
    let before = panic::take_hook();
    panic::set_hook(Box::new(|_| {}));
    std::thread::scope(|scope| {
        for thread in 0..n_threads {
            let shared = Shared { rows: &rows, n_done: &n_done, is_ended: &is_ended, findings: &findings };
            let samples = &samples;
            let share = options.mutants / n_threads + u64::from(thread < options.mutants % n_threads);
            let seed = options.seed * 1000 + thread;
            scope.spawn(move || spoil(samples, share, seed, &shared));
        }
    });
    panic::set_hook(before);
    let rows = rows.into_inner().unwrap_or_default();
    Ok(print(&rows, &findings))
}

struct Shared<'a> {
    rows: &'a Mutex<BTreeMap<String, Row>>,
    n_done: &'a AtomicU64,
    is_ended: &'a AtomicBool,
    findings: &'a Path,
}

fn spoil(samples: &[Sample], share: u64, seed: u64, shared: &Shared) {
    let mut sequence = Sequence::new(seed);
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    for index in (0..share).take_while(|_| !shared.is_ended.load(Ordering::Relaxed)) {
        let sample = &samples[sequence.below(samples.len())];
        let mutant = sample.mutant(&mut sequence);
        let begun = Instant::now();
        let ended = panic::catch_unwind(|| read_as(&mutant, &sample.name, index % AND_AFTER == 0));
        let took = begun.elapsed();
        let row = rows.entry(ending(&sample.name)).or_default();
        row.n_mutants += 1;
        row.slowest = row.slowest.max(took);
        row.n_hung += u64::from(took > HUNG);
        match &ended {
            Ok(reached) => {
                row.n_past_header += u64::from(*reached != Reached::Header);
                row.n_read += u64::from(*reached == Reached::Whole);
            }
            Err(_) => row.n_panics += 1,
        }
        if ended.is_err() || took > HUNG {
            let name = format!(
                "{seed}-{index}-{}",
                Path::new(&sample.name)
                    .file_name()
                    .map_or_else(String::new, |n| n.to_string_lossy().into_owned())
            );
            // What cannot be kept is still counted.
            let _ = std::fs::write(shared.findings.join(name), &mutant);
        }
        let done = shared.n_done.fetch_add(1, Ordering::Relaxed) + 1;
        if done.is_multiple_of(100_000) {
            eprintln!("{done} mutants");
        }
    }
    if let Ok(mut all) = shared.rows.lock() {
        for (name, row) in rows {
            all.entry(name).or_default().add(&row);
        }
    }
}

fn print(rows: &BTreeMap<String, Row>, findings: &Path) -> bool {
    println!(
        "{:8} {:>9} {:>12} {:>9} {:>7} {:>5} {:>10}",
        "format", "mutants", "past header", "read", "panics", "hung", "slowest"
    );
    let mut whole = Row::default();
    let line = |name: &str, row: &Row| {
        let share = 100.0 * row.n_past_header as f64 / row.n_mutants.max(1) as f64;
        let slowest = row.slowest.as_secs_f64() * 1000.0;
        println!(
            "{name:8} {:>9} {share:>10.1} % {:>9} {:>7} {:>5} {slowest:>7.0} ms",
            row.n_mutants, row.n_read, row.n_panics, row.n_hung
        );
    };
    for (name, row) in rows {
        line(name, row);
        whole.add(row);
    }
    line("all", &whole);
    let is_well = whole.n_panics + whole.n_hung == 0;
    if !is_well {
        println!("kept in {}", place::shown(findings));
    }
    is_well
}

fn ending(name: &str) -> String {
    Path::new(name).extension().map_or_else(String::new, |e| e.to_string_lossy().to_lowercase())
}

/// Sound and broken files of every format.
fn samples(largest: u64) -> Result<Vec<Sample>> {
    let mut files = Vec::new();
    match place::reference_data() {
        Some(data) => {
            ["corner", "nasty"].iter().try_for_each(|folder| collect(&data.join(folder), &mut files))?
        }
        None => {
            eprintln!("SEAMWRIGHT_REFERENCE is not set: the kept corpus alone is spoiled");
        }
    }
    collect(&place::root().join("crates/fuzz/corpus"), &mut files)?;
    files.sort();
    let mut samples = Vec::new();
    for file in files {
        let known = ["stl", "obj", "ply", "off", "3mf"].contains(&ending(&file.to_string_lossy()).as_str());
        let size = std::fs::metadata(&file)?.len();
        if known && size <= largest {
            let bytes = std::fs::read(&file).with_context(|| file.display().to_string())?;
            samples.push(Sample::new(file.to_string_lossy().into_owned(), bytes));
        }
    }
    if samples.is_empty() {
        bail!("no sample files");
    }
    Ok(samples)
}

/// All files below a folder, after those there are.
pub fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> Result<()> {
    let entries = std::fs::read_dir(folder).with_context(|| folder.display().to_string())?;
    for entry in entries {
        let path = entry?.path();
        if path.is_dir() { collect(&path, files)? } else { files.push(path) }
    }
    Ok(())
}
