//! Numbers from outside: the table in `tests/SOURCES.md` and what points at it.
//!
//! Each row is `| key | what | source | where used |`. Keys are unique; files named between
//! backticks in the last column exist; a row without a source says "common practice, no source"
//! or "from memory". A comment may point at a row as `SOURCES: key`; the key must exist.
//! Rows of tables in `crates/trade` name theirs as `source: "key"`.

use super::Text;
use std::collections::BTreeSet;

const TABLE: &str = "tests/SOURCES.md";

/// One line for each row or pointer that does not hold.
pub fn broken(paths: &[String], texts: &[Text]) -> Vec<String> {
    let Some(table) = texts.iter().find(|file| file.path == TABLE) else {
        return vec![format!("{TABLE}: missing")];
    };
    let mut broken = Vec::new();
    let mut keys = BTreeSet::new();
    for row in rows(&table.text) {
        let [key, what, source, used] = row[..] else {
            broken.push(format!("{TABLE}: a row needs 4 cells: {}", row.join(" | ")));
            continue;
        };
        if !keys.insert(key) {
            broken.push(format!("{TABLE}: key {key} stands twice"));
        }
        if what.is_empty() || source.is_empty() {
            broken.push(format!("{TABLE}: {key} says not what or from where"));
        }
        let named: Vec<&str> = used.split('`').skip(1).step_by(2).collect();
        if named.is_empty() {
            broken.push(format!("{TABLE}: {key} says not where it is used"));
        }
        let absent = named
            .iter()
            .filter(|name| !paths.iter().any(|p| p == *name || p.starts_with(&format!("{name}/"))));
        broken.extend(absent.map(|name| format!("{TABLE}: {key} names {name}, which does not exist")));
    }
    for file in texts.iter().filter(|file| file.path.ends_with(".rs") && !file.path.contains("/tidy/")) {
        let in_trade = file.path.starts_with("crates/trade/");
        let pointers =
            after(&file.text, "SOURCES: ").chain(after(&file.text, "source: \"").filter(|_| in_trade));
        let unknown = pointers.filter(|key| !keys.contains(key));
        broken.extend(unknown.map(|key| format!("{}: source {key} is not in {TABLE}", file.path)));
    }
    broken
}

/// Cells of each table row, without title and rule.
fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
    let lines = text.lines().filter(|line| line.starts_with('|') && !line.starts_with("|--"));
    lines.skip(1).map(|line| line.trim().trim_matches('|').split('|').map(str::trim).collect())
}

/// The words that follow a mark.
fn after<'a>(text: &'a str, mark: &'a str) -> impl Iterator<Item = &'a str> {
    text.split(mark).skip(1).map(|rest| {
        let end = rest.find(|c: char| !(c.is_ascii_alphanumeric() || c == '-')).unwrap_or(rest.len());
        &rest[..end]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(table: &str, code: &str) -> Vec<String> {
        let texts = [("tests/SOURCES.md", table), ("crates/bed/src/gap.rs", code)];
        let texts = texts.map(|(path, text)| Text { path: path.into(), text: text.into() });
        broken(&texts.iter().map(|file| file.path.clone()).collect::<Vec<_>>(), &texts)
    }

    const TITLE: &str = "| key | what | source | where used |\n|---|---|---|---|\n";

    #[test]
    fn a_row_with_a_source_and_a_real_file_holds() {
        let table = format!("{TITLE}| gap | 5 mm | common practice, no source | `crates/bed/src/gap.rs` |\n");
        assert!(check(&table, "// SOURCES: gap\n").is_empty());
    }

    #[test]
    fn a_missing_file_a_double_key_and_an_unknown_pointer_are_named() {
        let table = format!(
            "{TITLE}| gap | 5 mm | x | `crates/a.rs` |\n| gap | 6 mm | y | `crates/bed/src/gap.rs` |\n"
        );
        assert_eq!(check(&table, "// SOURCES: girth\n").len(), 3);
    }
}
