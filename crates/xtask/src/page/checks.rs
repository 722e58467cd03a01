//! The page's checks: built, typed, tested in node and in a real browser; counted one by one.
//!
//! How: native plan folders for a few kinds of bed and for a marked item are made first, each with its project; the tests
//! in `www` plan the same projects with the shipped wasm, in node and in the browser, and compare
//! bytes. Vitest reports as JSON, so a test that was left out is counted as skipped, with its name.
//! Needs: Node with npm; a Chromium, which is installed where that is allowed.

use super::npm;
use crate::reference::system_packages;
use crate::tally::{Tally, heading};
use crate::{page, place};
use anyhow::{Context, Result};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Folders to compare with: name, models, beds and further arguments of `plan`.
const NATIVE: [(&str, &[&str]); 4] = [
    ("rect", &["demo-meshes/checks/letter-f.obj:scale=1.4,pair", "--bed", "180x180x180", "--effort", "3"]),
    (
        "two-beds",
        &[
            "demo-meshes/checks/letter-f.obj:scale=1.2,copies=2",
            "www/src/planner/gen/demo/pauldron.3mf:role=pauldron",
            "--bed",
            "220x220x250",
            "--bed",
            "180x180x180",
            "--effort",
            "2",
        ],
    ),
    (
        "round",
        &[
            "demo-meshes/checks/letter-f.obj:scale=2",
            "--bed",
            "d260x300",
            "--keep-out",
            "0,0,60,60",
            "--effort",
            "3",
        ],
    ),
    // The letter twice as large, with a seam that stays, one that is not wanted and chalk on it.
    ("marked", &["demo-meshes/checks/marked.seam.json"]),
];

/// Builds and tests the page with `program` as its native counterpart.
///
/// # Errors
/// When vitest's report cannot be read.
pub fn run(program: &Path, tally: &mut Tally) -> Result<()> {
    if !place::have("npm")
        && let Err(reason) = system_packages(&["nodejs", "npm"])
    {
        tally.skip("the page", &reason);
        return Ok(());
    }
    if let Err(error) = page::run(&page::Options::default()) {
        tally.fail("the page is built", &format!("{error:#}"));
        return Ok(());
    }
    tally.ok("the page is built");
    heading("native plans for the page");
    let types = place::quiet(npm::npm().args(["run", "--silent", "check"]))?;
    tally.check("the page's types hold", types.code == 0, types.out.trim());
    for (name, arguments) in NATIVE {
        let mut plan = Command::new(program);
        plan.current_dir(place::root()).arg("plan").args(arguments).args(["--quiet", "--force", "--out"]);
        let made = place::run(plan.arg(place::target().join("page-tests").join(name)));
        tally.check(&format!("native plan for the page: {name}"), made.is_ok(), "the program failed");
    }
    heading("the page in node and in a browser");
    let browser = browser();
    let report = place::target().join("page-tests/report.json");
    let _ = std::fs::remove_file(&report);
    let mut vitest = npm::npm();
    vitest.args([
        "exec",
        "--",
        "vitest",
        "run",
        "--reporter=default",
        "--reporter=json",
        "--outputFile.json",
    ]);
    vitest.arg(&report).env("SEAMWRIGHT_PROGRAM", program);
    vitest.env("SEAMWRIGHT_CHROMIUM", browser.as_deref().unwrap_or("none"));
    let heard = place::quiet(&mut vitest)?;
    println!("{}{}", heard.out, heard.err);
    let text = std::fs::read_to_string(&report).context("vitest wrote no report")?;
    let n_failed = tally.failed.len();
    add_report(tally, &serde_json::from_str(&text)?, browser.as_ref().err());
    if heard.code != 0 && tally.failed.len() == n_failed {
        tally.fail("the page's tests", &heard.last_line());
    }
    Ok(())
}

/// A Chromium's name, or why there is none.
///
/// # Errors
/// The reason, in words.
pub fn browser() -> Result<String, String> {
    const NAMES: [&str; 2] = ["chromium", "chromium-browser"];
    let found = || {
        let heard = |name: &&str| {
            place::quiet(Command::new("which").arg(name)).ok().map(|h| h.out.trim().to_string())
        };
        NAMES.iter().filter_map(heard).find(|path| !path.is_empty())
    };
    if let Some(path) = found() {
        return Ok(path);
    }
    system_packages(&["chromium", "fonts-dejavu-core"])?;
    found().ok_or_else(|| "chromium not found".to_string())
}

/// Counts the tests of a report of vitest, without a word: vitest has said them already, and what a
/// test of this function would print would be counted as said by a check.
fn add_report(tally: &mut Tally, report: &Value, no_browser: Option<&String>) {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    for file in list(&report["testResults"]) {
        let path = file["name"].as_str().unwrap_or_default().to_string();
        let short = path.rsplit_once("www/").map_or(path.as_str(), |(_, rest)| rest).to_string();
        let tests = list(&file["assertionResults"]);
        if tests.is_empty() && file["status"] != "passed" {
            let why = file["message"].as_str().unwrap_or("the file could not be run");
            tally.failed.push(format!("{short}: {why}"));
        }
        for test in tests {
            let name = format!("{short}: {}", test["fullName"].as_str().unwrap_or_default().trim());
            match test["status"].as_str() {
                Some("passed") => tally.passed += 1,
                Some("failed") => {
                    let said = test["failureMessages"][0].as_str().unwrap_or_default();
                    tally.failed.push(format!("{name}: {}", said.lines().next().unwrap_or_default()));
                }
                _ => {
                    let reason = no_browser.filter(|_| short.contains("/browser/"));
                    let reason = reason.map_or("what it needs is not there", String::as_str);
                    tally.skipped.push(format!("{name}: {reason}"));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tests_that_were_left_out_and_files_that_did_not_run_are_counted() {
        let report = serde_json::json!({"testResults": [
            {"name": "/x/www/src/a.test.ts", "status": "passed", "assertionResults": [
                {"fullName": "one", "status": "passed"}, {"fullName": "two", "status": "skipped"}]},
            {"name": "/x/www/tests/browser/b.test.ts", "status": "failed", "message": "no such module", "assertionResults": []},
            {"name": "/x/www/src/c.test.ts", "status": "failed", "assertionResults": [
                {"fullName": "three", "status": "failed", "failureMessages": ["expected 1\nat"]}]},
        ]});
        let mut tally = Tally::default();
        add_report(&mut tally, &report, None);
        assert_eq!(tally.to_string(), "1 passed, 2 failed, 1 skipped");
        assert_eq!(tally.failed[1], "src/c.test.ts: three: expected 1");
    }
}
