//! ASCII STL: facets in words, any case, any line ends, several solids in one file.
//!
//! How: words in a row; only `solid` and `endsolid` look at line ends, for the name. Each `solid`
//! with facets is a part. Normals are skipped: the order of the corners decides.
//! Source: grammar from "StereoLithography Interface Specification" (1989), from memory; upper
//! case and several solids are common practice.
//! Not here: binary STL (`stl.rs`).

use super::text::{self, Words};
use super::{Format, ReadError, ReadOptions};
use crate::model::{Model, Notice, Part};

/// Reads the facets of all solids.
///
/// # Errors
/// [`ReadError::Line`] with the facet, counted from 1 over the file.
pub fn read(bytes: &[u8], options: ReadOptions) -> Result<Model, ReadError> {
    let mut words = Words::new(bytes, 0, Format::StlAscii);
    let mut model = Model::default();
    let mut part = Part::default();
    let mut n_facets = 0usize;
    let mut inside_solid = false;
    while let Some(word) = words.word() {
        if word.eq_ignore_ascii_case(b"facet") {
            n_facets += 1;
            facet(&mut words, n_facets, &mut part)?;
        } else if word.eq_ignore_ascii_case(b"solid") {
            push(&mut model, std::mem::take(&mut part));
            part.name = solid_name(&mut words);
            inside_solid = true;
        } else if word.eq_ignore_ascii_case(b"endsolid") {
            words.take_line();
            inside_solid = false;
        } else if word.eq_ignore_ascii_case(b"color") {
            // Colour lines appear between facets in the wild; they say nothing about the shape.
            words.take_line();
        } else if word != b"\x1a" {
            let found = text::printable(word);
            return Err(words
                .error(format!("expected \"facet\" or \"endsolid\" after facet {n_facets}, found {found}")));
        }
    }
    if inside_solid {
        if options.strict {
            return Err(words.error(format!("no \"endsolid\" after facet {n_facets}")));
        }
        model.notices.push(Notice {
            code: "no-endsolid",
            text: format!("the file ends after facet {n_facets} without \"endsolid\"; it may be cut short"),
            count: 1,
            at_mm: Vec::new(),
        });
    }
    push(&mut model, part);
    Ok(model)
}

/// The rest of the line after `solid`; a name never holds the word `facet`, so a file written on
/// one line still reads.
fn solid_name(words: &mut Words) -> String {
    let mut ahead = Vec::new();
    while let Some(word) = words.word_on_line_unless("facet") {
        ahead.push(word);
    }
    text::name(&ahead.join(&b' '))
}

/// `normal x y z outer loop vertex x y z (3 times) endloop endfacet`.
fn facet(words: &mut Words, facet: usize, part: &mut Part) -> Result<(), ReadError> {
    expect(words, "normal", facet)?;
    // A normal may be anything, also not a number: it is not used.
    for _ in 0..3 {
        next(words, facet)?;
    }
    expect(words, "outer", facet)?;
    expect(words, "loop", facet)?;
    let first = part.points.len() as u32;
    for corner in 1..=3 {
        expect(words, "vertex", facet)?;
        let mut point = [0.0; 3];
        for value in &mut point {
            *value = words.number_in(|| format!("facet {facet}, corner {corner}"))?;
        }
        part.points.push(point);
    }
    expect(words, "endloop", facet)?;
    expect(words, "endfacet", facet)?;
    part.triangles.push([first, first + 1, first + 2]);
    Ok(())
}

fn expect(words: &mut Words, expected: &str, facet: usize) -> Result<(), ReadError> {
    let found = next(words, facet)?;
    if found.eq_ignore_ascii_case(expected.as_bytes()) {
        return Ok(());
    }
    Err(words.error(format!("facet {facet}: expected \"{expected}\", found {}", text::printable(found))))
}

fn next<'a>(words: &mut Words<'a>, facet: usize) -> Result<&'a [u8], ReadError> {
    words.word().ok_or_else(|| words.error(format!("the file ends inside facet {facet}: it is cut short")))
}

fn push(model: &mut Model, part: Part) {
    if !part.triangles.is_empty() {
        model.parts.push(part);
    }
}
