//! Plan folders on disk: read whole, written whole or not at all.

use anyhow::{Context, Result, bail};
use seamwright_plan::audit::Folder;
use seamwright_plan::project::PROJECT_FILE;
use seamwright_plan::records::PLAN_FORMAT;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Reads every file below `dir`.
///
/// # Errors
/// Names the path that cannot be read.
pub fn read(dir: &Path) -> Result<Folder> {
    recover(dir);
    let mut files = BTreeMap::new();
    collect(dir, "", &mut files)?;
    Ok(Folder { files })
}

fn collect(dir: &Path, prefix: &str, files: &mut BTreeMap<String, Vec<u8>>) -> Result<()> {
    let entries = fs::read_dir(dir).with_context(|| format!("{} cannot be read", dir.display()))?;
    for entry in entries {
        let entry = entry.with_context(|| format!("{} cannot be read", dir.display()))?;
        let path = entry.path();
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if path.is_dir() {
            collect(&path, &format!("{name}/"), files)?;
        } else {
            files
                .insert(name, fs::read(&path).with_context(|| format!("{} cannot be read", path.display()))?);
        }
    }
    Ok(())
}

/// Whether `dir` may be replaced: missing, empty, or an earlier plan and nothing else.
///
/// # Errors
/// Names what stands in the way.
pub fn may_replace(dir: &Path, force: bool) -> Result<()> {
    recover(dir);
    if force && dir.is_dir() || !dir.exists() {
        return Ok(());
    }
    if !dir.is_dir() {
        bail!("{} is not a folder", dir.display());
    }
    let mut names = BTreeSet::new();
    list(dir, "", &mut names)?;
    if names.is_empty() {
        return Ok(());
    }
    let Some(own) = earlier_plan(dir) else {
        bail!("{} is not empty and holds no plan; --force replaces it", dir.display());
    };
    if let Some(other) = names.difference(&own).next() {
        bail!("{} holds {other}, which is no part of its plan; --force replaces it", dir.display());
    }
    Ok(())
}

/// Names of all files below `dir`, unread; a folder without any counts as itself.
fn list(dir: &Path, prefix: &str, names: &mut BTreeSet<String>) -> Result<()> {
    let before = names.len();
    for entry in fs::read_dir(dir).with_context(|| format!("{} cannot be read", dir.display()))? {
        let entry = entry.with_context(|| format!("{} cannot be read", dir.display()))?;
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            list(&entry.path(), &format!("{name}/"), names)?;
        } else {
            names.insert(name);
        }
    }
    if names.len() == before && !prefix.is_empty() {
        names.insert(prefix.to_owned());
    }
    Ok(())
}

/// The files an earlier plan may have written; `None` where there is no plan. Read leniently: a
/// plan of another version is still a plan.
fn earlier_plan(dir: &Path) -> Option<BTreeSet<String>> {
    let plan: serde_json::Value = serde_json::from_slice(&fs::read(dir.join("plan.json")).ok()?).ok()?;
    if plan["format"] != PLAN_FORMAT {
        return None;
    }
    let mut own: BTreeSet<String> =
        ["plan.json", "run.json", "sheet.html", PROJECT_FILE].into_iter().map(String::from).collect();
    for list in ["items", "pieces", "extras", "loads"] {
        for record in plan[list].as_array().into_iter().flatten() {
            own.extend(record["file"].as_str().map(String::from));
            if let Some(id) = record["id"].as_str() {
                own.insert(if list == "loads" {
                    format!("loads/{id}.svg")
                } else {
                    format!("posed/{id}.stl")
                });
            }
        }
    }
    Some(own)
}

/// What stands beside `dir` while it is replaced.
fn beside(dir: &Path, what: &str) -> PathBuf {
    let mut name = dir.file_name().unwrap_or_default().to_os_string();
    name.push(what);
    dir.with_file_name(name)
}

/// Makes good what a process that was killed while it replaced `dir` has left: the earlier plan is put back
/// where it was set aside and the new one was not there yet, and what is half written is removed.
fn recover(dir: &Path) {
    let dir = &fs::canonicalize(dir).unwrap_or_else(|_| dir.to_path_buf());
    let Some(parent) = dir.parent().map(|p| if p.as_os_str().is_empty() { Path::new(".") } else { p }) else {
        return;
    };
    let left = |what: &str| -> Vec<PathBuf> {
        let start = beside(dir, what).file_name().unwrap_or_default().to_string_lossy().into_owned();
        let entries = fs::read_dir(parent).into_iter().flatten().filter_map(Result::ok);
        let is_left = |entry: &fs::DirEntry| {
            let name = entry.file_name();
            let process = name.to_string_lossy().strip_prefix(&start).and_then(|id| id.parse::<u32>().ok());
            process.is_some_and(|id| !may_run(id))
        };
        entries.filter(is_left).map(|entry| entry.path()).collect()
    };
    for old in left(OLD) {
        if !dir.exists() && earlier_plan(&old).is_some() {
            let _ = fs::rename(&old, dir);
        } else if holds_plan_alone(&old) {
            let _ = fs::remove_dir_all(&old);
        }
    }
    left(NEW).iter().filter(|new| holds_plan_alone(new)).for_each(|new| {
        let _ = fs::remove_dir_all(new);
    });
}

/// Whether a process of this number may still run; where that cannot be told, it may.
fn may_run(process: u32) -> bool {
    let processes = Path::new("/proc");
    !processes.join("self").exists() || processes.join(process.to_string()).exists()
}

/// Whether a folder holds nothing but what a plan is written as, whole or not.
fn holds_plan_alone(dir: &Path) -> bool {
    const OWN: [&str; 9] =
        ["extras", "items", "loads", "pieces", "plan.json", "posed", "run.json", "sheet.html", PROJECT_FILE];
    let Ok(entries) = fs::read_dir(dir) else { return false };
    entries.filter_map(Result::ok).all(|entry| OWN.contains(&&*entry.file_name().to_string_lossy()))
}

const NEW: &str = ".new-";
const OLD: &str = ".old-";

/// Writes `folder` beside `dir` and puts it in its place.
///
/// # Errors
/// Names the path that cannot be written; `dir` is as it was then.
pub fn replace(dir: &Path, folder: &Folder) -> Result<()> {
    // `.` and links have no name of their own to write beside.
    let dir = &fs::canonicalize(dir).unwrap_or_else(|_| dir.to_path_buf());
    let [new, old] = [NEW, OLD].map(|what| beside(dir, &format!("{what}{}", std::process::id())));
    let written = write_all(&new, folder);
    if written.is_err() {
        let _ = fs::remove_dir_all(&new);
    }
    written?;
    let there = dir.exists();
    if there && let Err(error) = fs::rename(dir, &old) {
        let _ = fs::remove_dir_all(&new);
        return Err(error).with_context(|| format!("{} cannot be replaced", dir.display()));
    }
    if let Err(error) = fs::rename(&new, dir) {
        if there {
            let _ = fs::rename(&old, dir);
        }
        let _ = fs::remove_dir_all(&new);
        return Err(error).with_context(|| format!("{} cannot be written", dir.display()));
    }
    if there {
        fs::remove_dir_all(&old).with_context(|| format!("{} cannot be removed", old.display()))?;
    }
    Ok(())
}

fn write_all(dir: &Path, folder: &Folder) -> Result<()> {
    for (name, bytes) in &folder.files {
        let path = dir.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).with_context(|| format!("{} cannot be made", parent.display()))?;
        }
        fs::write(&path, bytes).with_context(|| format!("{} cannot be written", path.display()))?;
    }
    Ok(())
}
