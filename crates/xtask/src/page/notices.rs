//! Third-party notices that travel with the page: every crate and npm package in it, its licence
//! text, and where its source is.
//!
//! How: cargo says which crates the wasm is built from (normal dependencies for that target, no
//! build tools); of npm only what the bundle holds. Licence files are read from the packages
//! themselves; equal texts stand once. MPL-2.0 asks to say where the source is: the addresses stand
//! beside every name.

use super::npm;
use crate::place;
use anyhow::{Context, Result, bail};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::Path;

/// npm packages that end in the bundle (`dependencies` of `www/package.json`).
fn npm_packages() -> Result<Vec<String>> {
    let text = std::fs::read_to_string(npm::folder().join("package.json"))?;
    let json: Value = serde_json::from_str(&text)?;
    let names = json["dependencies"].as_object().context("www/package.json has no dependencies")?;
    Ok(names.keys().cloned().collect())
}

/// One package.
struct Entry {
    name: String,
    licence: String,
    source: String,
    texts: BTreeSet<String>,
}

/// The notices as plain text.
///
/// # Errors
/// When cargo cannot be asked, or a package has no licence at all.
pub fn text() -> Result<String> {
    let mut entries = crates()?;
    for name in npm_packages()? {
        entries.push(npm_entry(&name)?);
    }
    let mut by_text: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut text = String::from(
        "Seamwright is made with the work of others. Each part below is used under its licence; the texts follow.\n\n",
    );
    for entry in &entries {
        writeln!(text, "{} - {} - {}", entry.name, entry.licence, entry.source)?;
        for licence in &entry.texts {
            by_text.entry(licence).or_default().push(&entry.name);
        }
    }
    for (licence, names) in by_text {
        writeln!(text, "\n{}\n{}:\n\n{licence}", "-".repeat(72), names.join(", "))?;
    }
    Ok(text)
}

fn crates() -> Result<Vec<Entry>> {
    let target = ["--filter-platform", "wasm32-unknown-unknown", "--format-version", "1", "--locked"];
    let heard = place::quiet(place::cargo().arg("metadata").args(target))?;
    if heard.code != 0 {
        bail!("cargo metadata: {}", heard.last_line());
    }
    let metadata: Value = serde_json::from_str(&heard.out)?;
    let nodes: BTreeMap<&str, &Value> = list(&metadata["resolve"]["nodes"])
        .iter()
        .filter_map(|node| Some((node["id"].as_str()?, node)))
        .collect();
    let packages: BTreeMap<&str, &Value> =
        list(&metadata["packages"]).iter().filter_map(|p| Some((p["id"].as_str()?, p))).collect();
    let root =
        packages.iter().find(|(_, p)| p["name"] == "seamwright-web").context("no crate seamwright-web")?;
    let mut waiting = vec![*root.0];
    let mut used = BTreeSet::new();
    while let Some(id) = waiting.pop() {
        // Macros run while building and leave no code of theirs.
        let is_macro =
            list(&packages[id]["targets"]).iter().any(|t| list(&t["kind"]).iter().any(|k| k == "proc-macro"));
        if is_macro || !used.insert(id) {
            continue;
        }
        for dependency in nodes.get(id).map_or(&[][..], |node| list(&node["deps"])) {
            let normal = list(&dependency["dep_kinds"]).iter().any(|kind| kind["kind"].is_null());
            waiting.extend(dependency["pkg"].as_str().filter(|_| normal));
        }
    }
    let outside = used.iter().map(|id| packages[id]).filter(|p| !p["source"].is_null());
    let mut entries: Vec<Entry> = outside.map(crate_entry).collect::<Result<_>>()?;
    entries.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(entries)
}

fn crate_entry(package: &Value) -> Result<Entry> {
    let text = |key: &str| package[key].as_str().unwrap_or_default().to_string();
    let name = format!("{} {}", text("name"), text("version"));
    let manifest = text("manifest_path");
    let folder = Path::new(&manifest).parent().context("a manifest without a folder")?;
    let source = if text("repository").is_empty() {
        format!("https://crates.io/crates/{}", text("name"))
    } else {
        text("repository")
    };
    entry(name, text("license"), source, folder)
}

fn npm_entry(name: &str) -> Result<Entry> {
    let folder = npm::folder().join("node_modules").join(name);
    let json: Value = serde_json::from_str(&std::fs::read_to_string(folder.join("package.json"))?)?;
    let version = json["version"].as_str().unwrap_or_default();
    let licence = json["license"].as_str().unwrap_or_default().to_string();
    let source = format!("https://www.npmjs.com/package/{name}");
    entry(format!("{name} {version} (npm)"), licence, source, &folder)
}

fn entry(name: String, licence: String, source: String, folder: &Path) -> Result<Entry> {
    if licence.is_empty() {
        bail!("{name} names no licence");
    }
    let mut texts = BTreeSet::new();
    for file in std::fs::read_dir(folder).with_context(|| folder.display().to_string())?.flatten() {
        let named = file.file_name().to_string_lossy().to_uppercase();
        let is_text = ["LICENSE", "LICENCE", "COPYING", "NOTICE", "COPYRIGHT", "UNLICENSE"]
            .iter()
            .any(|beginning| named.starts_with(beginning));
        if is_text && let Ok(text) = std::fs::read_to_string(file.path()) {
            texts.insert(text.replace("\r\n", "\n").trim().to_string());
        }
    }
    Ok(Entry { name, licence, source, texts })
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}
