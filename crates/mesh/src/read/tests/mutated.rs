//! Property: whatever bytes are changed, reading neither panics nor takes memory out of proportion.
//!
//! Changes fall anywhere in the file, XML inside packages included, so that most mutants get past
//! the header.

use super::{ascii_stl, binary_stl, model_xml, package, ply};
use crate::read::package::Package;
use crate::read::{ReadError, ReadOptions, read_model_with};
use std::cell::Cell;

/// What mutants replace words with: counts, indices and numbers at the edges of their types.
const WORDS: [&str; 12] = [
    "-1",
    "0",
    "4294967295",
    "2147483648",
    "18446744073709551616",
    "nan",
    "-inf",
    "1e309",
    "1,5",
    "",
    "f",
    "\\",
];

/// Applies one to five changes to `bytes`, mostly one.
fn mutate(u: &mut arbtest::arbitrary::Unstructured, bytes: &mut Vec<u8>) -> arbtest::arbitrary::Result<()> {
    for _ in 0..*u.choose(&[1, 1, 1, 2, 3, 5])? {
        if bytes.is_empty() {
            return Ok(());
        }
        let at = u.int_in_range(0..=bytes.len() - 1)?;
        match u.int_in_range(0..=5)? {
            0 => bytes[at] = u.arbitrary()?,
            1 => bytes[at] ^= 1 << u.int_in_range(0..=7)?,
            2 => bytes.truncate(at.max(1)),
            3 => {
                let end = (at + u.int_in_range(1..=40)?).min(bytes.len());
                bytes.drain(at..end);
            }
            4 => {
                let end = (at + u.int_in_range(1..=60)?).min(bytes.len());
                let copy = bytes[at..end].to_vec();
                let to = u.int_in_range(0..=bytes.len())?;
                bytes.splice(to..to, copy);
            }
            _ => {
                // A whole word, so that numbers in text change their value and not their syntax.
                let is_word = |b: &u8| !b.is_ascii_whitespace() && *b != b'"';
                let start = bytes[..at].iter().rposition(|b| !is_word(b)).map_or(0, |p| p + 1);
                let end = bytes[at..].iter().position(|b| !is_word(b)).map_or(bytes.len(), |p| at + p);
                let word = u.choose(&WORDS)?;
                if start < end {
                    bytes.splice(start..end, word.bytes());
                }
            }
        }
    }
    Ok(())
}

#[test]
fn no_mutated_file_panics_or_takes_memory_out_of_proportion() {
    let obj = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv .5 .2 0\nv 0 1 0\nv 0 0 1\no a\nf 1 2 3 4 5\ng b\nf -1/2 -2//3 \\\n-3\nl 1 2\n";
    let off = "OFF\n5 2 0\n0 0 0\n1 0 0\n1 1 0\n.5 .2 0\n0 1 0\n5 0 1 2 3 4\n3 0 1 2\n";
    let components = "<object id=\"2\"><components><component objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 1 5 5 5\"/></components></object>";
    let xml = model_xml("unit=\"centimeter\"", components, "<item objectid=\"2\"/><item objectid=\"1\"/>");
    let seeds: Vec<Vec<u8>> = vec![
        binary_stl(b"solid x"),
        ascii_stl("a b", "\n").into_bytes(),
        obj.into(),
        off.into(),
        ply("ascii"),
        ply("binary_little_endian"),
        ply("binary_big_endian"),
        package(xml.as_bytes(), &[]),
    ];
    let [n_all, n_past, n_read] = run(&seeds, &[xml], 4_000);
    // Three in ten past the header is what the project asks of its mutants.
    assert!(n_all > 1000 && 10 * n_past > 3 * n_all && 20 * n_read > n_all, "{n_all} {n_past} {n_read}");
}

#[test]
fn no_mutated_reference_file_panics_or_takes_memory_out_of_proportion() {
    let Some(folder) = std::env::var_os("SEAMWRIGHT_REFERENCE").map(std::path::PathBuf::from) else {
        eprintln!("skipped: no_mutated_reference_file: SEAMWRIGHT_REFERENCE is not set");
        return;
    };
    let manifest = std::fs::read_to_string(folder.join("MANIFEST.tsv")).unwrap();
    let names = manifest.lines().filter_map(|row| row.split('\t').next());
    let files = names.filter(|name| name.starts_with("corner/") || name.starts_with("nasty/"));
    // Small ones, so that many mutants fit in the time.
    let seeds: Vec<Vec<u8>> = files
        .filter_map(|name| std::fs::read(folder.join(name)).ok())
        .filter(|b| b.len() <= 40_000)
        .collect();
    let models: Vec<String> = seeds
        .iter()
        .filter_map(|bytes| {
            let package = Package::open(bytes).ok()?;
            let entry = package.find("3D/3dmodel.model").ok()??;
            String::from_utf8(package.unpack(entry).ok()?).ok()
        })
        .collect();
    let [n_all, n_past, _] = run(&seeds, &models, 6_000);
    assert!(n_all > 500 && 10 * n_past > 3 * n_all, "{n_all} {n_past}");
}

/// Reads mutants of the files, and of the XML parts packed again, for a time; counts all, those past
/// the choice of a format, and those read.
fn run(files: &[Vec<u8>], models: &[String], budget_ms: u64) -> [u32; 3] {
    let counts = Cell::new([0u32; 3]);
    arbtest::arbtest(|u| {
        let seed = u.int_in_range(0..=files.len() + models.len() - 1)?;
        let mut bytes = match files.get(seed) {
            Some(file) => file.clone(),
            None => models[seed - files.len()].clone().into_bytes(),
        };
        mutate(u, &mut bytes)?;
        if seed >= files.len() {
            bytes = package(&bytes, &[]);
        }
        let outcome = read_model_with(&bytes, "", ReadOptions { strict: u.arbitrary()? });
        let stopped_at_once =
            matches!(outcome, Err(ReadError::Empty | ReadError::Unknown { .. } | ReadError::Encoding { .. }));
        let [n_all, n_past, n_read] = counts.get();
        counts.set([n_all + 1, n_past + u32::from(!stopped_at_once), n_read + u32::from(outcome.is_ok())]);
        for part in outcome.iter().flat_map(|model| &model.parts) {
            // A corner takes at least two bytes of text; a package packs up to a thousandfold.
            let most = if bytes.starts_with(b"PK") { 1000 * bytes.len() } else { 4 * bytes.len() };
            assert!(part.points.len() + part.triangles.len() <= most);
            assert!(part.triangles.iter().flatten().all(|&i| (i as usize) < part.points.len()));
            assert!(part.points.iter().flatten().all(|value| value.is_finite()));
        }
        Ok(())
    })
    .budget_ms(budget_ms);
    let [n_all, n_past, n_read] = counts.get();
    eprintln!("{n_all} mutants, {n_past} past the start, {n_read} read");
    counts.get()
}

#[test]
fn every_cut_of_every_format_is_read_or_refused() {
    for bytes in [
        binary_stl(b""),
        ascii_stl("a", "\r\n").into_bytes(),
        ply("ascii"),
        ply("binary_big_endian"),
        package(model_xml("", "", "").as_bytes(), &[]),
    ] {
        for end in 0..bytes.len() {
            let cut = read_model_with(&bytes[..end], "a.stl", ReadOptions { strict: false });
            // A few last bytes may be spare, and a text may end between two facets: that is told.
            let told = |model: &crate::model::Model| model.notices.iter().any(|n| n.code == "no-endsolid");
            assert!(cut.as_ref().map_or(true, told) || end + 12 > bytes.len(), "{end} of {}", bytes.len());
        }
    }
}
