//! Plan folders on disk: read whole, written whole or not at all.

use anyhow::{Context, Result, bail};
use seamwright_plan::audit::Folder;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// What a plan folder may hold at its top.
const OWN: [&str; 9] = [
    "plan.json",
    "run.json",
    "sheet.html",
    "costume.seam.json",
    "items",
    "pieces",
    "extras",
    "loads",
    "posed",
];

/// Reads every file below `dir`.
///
/// # Errors
/// Names the path that cannot be read.
pub fn read(dir: &Path) -> Result<Folder> {
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
    if force && dir.is_dir() || !dir.exists() {
        return Ok(());
    }
    let entries = fs::read_dir(dir).with_context(|| format!("{} is not a folder", dir.display()))?;
    let names: Vec<String> =
        entries.filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned())).collect();
    if let Some(other) = names.iter().find(|name| !OWN.contains(&name.as_str())) {
        bail!("{} holds {other}, which is no part of a plan; --force replaces it", dir.display());
    }
    if !names.is_empty() && !names.iter().any(|name| name == "plan.json") {
        bail!("{} is not empty and holds no plan; --force replaces it", dir.display());
    }
    Ok(())
}

/// Writes `folder` beside `dir` and puts it in its place.
///
/// # Errors
/// Names the path that cannot be written; `dir` is as it was then.
pub fn replace(dir: &Path, folder: &Folder) -> Result<()> {
    let beside = |what: &str| -> PathBuf {
        let mut name = dir.file_name().unwrap_or_default().to_os_string();
        name.push(format!(".{what}-{}", std::process::id()));
        dir.with_file_name(name)
    };
    let (new, old) = (beside("new"), beside("old"));
    let written = write_all(&new, folder);
    if written.is_err() {
        let _ = fs::remove_dir_all(&new);
    }
    written?;
    let there = dir.exists();
    if there {
        fs::rename(dir, &old).with_context(|| format!("{} cannot be replaced", dir.display()))?;
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
