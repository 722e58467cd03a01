//! What others' code the project stands on: allowed licences, exact versions, no scripts on installing.
//!
//! Crates are asked of cargo, for the page's target and the usual native one; packages of npm are read from the
//! lock files, Python's from the list of pins. What the page or the program hands out must be under a licence that
//! asks for no more than a notice; what only builds or tests it may ask for its own source.

use crate::place;
use anyhow::{Context, Result, bail};
use serde_json::Value;

/// Licences that ask for no more than a notice, if that.
const ALLOWED: [&str; 13] = [
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "NCSA",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Further ones that are allowed where the code is never handed out: tools of the page's build, reference libraries.
const ALLOWED_IN_TESTS: [&str; 3] = ["LGPL-3.0-or-later", "MPL-2.0", "Public Domain"];

const MANIFESTS: [&str; 2] = ["Cargo.toml", "crates/fuzz/guided/Cargo.toml"];
const TARGETS: [&str; 2] = ["wasm32-unknown-unknown", "x86_64-unknown-linux-gnu"];
const NPM_LOCKS: [&str; 2] = ["www/package-lock.json", "tests/reference/package-lock.json"];
const PINS: &str = "tests/reference/requirements.txt";

/// One line for each that is not allowed, not pinned or wants to run a script.
///
/// # Errors
/// When cargo cannot be asked or a lock file cannot be read.
pub fn broken() -> Result<Vec<String>> {
    let mut broken = Vec::new();
    for manifest in MANIFESTS {
        for target in TARGETS {
            let manifest = place::root().join(manifest);
            let mut cargo = place::cargo();
            cargo.args(["metadata", "--locked", "--format-version", "1", "--filter-platform", target]);
            let heard = place::quiet(cargo.arg("--manifest-path").arg(manifest))?;
            if heard.code != 0 {
                bail!("cargo metadata: {}", heard.last_line());
            }
            broken.extend(wrong_crates(&serde_json::from_str(&heard.out)?)?);
        }
    }
    for lock in NPM_LOCKS {
        let text = std::fs::read_to_string(place::root().join(lock)).context(lock)?;
        let is_handed_out = lock.starts_with("www/");
        broken.extend(wrong_packages(lock, &serde_json::from_str(&text)?, is_handed_out)?);
    }
    let pins = std::fs::read_to_string(place::root().join(PINS)).context(PINS)?;
    broken.extend(unpinned(&pins));
    broken.sort();
    broken.dedup();
    Ok(broken)
}

fn wrong_crates(metadata: &Value) -> Result<Vec<String>> {
    let packages = metadata["packages"].as_array().context("cargo metadata has no packages")?;
    let wrong = packages.iter().filter_map(|package| {
        let (name, licence) = (package["name"].as_str()?, package["license"].as_str().unwrap_or(""));
        (!is_allowed(licence, &ALLOWED))
            .then(|| format!("crate {name}: its licence {licence:?} is not allowed"))
    });
    Ok(wrong.collect())
}

fn wrong_packages(lock: &str, content: &Value, is_handed_out: bool) -> Result<Vec<String>> {
    let packages = content["packages"].as_object().with_context(|| format!("{lock} has no packages"))?;
    let more = [&ALLOWED[..], &ALLOWED_IN_TESTS].concat();
    let mut wrong = Vec::new();
    for (path, package) in packages.iter().filter(|(path, _)| !path.is_empty()) {
        let licence = package["license"].as_str().unwrap_or("");
        let is_tool = !is_handed_out || package["dev"] == true;
        if !is_allowed(licence, if is_tool { &more } else { &ALLOWED }) {
            wrong.push(format!("{lock}, {path}: its licence {licence:?} is not allowed"));
        }
        if package["integrity"].as_str().is_none() {
            wrong.push(format!("{lock}, {path}: no sum to check it by"));
        }
        if package["hasInstallScript"] == true {
            wrong.push(format!("{lock}, {path}: it wants to run a script when it is installed"));
        }
    }
    Ok(wrong)
}

fn unpinned(pins: &str) -> Vec<String> {
    let lines = pins.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines
        .filter(|line| !line.contains("=="))
        .map(|line| format!("{PINS}: {line} has no exact version"))
        .collect()
}

/// Whether an SPDX expression can be met with the licences of a list.
fn is_allowed(expression: &str, allowed: &[&str]) -> bool {
    // Older crates write a slash for "or".
    let text = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    // A name of two words is known as a whole only.
    if allowed.contains(&expression) {
        return true;
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut at = 0;
    either(&words, &mut at, allowed).is_some_and(|met| met && at == words.len())
}

fn either(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let mut met = both(words, at, allowed)?;
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        met |= both(words, at, allowed)?;
    }
    Some(met)
}

fn both(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let mut met = one(words, at, allowed)?;
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(words, at, allowed)?;
    }
    Some(met)
}

fn one(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let word = *words.get(*at)?;
    *at += 1;
    if word == "(" {
        let met = either(words, at, allowed)?;
        *at += 1;
        return (words.get(*at - 1) == Some(&")")).then_some(met);
    }
    // An exception only allows more.
    if words.get(*at) == Some(&"WITH") {
        *at += 2;
    }
    Some(allowed.contains(&word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_crate_and_package_is_allowed_and_pinned() {
        assert_eq!(broken().unwrap(), Vec::<String>::new());
    }

    #[test]
    fn expressions_are_met_as_written() {
        for (expression, met) in [
            ("MIT OR Apache-2.0", true),
            ("MIT/Apache-2.0", true),
            ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
            ("MIT OR LGPL-2.1-or-later", true),
            ("MIT AND GPL-3.0-only", false),
            ("Apache-2.0 WITH LLVM-exception", true),
            ("MPL-2.0", false),
            ("SEE LICENSE IN FILE", false),
            ("(MIT", false),
            ("", false),
        ] {
            assert_eq!(is_allowed(expression, &ALLOWED), met, "{expression}");
        }
    }

    #[test]
    fn a_package_that_runs_a_script_or_has_no_sum_is_told() {
        let lock = serde_json::json!({"packages": {
            "": {"name": "page"},
            "node_modules/a": {"license": "MIT", "integrity": "sha512-x", "hasInstallScript": true},
            "node_modules/b": {"license": "MPL-2.0", "dev": true},
            "node_modules/c": {"license": "MPL-2.0", "integrity": "sha512-x"},
        }});
        let told = wrong_packages("lock", &lock, true).unwrap();
        assert_eq!(told.len(), 3, "{told:?}");
        assert!(told[0].contains("script") && told[1].contains("no sum") && told[2].contains("MPL-2.0"));
        assert_eq!(unpinned("# x\nnumpy==2.4.6\nscipy>=1\n").len(), 1);
    }
}
