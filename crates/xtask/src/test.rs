//! `cargo xtask test`: every kind of check on a sample; the last line is the total.
//!
//! Four parts: the Rust tests of all crates, plans of sample rows with their audits, the same
//! folders judged by the reference libraries, with independent cuts and bends beside ours, and the page: built,
//! then tested in node and in a real browser. Work is counted
//! (`--effort`), so the result does not depend on the machine. What cannot run is named and counted
//! as skipped; with `--require-all` (where the reference data is there) a skip is a failure.
//! One profile: the program tested here is the one with debug assertions.

use crate::folders::{self, Work};
use crate::page::checks;
use crate::rows::{self, Row};
use crate::tally::{Tally, heading};
use crate::{bends, cut, formats, place, reference, unions};
use anyhow::{Context, Result};
use std::path::{Path, PathBuf};

/// Options of `test`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// Rust tests and the smallest row only; the rest is counted as skipped
    #[arg(long)]
    quick: bool,
    /// A check that cannot run is a failure
    #[arg(long)]
    require_all: bool,
    /// Rounds a sample plan may take
    #[arg(long, default_value_t = 2)]
    effort: u32,
}

/// Volume the bunny is scaled to, in cm3, and the pieces a published automatic method needs on the
/// bed below are 10; see `tests/SOURCES.md`, row `bunny`.
const BUNNY_CM3: &str = "6003.38";

/// Most pieces for the reference sword of 1.1 m on a bed of 220x220x250: the aim of this project.
pub const SWORD_PIECES: usize = 5;

/// Names of rows that cannot be planned here, each with the reason.
type Missing = Vec<(String, String)>;

/// Returns whether nothing failed.
///
/// # Errors
/// When a chore itself breaks (the build, the disk).
pub fn run(options: &Options) -> Result<bool> {
    let mut tally = Tally::default();
    rust_tests(&mut tally)?;
    let program = place::built_program(false)?;
    let work = Work { effort: options.effort, threads: 2 };
    let dir = place::target().join("reference");
    std::fs::create_dir_all(&dir)?;
    let samples = Samples { program: program.clone(), work, dir, quick: options.quick };
    samples.run(&mut tally)?;
    heading("the page");
    if options.quick {
        tally.skip("the page", "left out by --quick");
    } else {
        checks::run(&program, &mut tally)?;
    }
    tally.print_what_did_not_pass();
    let refused = options.require_all && !tally.skipped.is_empty();
    if refused {
        println!("nothing may be skipped here: the reference data is at hand");
    }
    println!("{tally}");
    Ok(tally.failed.is_empty() && !refused)
}

fn rust_tests(tally: &mut Tally) -> Result<()> {
    heading("Rust tests");
    let mut command = place::cargo();
    // The page's crate has no native tests, and what it asks of shared crates would have them all built
    // twice: 5 of 21 minutes of building.
    command.args([
        "test",
        "--workspace",
        "--exclude",
        "seamwright-web",
        "--no-fail-fast",
        "--",
        "--show-output",
    ]);
    let heard = place::quiet(&mut command)?;
    let n_failed_before = tally.failed.len();
    let n_binaries = tally.add_cargo_test(&heard.out);
    let mut shown: Vec<&str> = heard.out.lines().filter(|line| line.starts_with("test result")).collect();
    if heard.code != 0 {
        shown = heard.out.lines().filter(|line| !line.ends_with("... ok")).collect();
        eprintln!("{}", heard.err);
    }
    println!("{}", shown.join("\n"));
    if n_binaries == 0 || (heard.code != 0 && tally.failed.len() == n_failed_before) {
        tally.fail("cargo test", &heard.last_line());
    }
    Ok(())
}

struct Samples {
    program: PathBuf,
    work: Work,
    dir: PathBuf,
    quick: bool,
}

impl Samples {
    fn run(&self, tally: &mut Tally) -> Result<()> {
        heading("plans of sample rows");
        let left_out = || Err("left out by --quick".to_string());
        let python = if self.quick { left_out() } else { reference::python() };
        let npm = if self.quick { left_out() } else { reference::npm() };
        let (rows, missing) = self.rows(npm.as_deref())?;
        let mut folders = Vec::new();
        for row in &rows {
            folders.extend(self.plan_and_audit(row, tally)?);
        }
        for (name, reason) in &missing {
            tally.skip(&format!("plan {name}"), reason);
        }
        self.same_bytes(tally)?;
        if self.quick {
            tally.skip("demo meshes made again", "left out by --quick");
        } else {
            demo_again(tally)?;
        }

        heading("reference libraries");
        let cuts = cut::write_cases(&self.dir.join("cuts"))?;
        let bends = bends::write_cases(&self.dir.join("bends"))?;
        let unions = unions::write_cases(&self.dir.join("unions"))?;
        let formats = formats::write_cases(&self.dir.join("formats"))?;
        match &python {
            Ok(python) => {
                reference::run_python(python, "folders", &folders, tally);
                reference::run_python(python, "cuts", std::slice::from_ref(&cuts), tally);
                reference::run_python(python, "bends", &[bends], tally);
                reference::run_python(python, "unions", &[unions], tally);
                reference::run_python(python, "formats", &[formats, self.program.clone()], tally);
            }
            Err(reason) => {
                for row in &rows {
                    tally.skip(&format!("{} by trimesh and lib3mf", row.id), reason);
                }
                tally.skip("cuts by trimesh and manifold3d", reason);
                tally.skip("bends by libigl", reason);
                tally.skip("unions by manifold3d", reason);
                tally.skip("formats by trimesh and lib3mf", reason);
            }
        }
        match &npm {
            Ok(_) => reference::run_node("cuts", &[cuts], tally),
            Err(reason) => tally.skip("cuts by manifold-3d", reason),
        }
        Ok(())
    }

