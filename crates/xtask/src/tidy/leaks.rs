//! What must not leak into the project: paths of some machine, hosts of some mirror, certain words.
//!
//! The words are kept as FNV-1a numbers, so that this list does not hold what it keeps out;
//! `cargo xtask tidy --number-of WORD` gives the number of a new one.

use super::Text;

/// Beginnings of paths that exist on one machine only.
const MACHINE_PATHS: [&str; 6] = ["/home/", "/root/", "/work/", "/Users/", "/tmp/", "C:\\Users"];

/// Marks of a line that says where packages come from, in lock and configuration files.
const ORIGIN_MARKS: [&str; 6] =
    ["\"resolved\"", "source = ", "registry", "index-url", "find-links", "replace-with"];

/// The public places packages come from.
const PUBLIC: [&str; 2] =
    ["registry+https://github.com/rust-lang/crates.io-index", "\"https://registry.npmjs.org/"];

/// Numbers of words that must not occur anywhere; see the header.
const WORDS: [u64; 12] = [
    0x239194803edf98f7,
    0x2524b426199611b3,
    0xa113d2745d706ce3,
    0x7f7a754786a664b8,
    0x8a1b8f4a0a913503,
    0x125b69191db94ab8,
    0xea9e60ad81da16f1,
    0xb5c1aca6a4cb6952,
    0x04dc255460382976,
    0x7a3c735f7f6db37f,
    0x2ffb778dfae54384,
    0xd5235518fae1f922,
];

/// One line for each leak.
pub fn broken(texts: &[Text]) -> Vec<String> {
    texts.iter().filter(|file| !file.path.ends_with("tidy/leaks.rs")).flat_map(of_file).collect()
}

/// FNV-1a of a word in small letters.
pub fn number_of(word: &str) -> u64 {
    word.to_lowercase()
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

fn of_file(file: &Text) -> Vec<String> {
    let mut broken = Vec::new();
    let is_mesh = file.path.starts_with("demo-meshes/") && !file.path.ends_with(".md");
    let says_origin = ["Cargo.lock", "package-lock.json", ".npmrc", "requirements.txt", ".cargo/config.toml"]
        .iter()
        .any(|name| file.path.ends_with(name));
    for (index, line) in file.text.lines().enumerate().filter(|_| !is_mesh) {
        let mut tell = |what: &str| broken.push(format!("{}:{}: {what}", file.path, index + 1));
        if let Some(path) = MACHINE_PATHS.iter().find(|path| names_path(line, path)) {
            tell(&format!("names a path of one machine ({path})"));
        }
        if says_origin
            && ORIGIN_MARKS.iter().any(|m| line.contains(m))
            && !PUBLIC.iter().any(|p| line.contains(p))
        {
            tell("takes packages from a place that is not public");
        }
        let words = line.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'));
        let parts = words.clone().flat_map(|word| word.split('-'));
        if words.chain(parts).any(|word| !word.is_empty() && WORDS.contains(&number_of(word))) {
            tell("holds a word that must not occur");
        }
    }
    broken
}

/// Whether `line` names a path that begins so, not one that merely holds it (`target/work/`).
fn names_path(line: &str, beginning: &str) -> bool {
    line.match_indices(beginning).any(|(at, _)| {
        !line[..at].ends_with(|c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-' | '}' | '*'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leaks(path: &str, text: &str) -> usize {
        broken(&[Text { path: path.into(), text: text.into() }]).len()
    }

    #[test]
    fn a_path_of_one_machine_is_named_and_a_relative_one_is_not() {
        assert_eq!(leaks("a.rs", "let p = \"/home/x\";"), 1);
        assert_eq!(leaks("a.rs", "let p = \"target/work/x\";"), 0);
    }

    #[test]
    fn a_lock_file_may_only_name_the_public_registry() {
        assert_eq!(leaks("Cargo.lock", "source = \"registry+https://mirror.example/index\""), 1);
        assert_eq!(
            leaks("Cargo.lock", "source = \"registry+https://github.com/rust-lang/crates.io-index\""),
            0
        );
        assert_eq!(
            leaks("tests/reference/package-lock.json", "\"resolved\": \"https://mirror.example/a.tgz\""),
            1
        );
    }

    #[test]
    fn the_number_of_a_word_is_the_published_hash() {
        // Test vector of the hash's authors: FNV-1a 64 of "foobar".
        assert_eq!(number_of("FooBar"), 0x8594_4171_f739_67e8);
    }
}
