//! OFF: a head word, counts, points and polygons, one a line.
//!
//! Colours, normals and texture coordinates behind the points and faces are skipped. Binary and
//! four-dimensional files are refused.
//! Source: "Geomview manual", chapter OFF files (from memory).

use super::polygon::Triangulator;
use super::text::{self, Lines};
use super::{Format, ReadError};
use crate::model::{Model, Part};

/// The head word, if the first word of the file is one: `OFF`, `COFF`, `STCNOFF` and so on. Counts
/// may follow without a space.
fn head(bytes: &[u8]) -> Option<&[u8]> {
    let first = Lines::new(bytes).find_map(|line| text::words(without_comment(line)).next())?;
    let end = first.windows(3).take(8).position(|three| three == b"OFF")? + 3;
    first[..end - 3].iter().all(|b| b"STCN4n".contains(b)).then(|| &first[..end])
}

/// Whether the file starts as OFF.
pub fn announces(bytes: &[u8]) -> bool {
    head(bytes).is_some()
}

/// Reads points and polygons as one part.
///
/// # Errors
/// [`ReadError::Line`].
pub fn read(bytes: &[u8]) -> Result<Model, ReadError> {
    let Some(head) = head(bytes) else { return Err(error(1, "no OFF head word".into())) };
    if head.contains(&b'4') || head.contains(&b'n') {
        return Err(error(1, "points of four or more dimensions are not read".into()));
    }
    // Texture, colour and normal flags change what stands behind x y z, never before it.
    let mut lines = Lines::new(bytes);
    let mut first_line: &[u8] = &[];
    while text::words(first_line).next().is_none() {
        match lines.next() {
            Some(line) => first_line = without_comment(line),
            None => return Err(error(lines.number, "the file ends after its head".into())),
        }
    }
    let after_head = &first_line.trim_ascii_start()[head.len()..];
    if text::words(after_head).next().is_some_and(|word| word.eq_ignore_ascii_case(b"BINARY")) {
        return Err(error(lines.number, "binary OFF is not read; export it as text or as STL".into()));
    }
    let counts_line = if text::words(after_head).next().is_some() {
        after_head
    } else {
        next_line(&mut lines, "its counts")?
    };
    let (n_points, n_faces) = counts(counts_line).map_err(|why| error(lines.number, why))?;
    let mut part = Part::default();
    for index in 0..n_points {
        let line = next_line(&mut lines, "its points")?;
        let mut words = text::words(line);
        let mut point = [0.0; 3];
        for value in &mut point {
            let word = words
                .next()
                .ok_or_else(|| error(lines.number, format!("point {index} has fewer than 3 coordinates")))?;
            *value = text::number(word).map_err(|why| error(lines.number, why))?;
        }
        part.points.push(point);
    }
    let mut triangulator = Triangulator::new();
    let mut polygon = Vec::new();
    for _ in 0..n_faces {
        let line = next_line(&mut lines, "its faces")?;
        face(line, part.points.len(), &mut polygon).map_err(|why| error(lines.number, why))?;
        if triangulator.add(&part.points, &polygon, &mut part.triangles).is_err() {
            return Err(error(lines.number, "the polygons are too intricate; export triangles".into()));
        }
    }
    Ok(Model { parts: vec![part], ..Model::default() })
}

/// The next line with words, without its comment.
fn next_line<'a>(lines: &mut Lines<'a>, within: &str) -> Result<&'a [u8], ReadError> {
    for line in lines.by_ref() {
        let line = without_comment(line);
        if !line.trim_ascii().is_empty() {
            return Ok(line);
        }
    }
    Err(error(lines.number, format!("the file ends within {within}: it is cut short")))
}

fn counts(line: &[u8]) -> Result<(u64, u64), String> {
    let mut words = text::words(line).map(integer);
    match (words.next(), words.next()) {
        (Some(points), Some(faces)) => Ok((points?, faces?)),
        _ => Err("expected the counts of points and faces".into()),
    }
}

fn face(line: &[u8], n_points: usize, polygon: &mut Vec<u32>) -> Result<(), String> {
    let mut words = text::words(line);
    let n_corners = words.next().map_or(Err("no corner count".into()), integer)?;
    polygon.clear();
    for _ in 0..n_corners {
        let word = words
            .next()
            .ok_or_else(|| format!("a face announces {n_corners} corners and has {}", polygon.len()))?;
        let index = integer(word)?;
        if index >= n_points as u64 {
            return Err(format!("a face uses point {index}, the last is {}", n_points as i64 - 1));
        }
        polygon.push(index as u32);
    }
    Ok(())
}

fn integer(word: &[u8]) -> Result<u64, String> {
    let parsed = std::str::from_utf8(word).ok().and_then(|text| text.parse().ok());
    parsed.ok_or_else(|| format!("{} is not a count or an index", text::printable(word)))
}

fn without_comment(line: &[u8]) -> &[u8] {
    line.split(|&b| b == b'#').next().unwrap_or(line)
}

fn error(line: usize, why: String) -> ReadError {
    ReadError::Line { format: Format::Off, line, why }
}