    /// The sample rows that can be planned here, and the names of those that cannot, with why.
    fn rows(&self, npm: Result<&Path, &String>) -> Result<(Vec<Row>, Missing)> {
        let mut missing = Vec::new();
        let mut rows = vec![rows::letter("180x180x180")];
        if self.quick {
            return Ok((rows, vec![("all other rows".to_string(), "left out by --quick".to_string())]));
        }
        for (i, (name, argument)) in rows::costume()?.into_iter().enumerate() {
            rows.push(Row::new(name, argument, rows::STANDARD_BEDS[i % 4]));
        }
        let sample = [
            ("sword-1100mm", "220x220x250", Some(SWORD_PIECES)),
            ("helmet-crested", "180x180x180", None),
            ("bust-museum", "d260x300", None),
            ("spot-low-resolution", "256x256x256", None),
            ("torus-r60-r15", "180x180x180", None),
            ("cube-vertices-on-cut-planes", "180x180x180", None),
        ];
        for (name, bed, pieces_at_most) in sample {
            match place::reference_data() {
                Some(data) => {
                    let mut row = Row::new(name, rows::reference_model(&data, name)?.argument, bed);
                    row.pieces_at_most = pieces_at_most;
                    rows.push(row);
                }
                None => missing.push((name.to_string(), "SEAMWRIGHT_REFERENCE is not set".to_string())),
            }
        }
        match npm {
            Ok(_) => rows.push(bunny_row(&self.dir)?),
            Err(reason) => missing.push(("bunny".to_string(), reason.clone())),
        }
        Ok((rows, missing))
    }

    fn plan_and_audit(&self, row: &Row, tally: &mut Tally) -> Result<Option<PathBuf>> {
        let name = format!("plan {}", row.id);
        let planned = match folders::plan(&self.program, row, self.work, &self.dir.join(&row.id)) {
            Ok(planned) => planned,
            Err(error) => {
                tally.fail(&name, &format!("{error:#}"));
                return Ok(None);
            }
        };
        let limit = planned.over_limit(row);
        println!(
            "   {}: {} pieces, plain grid {:?}, {} loads, {:.1} s",
            row.id,
            planned.n_pieces(),
            planned.n_grid_pieces().unwrap_or(0),
            planned.n_loads(),
            planned.plan_s
        );
        tally.check(&name, limit.is_none(), limit.as_deref().unwrap_or_default());
        let verdict = folders::audit(&self.program, &planned.folder)?;
        tally.check(&format!("audit {}", row.id), verdict.is_none(), verdict.as_deref().unwrap_or_default());
        Ok(Some(planned.folder))
    }

    /// The same effort and seed give the same bytes with 1, 2 and 4 threads, twice.
    fn same_bytes(&self, tally: &mut Tally) -> Result<()> {
        let (name, argument) = rows::costume()?.pop().context("the costume has items")?;
        let row = Row::new(name, argument, "220x220x250");
        let mut first = None;
        for threads in [1, 2, 4] {
            let work = Work { threads, ..self.work };
            let folder = self.dir.join("same-bytes");
            if let Err(error) = folders::plan(&self.program, &row, work, &folder) {
                tally.fail("same bytes whatever the threads", &format!("{error:#}"));
                return Ok(());
            }
            let bytes = folders::all_bytes(&folder)?;
            let expected = first.get_or_insert_with(|| bytes.clone());
            if *expected != bytes {
                let other = expected.iter().zip(&bytes).find(|(a, b)| a != b).map(|(a, _)| a.0.clone());
                let what = other.unwrap_or_else(|| "the list of files".to_string());
                tally.fail(
                    "same bytes whatever the threads",
                    &format!("{what} differs with {threads} threads"),
                );
                return Ok(());
            }
        }
        tally.ok("same bytes whatever the threads");
        Ok(())
    }
}

/// Making the demo meshes again gives the committed bytes.
fn demo_again(tally: &mut Tally) -> Result<()> {
    let folder = place::root().join("demo-meshes");
    let before = folders::all_bytes(&folder)?;
    let made = place::quiet(std::process::Command::new(std::env::current_exe()?).arg("demo"))?;
    let after = folders::all_bytes(&folder)?;
    let other = before.iter().zip(&after).find(|(a, b)| a != b).map(|(a, _)| a.0.as_str());
    let same = made.code == 0 && before.len() == after.len() && other.is_none();
    tally.check("demo meshes made again", same, other.unwrap_or(&made.last_line()));
    Ok(())
}

/// The bunny of the npm package, written as OBJ into `dir` by a script, on the bed of the published
/// comparison.
///
/// # Errors
/// When the script cannot write it.
pub fn bunny_row(dir: &Path) -> Result<Row> {
    let file = dir.join("bunny.obj");
    let script = place::root().join("tests/reference/bunny.mjs");
    place::run(std::process::Command::new("node").arg(script).arg(&file))?;
    let argument = format!("{}:volume-cm3={BUNNY_CM3},up=y", file.display());
    Ok(Row::new("bunny", argument, "180x170x160").with(&["--margin", "0"]).at_most(9))
}
