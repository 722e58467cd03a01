//! Where things are and how other programs are run.
//!
//! The workspace root is where this crate was compiled from; everything written goes below the
//! target directory. A program that cannot be started is an error that names it.

use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The checkout.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here).to_path_buf()
}

/// Where cargo builds and chores write: `CARGO_TARGET_DIR` or `target`.
pub fn target() -> PathBuf {
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), |dir| root().join(dir))
}

/// A path as a person in the checkout would type it.
pub fn shown(path: &Path) -> String {
    path.strip_prefix(root()).unwrap_or(path).display().to_string()
}

/// The folder of reference data, if the environment names one that exists.
pub fn reference_data() -> Option<PathBuf> {
    let dir = root().join(std::env::var_os("SEAMWRIGHT_REFERENCE")?);
    dir.is_dir().then_some(dir)
}

/// Builds the native program and says where it is.
///
/// # Errors
/// When the build fails.
pub fn built_program(release: bool) -> Result<PathBuf> {
    let mut build = cargo();
    build.args(["build", "--package", "seamwright"]);
    if release {
        build.arg("--release");
    }
    run(&mut build)?;
    let profile = if release { "release" } else { "debug" };
    Ok(target().join(profile).join(format!("seamwright{}", std::env::consts::EXE_SUFFIX)))
}

/// Cargo, started in the checkout.
pub fn cargo() -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(root());
    command
}

/// Runs a program with its output shown.
///
/// # Errors
/// When it cannot be started or does not end with 0.
pub fn run(command: &mut Command) -> Result<()> {
    let status = command.status().with_context(|| format!("{} cannot be started", name(command)))?;
    if !status.success() {
        bail!("{} ended with {status}", said(command));
    }
    Ok(())
}

/// Runs a program quietly: its output, and whether it ended with 0.
///
/// # Errors
/// When it cannot be started.
pub fn quiet(command: &mut Command) -> Result<Heard> {
    let output = command
        .stdin(Stdio::null())
        .output()
        .with_context(|| format!("{} cannot be started", name(command)))?;
    Ok(Heard {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    })
}

/// What a quiet program said.
pub struct Heard {
    /// Exit code; -1 when it was killed.
    pub code: i32,
    /// Its stdout.
    pub out: String,
    /// Its stderr.
    pub err: String,
}

impl Heard {
    /// The first line of its stderr, where a program lists what it found.
    pub fn first_line(&self) -> String {
        self.err.lines().find(|line| !line.trim().is_empty()).unwrap_or("no output").trim().to_string()
    }

    /// The last line that says something, for a one-line reason.
    pub fn last_line(&self) -> String {
        let mut lines = self.err.lines().chain(self.out.lines());
        lines.rfind(|line| !line.trim().is_empty()).unwrap_or("no output").trim().to_string()
    }
}

/// Whether a program answers `--version`.
pub fn have(program: &str) -> bool {
    Command::new(program)
        .arg("--version")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

fn name(command: &Command) -> String {
    command.get_program().to_string_lossy().into_owned()
}

fn said(command: &Command) -> String {
    let mut words = vec![name(command)];
    words.extend(command.get_args().map(|word| word.to_string_lossy().into_owned()));
    words.join(" ")
}
