//! npm for the page: packages of the lock file, and its scripts.

use crate::place;
use anyhow::{Context, Result};
use std::path::PathBuf;
use std::process::Command;

/// `www/`.
pub fn folder() -> PathBuf {
    place::root().join("www")
}

/// npm, started in `www/`.
pub fn npm() -> Command {
    let mut command = Command::new(if cfg!(windows) { "npm.cmd" } else { "npm" });
    command.current_dir(folder());
    command
}

/// Installs what the lock file names, unless it is there already.
///
/// # Errors
/// When npm is missing or fails.
pub fn install() -> Result<()> {
    let lock = std::fs::read(folder().join("package-lock.json")).context("www/package-lock.json")?;
    // npm writes its own lock after the packages; ours beside it says for which one they are.
    let mark = folder().join("node_modules/.seamwright-lock");
    if std::fs::read(&mark).is_ok_and(|kept| kept == lock) {
        return Ok(());
    }
    place::run(npm().args(["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"]))
        .context("the page needs Node 20.19 or newer with npm")?;
    std::fs::write(&mark, lock).context("www/node_modules cannot be written")
}
