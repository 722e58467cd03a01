//! The lines of each reader that random mutants run through.
//!
//! How: this program is built once more with the compiler's line counters and runs the mutants; the
//! counts are read with llvm-profdata and llvm-cov of the toolchain (`rustup component add llvm-tools`).

use crate::place;
use anyhow::{Context, Result};
use serde_json::Value;
use std::path::PathBuf;
use std::process::Command;

/// Prints a line a file of the readers; false where a mutant panicked or hung.
///
/// # Errors
/// When the tools are missing or the counters cannot be read.
pub fn run(n_mutants: u64, seed: u64) -> Result<bool> {
    place::run(Command::new("rustup").args(["component", "add", "llvm-tools"]).current_dir(place::root()))?;
    let folder = place::target().join("fuzz/coverage");
    let raw = folder.join("counts.profraw");
    std::fs::create_dir_all(&folder)?;
    let built = folder.join("build");
    let mut build = place::cargo();
    build.args(["build", "--release", "--quiet", "-p", "xtask", "--target-dir"]).arg(&built);
    // Build scripts count too; where they are told nothing they leave their counts in the sources.
    build.env("RUSTFLAGS", "-Cinstrument-coverage").env("LLVM_PROFILE_FILE", folder.join("build.profraw"));
    place::run(&mut build)?;
    let program = built.join("release/xtask");
    let mut counted = Command::new(&program);
    counted.args(["fuzz", "--mutants", &n_mutants.to_string(), "--seed", &seed.to_string()]);
    let status = counted.env("LLVM_PROFILE_FILE", &raw).current_dir(place::root()).status()?;
    let merged = folder.join("counts.profdata");
    place::run(
        Command::new(tool("llvm-profdata")?).args(["merge", "-sparse"]).arg(&raw).arg("-o").arg(&merged),
    )?;
    let export = Command::new(tool("llvm-cov")?)
        .args(["export", "-summary-only", "-instr-profile"])
        .arg(&merged)
        .arg(&program)
        .output()?;
    let counts: Value = serde_json::from_slice(&export.stdout).context("llvm-cov export")?;
    println!("{:44} {:>7} {:>9}", "file", "lines", "run");
    for file in counts["data"][0]["files"].as_array().into_iter().flatten() {
        let name = file["filename"].as_str().unwrap_or_default();
        let Some(at) = name
            .find("crates/mesh/src/")
            .filter(|_| ["/read/", "/mend/", "/unite/"].iter().any(|room| name.contains(room)))
        else {
            continue;
        };
        let lines = &file["summary"]["lines"];
        let (count, covered) = (lines["count"].as_u64().unwrap_or(0), lines["covered"].as_u64().unwrap_or(0));
        if count > 0 && !name.contains("/tests") {
            println!("{:44} {count:>7} {:>7.1} %", &name[at..], 100.0 * covered as f64 / count as f64);
        }
    }
    Ok(status.success())
}

/// A program of the toolchain's llvm-tools.
fn tool(name: &str) -> Result<PathBuf> {
    let heard =
        place::quiet(Command::new("rustc").args(["--print", "target-libdir"]).current_dir(place::root()))?;
    let library = PathBuf::from(heard.out.trim());
    Ok(library.parent().context("no folder of the toolchain")?.join("bin").join(name))
}
