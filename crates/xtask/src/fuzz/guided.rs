//! Coverage-guided fuzzing of one target.
//!
//! How: the compiler's pass that counts edges is switched on by stable flags; the library that reads
//! the counters and leads is libFuzzer, built by the crate `libfuzzer-sys`.

use crate::place;
use anyhow::{Context, Result, bail};
use seamwright_fuzz::kept;
use seamwright_fuzz::targets::{self, TARGETS};
use std::path::Path;
use std::process::Command;

/// Edge counters of one byte in an array, with a table of places: what libFuzzer reads.
const FLAGS: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1";

/// Runs the target for so many seconds; false where it found something.
///
/// # Errors
/// When the name is no target or the fuzzer cannot be built.
pub fn run(name: &str, seconds: u64) -> Result<bool> {
    let Some(target) = targets::named(name) else {
        bail!("{name} is no target; there are {}", TARGETS.each_ref().map(|t| t.name).join(", "));
    };
    let guided = place::root().join("crates/fuzz/guided");
    let built = place::target().join("fuzz/build");
    let mut build = place::cargo();
    build.args(["build", "--release", "--quiet", "--target", "x86_64-unknown-linux-gnu", "--manifest-path"]);
    build.arg(guided.join("Cargo.toml")).arg("--target-dir").arg(&built).env("RUSTFLAGS", FLAGS);
    place::run(&mut build)?;
    let folder = place::target().join("fuzz/corpus").join(name);
    std::fs::create_dir_all(&folder)?;
    seed(&folder, target.ending, name)?;
    let findings = place::target().join("fuzz/findings").join(name);
    std::fs::create_dir_all(&findings)?;
    let program = built.join("x86_64-unknown-linux-gnu/release/seamwright-fuzz-guided");
    let status = Command::new(&program)
        .arg(&folder)
        .arg(format!("-max_total_time={seconds}"))
        // Seconds of the clock, so longer than [`super::HUNG`]: the machine may have other things to do.
        .args(["-max_len=4096", "-timeout=30", "-rss_limit_mb=1024", "-print_final_stats=1", "-verbosity=1"])
        .arg(format!("-artifact_prefix={}/", findings.display()))
        .env("FUZZ_TARGET", name)
        .status()
        .with_context(|| program.display().to_string())?;
    keep(name, &folder)?;
    Ok(status.success())
}

/// Writes what the run came to beside the sources, to be committed or not.
fn keep(name: &str, folder: &Path) -> Result<()> {
    let mut files = Vec::new();
    super::collect(folder, &mut files)?;
    files.sort();
    let inputs = files.iter().map(std::fs::read).collect::<Result<Vec<_>, _>>()?;
    let file = place::root().join("crates/fuzz/corpus").join(format!("{name}.inputs"));
    std::fs::write(&file, kept::file_of(inputs.iter().map(Vec::as_slice)))?;
    println!("{} inputs in {}", inputs.len(), place::shown(&file));
    Ok(())
}

/// Puts what is kept of this target, and small samples of its format, into the folder it starts from.
fn seed(folder: &Path, ending: &str, name: &str) -> Result<()> {
    const SMALL: u64 = 4096;
    // All soups are of one kind: what mending came to is a start for the others.
    let from = if ending == "soup" && name != "mend" { &[name, "mend"][..] } else { &[name] };
    for name in from {
        let kept = place::root().join("crates/fuzz/corpus").join(format!("{name}.inputs"));
        for (number, input) in kept::inputs(&std::fs::read(kept).unwrap_or_default()).into_iter().enumerate()
        {
            std::fs::write(folder.join(format!("{name}-{number}")), input)?;
        }
    }
    let mut files = Vec::new();
    if let Some(data) = place::reference_data() {
        super::collect(&data.join("corner"), &mut files)?;
        super::collect(&data.join("nasty"), &mut files)?;
    }
    for file in files {
        let fits =
            super::ending(&file.to_string_lossy()) == ending && std::fs::metadata(&file)?.len() <= SMALL;
        if fits {
            let name = file.file_name().unwrap_or_default();
            std::fs::write(folder.join(name), std::fs::read(&file)?)?;
        }
    }
    Ok(())
}
