//! Counting checks: passed, failed, skipped, over Rust tests and reference scripts alike.
//!
//! A Rust test that cannot run prints `skipped: NAME: reason` and returns; the harness calls that
//! passed, so [`Tally::add_cargo_test`] moves it to the skipped. Reference scripts print one line a
//! check (`ok NAME`, `FAILED NAME: why`, `skipped: NAME: reason`) and [`Tally::add_script`] counts
//! those lines, so no script can claim a total it did not earn.

use std::collections::BTreeSet;
use std::fmt;
use std::sync::OnceLock;
use std::time::Instant;

/// Prints a heading with how long the program has run: where the time goes.
pub fn heading(title: &str) {
    static BEGUN: OnceLock<Instant> = OnceLock::new();
    let s = BEGUN.get_or_init(Instant::now).elapsed().as_secs();
    println!("--- {title} ({} min {} s) ---", s / 60, s % 60);
}

/// Totals of a run, with the names of what did not pass.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// Checks that held.
    pub passed: usize,
    /// One line for each that did not.
    pub failed: Vec<String>,
    /// One line for each that could not run, with the reason.
    pub skipped: Vec<String>,
}

impl Tally {
    /// Counts one check that held.
    pub fn ok(&mut self, name: &str) {
        println!("ok {name}");
        self.passed += 1;
    }

    /// Counts one check that did not hold.
    pub fn fail(&mut self, name: &str, why: &str) {
        println!("FAILED {name}: {why}");
        self.failed.push(format!("{name}: {why}"));
    }

    /// Counts one check that could not run.
    pub fn skip(&mut self, name: &str, reason: &str) {
        println!("skipped: {name}: {reason}");
        self.skipped.push(format!("{name}: {reason}"));
    }

    /// Holds or does not, in one call.
    pub fn check(&mut self, name: &str, holds: bool, why_not: &str) {
        if holds { self.ok(name) } else { self.fail(name, why_not) }
    }

    /// Prints a line for each check that did not hold or could not run.
    pub fn print_what_did_not_pass(&self) {
        println!();
        heading("what did not pass");
        self.failed.iter().for_each(|line| println!("FAILED {line}"));
        self.skipped.iter().for_each(|line| println!("skipped: {line}"));
    }

    /// Adds what `cargo test -- --show-output` printed. Returns how many test binaries reported.
    pub fn add_cargo_test(&mut self, output: &str) -> usize {
        let mut n_binaries = 0;
        let mut skipped = BTreeSet::new();
        let mut n_passed = 0;
        for line in output.lines().map(str::trim) {
            if let Some(rest) = line.strip_prefix("skipped: ") {
                skipped.insert(rest.to_string());
            } else if let Some(name) = line.strip_suffix("... FAILED").and_then(|l| l.strip_prefix("test ")) {
                self.failed.push(name.trim().to_string());
            } else if let Some(rest) = line.strip_prefix("test result: ") {
                n_binaries += 1;
                n_passed += number_before(rest, " passed");
                let n_ignored = number_before(rest, " ignored");
                self.skipped.extend((0..n_ignored).map(|_| "a test marked as ignored".to_string()));
            }
        }
        self.passed += n_passed.saturating_sub(skipped.len());
        self.skipped.extend(skipped);
        n_binaries
    }

    /// Adds what a reference script printed; a script that ends badly without saying what failed
    /// is one failure.
    pub fn add_script(&mut self, name: &str, output: &str, ended_well: bool) {
        let n_failed_before = self.failed.len();
        for line in output.lines() {
            if line.starts_with("ok ") {
                self.passed += 1;
            } else if let Some(rest) = line.strip_prefix("FAILED ") {
                self.failed.push(rest.to_string());
            } else if let Some(rest) = line.strip_prefix("skipped: ") {
                self.skipped.push(rest.to_string());
            }
        }
        if !ended_well && self.failed.len() == n_failed_before {
            self.failed.push(format!("{name}: ended early"));
        }
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} passed, {} failed, {} skipped", self.passed, self.failed.len(), self.skipped.len())
    }
}

fn number_before(text: &str, word: &str) -> usize {
    let Some(end) = text.find(word) else { return 0 };
    let digits = text[..end].rfind(|c: char| !c.is_ascii_digit()).map_or(0, |i| i + 1);
    text[digits..end].parse().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_skipped_rust_test_is_not_counted_as_passed() {
        let output = "running 3 tests\ntest a ... ok\ntest b ... FAILED\ntest c ... ok\n\n---- c stdout ----\n\
                      skipped: c: SEAMWRIGHT_REFERENCE is not set\n\n\
                      test result: FAILED. 2 passed; 1 failed; 0 ignored; 0 measured; 0 filtered out\n";
        let mut tally = Tally::default();
        assert_eq!(tally.add_cargo_test(output), 1);
        assert_eq!(tally.to_string(), "1 passed, 1 failed, 1 skipped");
        assert_eq!(tally.failed, ["b"]);
    }

    #[test]
    fn an_ignored_rust_test_counts_as_skipped() {
        let mut tally = Tally::default();
        tally.add_cargo_test("test result: ok. 12 passed; 0 failed; 2 ignored; 0 measured; 0 filtered out");
        assert_eq!(tally.to_string(), "12 passed, 0 failed, 2 skipped");
    }

    #[test]
    fn a_script_that_dies_is_a_failure_whatever_it_printed_before() {
        let mut tally = Tally::default();
        tally.add_script("folders", "ok one\nok two\n", false);
        assert_eq!(tally.to_string(), "2 passed, 1 failed, 0 skipped");
    }

    #[test]
    fn a_script_line_is_counted_by_what_it_says() {
        let mut tally = Tally::default();
        tally.add_script(
            "folders",
            "ok one\nFAILED two: 3 open edges\nskipped: three: no lib3mf\nnotes",
            true,
        );
        assert_eq!(tally.to_string(), "1 passed, 1 failed, 1 skipped");
    }
}
