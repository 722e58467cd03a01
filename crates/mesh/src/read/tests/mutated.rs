//! Property: whatever bytes are changed, reading neither panics nor takes memory out of proportion.
//!
//! Changes fall anywhere in the file, XML inside packages included, so that most mutants get past
//! the header.

use super::{ascii_stl, binary_stl, model_xml, package, ply};
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
    let (n_all, n_past, n_read) = (Cell::new(0u32), Cell::new(0u32), Cell::new(0u32));
    arbtest::arbtest(|u| {
        // The last choice changes the XML and packs it again.
        let seed = u.int_in_range(0..=seeds.len())?;
        let mut bytes = seeds.get(seed).cloned().unwrap_or_else(|| xml.clone().into_bytes());
        mutate(u, &mut bytes)?;
        if seed == seeds.len() {
            bytes = package(&bytes, &[]);
        }
        let outcome = read_model_with(&bytes, "", ReadOptions { strict: u.arbitrary()? });
        n_all.set(n_all.get() + 1);
        let stopped_at_once =
            matches!(outcome, Err(ReadError::Empty | ReadError::Unknown { .. } | ReadError::Encoding { .. }));
        n_past.set(n_past.get() + u32::from(!stopped_at_once));
        if let Ok(model) = outcome {
            n_read.set(n_read.get() + 1);
            for part in &model.parts {
                // A corner takes at least two bytes of text; packages repeat an object per item.
                assert!(part.points.len() + part.triangles.len() <= 4 * bytes.len());
                assert!(part.triangles.iter().flatten().all(|&i| (i as usize) < part.points.len()));
                assert!(part.points.iter().flatten().all(|value| value.is_finite()));
            }
        }
        Ok(())
    })
    .budget_ms(4_000);
    let (n_all, n_past, n_read) = (n_all.get(), n_past.get(), n_read.get());
    eprintln!("{n_all} mutants, {n_past} past the start, {n_read} read");
    // Three in ten past the header is what the project asks of its mutants.
    assert!(n_all > 1000 && 10 * n_past > 3 * n_all && 20 * n_read > n_all, "{n_all} {n_past} {n_read}");
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
