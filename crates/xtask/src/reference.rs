//! The reference libraries: a Python venv and an npm folder, pinned, and running scripts in them.
//!
//! trimesh, manifold3d and lib3mf judge our files independently, libigl our bends; they and the npm packages are used
//! in tests only. What cannot be had on a machine is a reason in words, never an error: the checks
//! that need it are counted as skipped by the caller.
//! Needs: `tests/reference/requirements.txt`, `tests/reference/package-lock.json`.

use crate::place;
use crate::tally::Tally;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A library that is ready, or why it is not.
pub type Ready = Result<PathBuf, String>;

/// The Python of the venv with everything in `requirements.txt`.
pub fn python() -> Ready {
    let venv = place::target().join("venv");
    let python = venv.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let list = scripts().join("requirements.txt");
    let wanted = std::fs::read_to_string(&list).map_err(|e| format!("{}: {e}", list.display()))?;
    let done = venv.join("installed.txt");
    if python.is_file() && std::fs::read_to_string(&done).is_ok_and(|have| have == wanted) {
        return Ok(python);
    }
    if !succeeds(Command::new("python3").args(["-c", "import ensurepip, venv"])) {
        system_packages(&["python3", "python3-venv"])?;
    }
    println!("making a Python venv for the reference libraries");
    step(Command::new("python3").args(["-m", "venv", "--clear"]).arg(&venv))?;
    step(
        Command::new(&python)
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"])
            .arg(&list),
    )?;
    std::fs::write(&done, wanted).map_err(|e| format!("{}: {e}", done.display()))?;
    Ok(python)
}

/// The folder with the npm packages installed.
pub fn npm() -> Ready {
    let folder = scripts();
    let lock = folder.join("package-lock.json");
    let wanted = std::fs::read_to_string(&lock).map_err(|e| format!("{}: {e}", lock.display()))?;
    let done = folder.join("node_modules/installed-lock.json");
    if std::fs::read_to_string(&done).is_ok_and(|have| have == wanted) {
        return Ok(folder);
    }
    if !place::have("npm") || !place::have("node") {
        system_packages(&["nodejs", "npm"])?;
    }
    println!("installing the npm reference packages");
    step(
        Command::new("npm")
            .args(["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"])
            .current_dir(&folder),
    )?;
    std::fs::write(&done, wanted).map_err(|e| format!("{}: {e}", done.display()))?;
    Ok(folder)
}

/// Runs `tests/reference/NAME.py` with paths as arguments and counts its lines.
pub fn run_python(python: &Path, name: &str, arguments: &[PathBuf], tally: &mut Tally) {
    let script = scripts().join(format!("{name}.py"));
    count(Command::new(python).arg(script).args(arguments), name, tally);
}

/// Judges one plan folder by trimesh, manifold3d and lib3mf without showing the lines that pass.
pub fn judge_quietly(python: &Path, folder: &Path, tally: &mut Tally) {
    let script = scripts().join("folders.py");
    match place::quiet(Command::new(python).arg(script).arg(folder)) {
        Ok(heard) => tally.add_script("folders", &heard.out, heard.code == 0),
        Err(error) => tally.fail("folders", &format!("{error:#}")),
    }
}

/// Runs `tests/reference/NAME.mjs` with paths as arguments and counts its lines.
pub fn run_node(name: &str, arguments: &[PathBuf], tally: &mut Tally) {
    let script = scripts().join(format!("{name}.mjs"));
    count(Command::new("node").arg(script).args(arguments), name, tally);
}

fn count(command: &mut Command, name: &str, tally: &mut Tally) {
    match place::quiet(command.current_dir(place::root())) {
        Ok(heard) => {
            print!("{}", heard.out);
            eprint!("{}", heard.err);
            tally.add_script(name, &heard.out, heard.code == 0);
        }
        Err(error) => tally.fail(name, &format!("{error:#}")),
    }
}

fn scripts() -> PathBuf {
    place::root().join("tests/reference")
}

fn succeeds(command: &mut Command) -> bool {
    place::quiet(command).is_ok_and(|heard| heard.code == 0)
}

fn step(command: &mut Command) -> Result<(), String> {
    let heard = place::quiet(command).map_err(|error| format!("{error:#}"))?;
    if heard.code == 0 { Ok(()) } else { Err(heard.last_line()) }
}

/// Installs Debian packages where that is allowed; otherwise says what is missing.
///
/// # Errors
/// What is missing, in words.
pub fn system_packages(names: &[&str]) -> Result<(), String> {
    let missing = format!("{} not found", names.join(" and "));
    let is_root = place::quiet(Command::new("id").arg("-u")).is_ok_and(|heard| heard.out.trim() == "0");
    if !is_root || !place::have("apt-get") {
        return Err(missing);
    }
    println!("installing {}", names.join(" "));
    step(Command::new("apt-get").args(["update", "--quiet"])).map_err(|e| format!("{missing}; {e}"))?;
    step(Command::new("apt-get").args(["install", "--yes", "--no-install-recommends"]).args(names))
        .map_err(|e| format!("{missing}; {e}"))
}
