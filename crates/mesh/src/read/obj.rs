//! OBJ: points and polygons; objects and groups become parts.
//!
//! How: one pass over the lines collects points and faces, the polygons become triangles at the
//! end, so faces may name points that follow. Negative indices count back from the last point so
//! far. A backslash at the end joins lines. Texture and normal indices, colours and materials are
//! skipped; lines, points and free-form surfaces are skipped and counted.
//! Source: file format as in "Advanced Visualizer, appendix B1: object files" (1990s), from memory.

use super::polygon::Triangulator;
use super::text::{self, Lines};
use super::{Format, ReadError, ReadOptions};
use crate::model::{Model, Notice, Part};

/// Keywords an OBJ file may start with.
const KEYWORDS: [&[u8]; 14] =
    [b"v", b"vn", b"vt", b"vp", b"f", b"l", b"p", b"o", b"g", b"s", b"mtllib", b"usemtl", b"cstype", b"deg"];

/// Whether the first line with words, comments skipped, starts with a keyword.
pub fn looks_like(bytes: &[u8]) -> bool {
    Lines::new(bytes)
        .take(10_000)
        .filter_map(|line| text::words(line).next())
        .find(|word| !word.starts_with(b"#"))
        .is_some_and(|word| KEYWORDS.contains(&word))
}

#[derive(Default)]
struct Faces {
    /// Corners of all faces in a row, indices into the points.
    corners: Vec<u32>,
    /// Per face: where its corners end, its line, its part.
    ends: Vec<(u32, u32, u32)>,
}

/// Reads points and polygons.
///
/// # Errors
/// [`ReadError::Line`]; [`ReadError::TooLarge`] past 2^32 corners.
pub fn read(bytes: &[u8], options: ReadOptions) -> Result<Model, ReadError> {
    let mut points: Vec<[f64; 3]> = Vec::new();
    let mut faces = Faces::default();
    let mut names: Vec<String> = vec![String::new()];
    let mut current = 0u32;
    let (mut n_skipped, mut n_narrow) = (0usize, 0usize);
    let mut lines = Lines::new(bytes);
    let mut joined = Vec::new();
    while let Some(first) = lines.next() {
        let line_number = lines.number;
        let mut line = first;
        if first.trim_ascii_end().ends_with(b"\\") {
            joined.clear();
            join(first, &mut lines, &mut joined);
            line = &joined;
        }
        let mut words = text::words(line);
        let Some(keyword) = words.next() else { continue };
        match keyword {
            b"v" => points.push(point(&mut words, line_number)?),
            b"f" | b"fo" => {
                let before = faces.corners.len();
                for word in words.take_while(|word| !word.starts_with(b"#")) {
                    faces.corners.push(corner(word, points.len(), line_number)?);
                }
                let n_corners = faces.corners.len() - before;
                if n_corners < 3 {
                    if options.strict {
                        return Err(error(line_number, format!("a face with {n_corners} corners")));
                    }
                    faces.corners.truncate(before);
                    n_narrow += 1;
                    continue;
                }
                let end = u32::try_from(faces.corners.len()).map_err(|_| too_many(faces.corners.len()))?;
                faces.ends.push((end, line_number as u32, current));
            }
            b"o" | b"g" => {
                names.push(text::name(line.trim_ascii().get(1..).unwrap_or(&[])));
                current = names.len() as u32 - 1;
            }
            b"l" | b"p" | b"curv" | b"curv2" | b"surf" => n_skipped += 1,
            _ => {}
        }
    }
    let mut model = Model { parts: parts(&points, &faces, names)?, ..Model::default() };
    note(&mut model, "faces-too-narrow", n_narrow, "faces with fewer than three corners were skipped");
    note(
        &mut model,
        "not-polygons",
        n_skipped,
        "lines, points or free-form curves were skipped: only polygons are read",
    );
    Ok(model)
}

