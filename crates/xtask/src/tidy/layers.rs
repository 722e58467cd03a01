//! Dependencies between crates run one way: each crate may use the rows above it that are listed.

use crate::place;
use anyhow::{Context, Result, bail};
use serde_json::Value;

/// The layer table of DEVELOPERS.md: a crate and the crates of ours it may use, in tests too.
const LAYERS: [(&str, &[&str]); 10] = [
    ("seamwright-mesh", &[]),
    ("seamwright-bed", &["seamwright-mesh"]),
    ("seamwright-seams", &["seamwright-mesh", "seamwright-bed"]),
    ("seamwright-loads", &["seamwright-mesh", "seamwright-bed"]),
    ("seamwright-plan", &["seamwright-mesh", "seamwright-bed", "seamwright-seams", "seamwright-loads"]),
    ("seamwright", ABOVE),
    ("seamwright-fuzz", &["seamwright-mesh", "seamwright-plan"]),
    ("xtask", AND_FUZZ),
    ("seamwright-tests", ABOVE),
    ("seamwright-web", &["seamwright-plan"]),
];

const AND_FUZZ: &[&str] = &[
    "seamwright-mesh",
    "seamwright-bed",
    "seamwright-seams",
    "seamwright-loads",
    "seamwright-plan",
    "seamwright-fuzz",
];

const ABOVE: &[&str] =
    &["seamwright-mesh", "seamwright-bed", "seamwright-seams", "seamwright-loads", "seamwright-plan"];

/// Crates that may print, read files and read the clock; no core crate may use what they use for it.
const FACES: [&str; 4] = ["seamwright", "xtask", "seamwright-tests", "seamwright-web"];

/// Outside crates that only faces may use.
const ONLY_FACES: [&str; 4] = ["anyhow", "clap", "ctrlc", "indicatif"];

/// One line for each dependency that the table does not allow.
///
/// # Errors
/// When cargo cannot be asked.
pub fn broken() -> Result<Vec<String>> {
    let heard =
        place::quiet(place::cargo().args(["metadata", "--no-deps", "--format-version", "1", "--offline"]))?;
    if heard.code != 0 {
        bail!("cargo metadata: {}", heard.last_line());
    }
    let metadata: Value = serde_json::from_str(&heard.out)?;
    let mut broken = Vec::new();
    for package in metadata["packages"].as_array().context("cargo metadata has no packages")? {
        let name = package["name"].as_str().unwrap_or_default();
        let dependencies = package["dependencies"].as_array().map_or(&[][..], Vec::as_slice);
        let used = dependencies.iter().filter_map(|dependency| dependency["name"].as_str());
        broken.extend(wrong(name, &used.collect::<Vec<_>>()));
    }
    Ok(broken)
}

fn wrong(name: &str, used: &[&str]) -> Vec<String> {
    let Some(&(_, allowed)) = LAYERS.iter().find(|(row, _)| *row == name) else {
        return vec![format!("{name}: not in the layer table of tidy/layers.rs")];
    };
    let ours = |crate_name: &str| LAYERS.iter().any(|(row, _)| *row == crate_name);
    let upward = used.iter().filter(|u| ours(u) && !allowed.contains(u));
    let outward = used.iter().filter(|u| ONLY_FACES.contains(u) && !FACES.contains(&name));
    upward
        .map(|other| format!("{name}: may not use {other} (layers run one way)"))
        .chain(outward.map(|other| format!("{name}: {other} belongs to the faces")))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lower_crate_may_not_use_a_higher_one_nor_an_error_box() {
        assert_eq!(wrong("seamwright-mesh", &["libm", "seamwright-bed", "anyhow"]).len(), 2);
        assert_eq!(wrong("seamwright-bed", &["libm", "seamwright-mesh"]).len(), 0);
        assert_eq!(wrong("seamwright-new", &[]).len(), 1);
    }
}
