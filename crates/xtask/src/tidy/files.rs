//! Every source file opens with what it is for, stays short enough to hold in the head, and stands
//! in a place that the top of the project knows.

use super::Text;

/// Lines a file may have before its tests; past it the header must say why (style: 100 to 250).
const LONGEST_LINES: usize = 400;

/// How a header explains a longer file.
const LONG_BECAUSE: &str = "Longer than 400 lines because";

/// What may stand at the top besides dot-folders and dot-files.
const TOP: [&str; 14] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "NOTICE.md",
    "rust-toolchain.toml",
    "rustfmt.toml",
    "clippy.toml",
    "crates",
    "www",
    "tests",
    "demo-meshes",
];

/// One line for each rule a file breaks.
pub fn broken(paths: &[String], texts: &[Text]) -> Vec<String> {
    let stray = paths.iter().filter(|path| {
        let top = path.split('/').next().unwrap_or_default();
        !top.starts_with('.') && !TOP.contains(&top)
    });
    let mut broken: Vec<String> = stray.map(|path| format!("{path}: does not belong at the top")).collect();
    broken.extend(texts.iter().flat_map(of_file));
    broken
}

fn of_file(file: &Text) -> Vec<String> {
    let Some((_, ending)) = file.path.rsplit_once('.') else { return Vec::new() };
    let opening = match ending {
        "rs" => "//!",
        "ts" => "/**",
        "mjs" => "// ",
        "py" => "\"\"\"",
        _ => return Vec::new(),
    };
    let mut broken = Vec::new();
    if !file.text.starts_with(opening) {
        broken.push(format!("{}: has no header (starts with {opening})", file.path));
    }
    let n_lines = file.text.lines().take_while(|line| !line.starts_with("#[cfg(test)]")).count();
    let is_tests = file.path.starts_with("tests/");
    if n_lines > LONGEST_LINES && !is_tests && !file.text.contains(LONG_BECAUSE) {
        broken.push(format!(
            "{}: {n_lines} lines without tests; split it or say \"{LONG_BECAUSE}\"",
            file.path
        ));
    }
    if ending == "rs" && file.text.lines().any(|line| line.trim_start().starts_with("#[ignore")) {
        broken.push(format!("{}: an ignored test; assert today's answer and say so", file.path));
    }
    broken
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str, text: &str) -> Text {
        Text { path: path.into(), text: text.into() }
    }

    #[test]
    fn a_source_file_without_a_header_is_named() {
        assert_eq!(of_file(&file("crates/a/src/b.rs", "use std::fmt;\n")).len(), 1);
        assert!(of_file(&file("crates/a/src/b.rs", "//! What it does.\n")).is_empty());
        assert!(of_file(&file("README.md", "no header")).is_empty());
    }

    #[test]
    fn a_long_file_is_named_unless_its_tests_make_it_long_or_it_says_why() {
        let long = "//! Header.\n".to_string() + &"let a = 1;\n".repeat(LONGEST_LINES);
        assert_eq!(of_file(&file("crates/a/src/b.rs", &long)).len(), 1);
        let explained = format!("//! {LONG_BECAUSE} it is one table.\n{long}");
        assert!(of_file(&file("crates/a/src/b.rs", &explained)).is_empty());
        let tests = "//! Header.\n#[cfg(test)]\n".to_string() + &"let a = 1;\n".repeat(LONGEST_LINES);
        assert!(of_file(&file("crates/a/src/b.rs", &tests)).is_empty());
    }

    #[test]
    fn a_stray_file_at_the_top_is_named() {
        let paths = ["notes.txt".to_string(), ".ci/run".into(), "crates/mesh/src/lib.rs".into()];
        assert_eq!(broken(&paths, &[]).len(), 1);
    }
}