/// Triangulates the faces and gives each part the points it uses.
fn parts(points: &[[f64; 3]], faces: &Faces, names: Vec<String>) -> Result<Vec<Part>, ReadError> {
    let mut parts: Vec<Part> = names.into_iter().map(|name| Part { name, ..Part::default() }).collect();
    // Per point of the file: the part that used it last and its index there.
    let mut copies = vec![(u32::MAX, 0u32); points.len()];
    let mut triangulator = Triangulator::new();
    let mut triangles = Vec::new();
    let mut start = 0usize;
    for &(end, line, part_index) in &faces.ends {
        let polygon = &faces.corners[start..end as usize];
        start = end as usize;
        if let Some(&bad) = polygon.iter().find(|&&corner| corner as usize >= points.len()) {
            let why = format!("a face uses point {}, the file has {}", u64::from(bad) + 1, points.len());
            return Err(error(line as usize, why));
        }
        triangles.clear();
        if triangulator.add(points, polygon, &mut triangles).is_err() {
            return Err(error(line as usize, "the polygons are too intricate; export triangles".into()));
        }
        let part = &mut parts[part_index as usize];
        for triangle in &triangles {
            part.triangles.push(triangle.map(|corner| {
                let copy = &mut copies[corner as usize];
                if copy.0 != part_index {
                    *copy = (part_index, part.points.len() as u32);
                    part.points.push(points[corner as usize]);
                }
                copy.1
            }));
        }
    }
    parts.retain(|part| !part.triangles.is_empty());
    if parts.is_empty() && !points.is_empty() {
        // Keeps the count for the message that there are no triangles.
        parts.push(Part { points: points.to_vec(), ..Part::default() });
    }
    Ok(parts)
}

fn point<'a>(words: &mut impl Iterator<Item = &'a [u8]>, line: usize) -> Result<[f64; 3], ReadError> {
    let mut point = [0.0; 3];
    for (axis, value) in point.iter_mut().enumerate() {
        let word = words.next().ok_or_else(|| error(line, format!("a point with {axis} coordinates")))?;
        *value = text::number(word).map_err(|why| error(line, why))?;
    }
    Ok(point)
}

/// The point index, from 0, of a face corner `v`, `v/vt`, `v//vn` or `v/vt/vn`.
fn corner(word: &[u8], n_points: usize, line: usize) -> Result<u32, ReadError> {
    let index = word.split(|&b| b == b'/').next().unwrap_or(word);
    let parsed = std::str::from_utf8(index).ok().and_then(|text| text.parse::<i64>().ok());
    let Some(index) = parsed else {
        return Err(error(line, format!("{} is not a point index", text::printable(word))));
    };
    let from_zero = if index < 0 { (n_points as i64).checked_add(index) } else { index.checked_sub(1) };
    from_zero.and_then(|i| u32::try_from(i).ok()).ok_or_else(|| {
        error(line, format!("a face uses point {index}; indices start at 1, or count back from -1 ({n_points} points so far)"))
    })
}

/// Appends this line and those it continues on, without the backslashes.
fn join(first: &[u8], lines: &mut Lines, joined: &mut Vec<u8>) {
    let mut line = first;
    while let Some(start) = line.trim_ascii_end().strip_suffix(b"\\") {
        joined.extend_from_slice(start);
        joined.push(b' ');
        let Some(next) = lines.next() else { return };
        line = next;
    }
    joined.extend_from_slice(line);
}

fn note(model: &mut Model, code: &'static str, count: usize, what: &str) {
    if count > 0 {
        model.notices.push(Notice { code, text: format!("{count} {what}"), count, at_mm: Vec::new() });
    }
}

fn too_many(found: usize) -> ReadError {
    ReadError::TooLarge {
        what: "the faces of the OBJ file".into(),
        found: found as u64,
        limit: u64::from(u32::MAX),
        unit: "corners",
    }
}

fn error(line: usize, why: String) -> ReadError {
    ReadError::Line { format: Format::Obj, line, why }
}
