//! PLY: points and faces of any number types, text or binary of both byte orders.
//!
//! How: rows are read column by column; only x, y, z of `vertex`, the index list of `face` and of
//! `tristrips` are kept, every other element and column is stepped over. Counts size nothing: a
//! row is stored after its bytes were read, and a table without columns is not walked.
//! Source: "The PLY Polygon File Format" (1994), from memory; strips with -1 between them are
//! common practice of scanned models.
//! Not here: the header (`ply_header.rs`).

use super::ply_header::{self, Element, Encoding, Header, Scalar};
use super::polygon::Triangulator;
use super::text::{self, Words};
use super::{Format, ReadError, ReadOptions};
use crate::model::{Model, Notice, Part};

/// What a row holds of interest: the point, the list of indices.
#[derive(Default)]
struct Row {
    point: [f64; 3],
    indices: Vec<i64>,
}

/// Which column is what.
struct Roles {
    xyz: [Option<usize>; 3],
    list: Option<usize>,
}

/// Numbers one after the other, from text or from binary.
enum Source<'a> {
    Text(Words<'a>),
    Binary { bytes: &'a [u8], at: usize, big: bool },
}

/// Reads points, faces and strips as one part.
///
/// # Errors
/// [`ReadError::Line`] or [`ReadError::Byte`] with the row, counted from 0 as the format counts.
pub fn read(bytes: &[u8], options: ReadOptions) -> Result<Model, ReadError> {
    let header = ply_header::read(bytes)?;
    let mut source = Source::new(bytes, &header);
    let mut part = Part::default();
    let mut polygons: (Vec<u32>, Vec<usize>) = Default::default();
    let mut strips: Vec<i64> = Vec::new();
    let mut n_narrow = 0usize;
    let last_needed =
        header.elements.iter().rposition(|e| matches!(e.name.as_str(), "vertex" | "face" | "tristrips"));
    for element in header.elements.iter().take(last_needed.map_or(0, |last| last + 1)) {
        let roles = Roles::of(element);
        let kind = element.name.as_str();
        if kind == "vertex" && element.n_rows > 0 && roles.xyz.iter().any(Option::is_none) {
            return Err(source.error("vertex", None, "the points have no x, y and z".into()));
        }
        if kind == "face" && element.n_rows > 0 && roles.list.is_none() {
            return Err(source.error("face", None, "the faces have no list of vertex indices".into()));
        }
        if element.properties.is_empty() {
            continue;
        }
        let mut row = Row::default();
        for index in 0..element.n_rows {
            source.row(element, &roles, index, &mut row)?;
            match kind {
                "vertex" => part.points.push(row.point),
                "face" if row.indices.len() < 3 => n_narrow += 1,
                "face" => {
                    let n_points = part.points.len();
                    for &corner in &row.indices {
                        // Points that follow their faces are checked at the end, without the line.
                        if n_points > 0 && corner >= n_points as i64 {
                            return Err(source.error(kind, Some(index), past_last(corner, n_points)));
                        }
                        let corner = u32::try_from(corner)
                            .map_err(|_| source.error(kind, Some(index), format!("uses point {corner}")))?;
                        polygons.0.push(corner);
                    }
                    polygons.1.push(polygons.0.len());
                }
                "tristrips" => {
                    strips.extend_from_slice(&row.indices);
                    strips.push(-1);
                }
                _ => {}
            }
        }
    }
    if n_narrow > 0 && options.strict {
        return Err(source.error("face", None, format!("{n_narrow} faces have fewer than three corners")));
    }
    add_polygons(&polygons, &mut part, &source)?;
    add_strips(&strips, &mut part, &source)?;
    let mut model = Model { parts: vec![part], ..Model::default() };
    if n_narrow > 0 {
        let text = format!("{n_narrow} faces with fewer than three corners were skipped");
        model.notices.push(Notice { code: "faces-too-narrow", text, count: n_narrow, at_mm: Vec::new() });
    }
    Ok(model)
}

fn add_polygons(
    (corners, ends): &(Vec<u32>, Vec<usize>),
    part: &mut Part,
    source: &Source,
) -> Result<(), ReadError> {
    let mut triangulator = Triangulator::new();
    let mut start = 0;
    for (index, &end) in ends.iter().enumerate() {
        let polygon = &corners[start..end];
        start = end;
        let n_points = part.points.len();
        if let Some(&bad) = polygon.iter().find(|&&corner| corner as usize >= n_points) {
            let why = past_last(i64::from(bad), n_points);
            return Err(source.error("face", Some(index as u64), why));
        }
        if triangulator.add(&part.points, polygon, &mut part.triangles).is_err() {
            let why = "the polygons are too intricate; export triangles".into();
            return Err(source.error("face", Some(index as u64), why));
        }
    }
    Ok(())
}

fn past_last(corner: i64, n_points: usize) -> String {
    format!("uses point {corner}, the file has {n_points}, numbered from 0")
}

/// Triangles of strips: each index with the two before it, every second one turned; a negative
/// index starts anew; triangles that name a point twice only steer the strip.
fn add_strips(strips: &[i64], part: &mut Part, source: &Source) -> Result<(), ReadError> {
    for strip in strips.split(|&index| index < 0) {
        if let Some(&bad) = strip.iter().find(|&&index| index >= part.points.len() as i64) {
            let why = format!("uses point {bad}, the file has {}", part.points.len());
            return Err(source.error("tristrips", None, why));
        }
        for (index, three) in strip.windows(3).enumerate() {
            let [a, b, c] = [three[0] as u32, three[1] as u32, three[2] as u32];
            if a != b && b != c && c != a {
                part.triangles.push(if index % 2 == 0 { [a, b, c] } else { [b, a, c] });
            }
        }
    }
    Ok(())
}

impl Roles {
    fn of(element: &Element) -> Self {
        let scalar = |name: &str| element.properties.iter().position(|p| p.name == name && p.count.is_none());
        let list = element
            .properties
            .iter()
            .position(|p| p.count.is_some() && matches!(p.name.as_str(), "vertex_indices" | "vertex_index"));
        if element.name == "vertex" {
            Self { xyz: [scalar("x"), scalar("y"), scalar("z")], list: None }
        } else {
            Self { xyz: [None; 3], list }
        }
    }
}

impl<'a> Source<'a> {
    fn new(bytes: &'a [u8], header: &Header) -> Self {
        match header.encoding {
            Encoding::Ascii => Self::Text(Words::new(&bytes[header.n_bytes..], header.n_lines, Format::Ply)),
            encoding => Self::Binary { bytes, at: header.n_bytes, big: encoding == Encoding::Big },
        }
    }

    fn row(&mut self, element: &Element, roles: &Roles, index: u64, row: &mut Row) -> Result<(), ReadError> {
        row.indices.clear();
        for (column, property) in element.properties.iter().enumerate() {
            let Some(count) = property.count else {
                if let Some(axis) = roles.xyz.iter().position(|&role| role == Some(column)) {
                    let value = self.number(property.value, element, index)?;
                    if !value.is_finite() {
                        let why = format!("{} is {value}", property.name);
                        return Err(self.error(&element.name, Some(index), why));
                    }
                    row.point[axis] = value;
                } else {
                    self.skip(1, property.value, element, index)?;
                }
                continue;
            };
            let length = self.number(count, element, index)?;
            if length < 0.0 {
                return Err(self.error(&element.name, Some(index), format!("a list of {length} entries")));
            }
            if roles.list == Some(column) {
                for _ in 0..length as u64 {
                    let value = self.number(property.value, element, index)?;
                    row.indices.push(value as i64);
                }
            } else {
                self.skip(length as u64, property.value, element, index)?;
            }
        }
        Ok(())
    }

    fn number(&mut self, kind: Scalar, element: &Element, index: u64) -> Result<f64, ReadError> {
        match self {
            Self::Text(words) => match words.word() {
                Some(word) => {
                    text::number(word).map_err(|why| words.error(format!("{} {index}: {why}", element.name)))
                }
                None => Err(self.cut_short(element, index)),
            },
            Self::Binary { bytes, at, big } => {
                let Some(field) = bytes.get(*at..*at + kind.size()) else {
                    return Err(self.cut_short(element, index));
                };
                *at += kind.size();
                Ok(decode(field, kind, *big))
            }
        }
    }

    fn skip(&mut self, count: u64, kind: Scalar, element: &Element, index: u64) -> Result<(), ReadError> {
        match self {
            Self::Text(words) => {
                for _ in 0..count {
                    if words.word().is_none() {
                        return Err(self.cut_short(element, index));
                    }
                }
            }
            Self::Binary { bytes, at, .. } => {
                let left = (bytes.len() - *at) as u64;
                // Counts are at most 32 bits and types 8 bytes, so this cannot overflow.
                if count * kind.size() as u64 > left {
                    return Err(self.cut_short(element, index));
                }
                *at += count as usize * kind.size();
            }
        }
        Ok(())
    }

    fn cut_short(&self, element: &Element, index: u64) -> ReadError {
        let why = format!("the file ends here, {} were announced: it is cut short", element.n_rows);
        self.error(&element.name, Some(index), why)
    }

    fn error(&self, element: &str, index: Option<u64>, why: String) -> ReadError {
        let element = index.map_or(element.to_string(), |index| format!("{element} {index}"));
        match self {
            Self::Text(words) => words.error(format!("{element}: {why}")),
            Self::Binary { at, .. } => ReadError::Byte { format: Format::Ply, byte: *at, element, why },
        }
    }
}

/// One binary number; `field` has exactly the size of `kind`.
fn decode(field: &[u8], kind: Scalar, big: bool) -> f64 {
    let mut bytes = [0u8; 8];
    for (place, &byte) in field.iter().enumerate() {
        bytes[if big { field.len() - 1 - place } else { place }] = byte;
    }
    let word = u64::from_le_bytes(bytes);
    match kind {
        Scalar::I8 => f64::from(word as u8 as i8),
        Scalar::U8 => f64::from(word as u8),
        Scalar::I16 => f64::from(word as u16 as i16),
        Scalar::U16 => f64::from(word as u16),
        Scalar::I32 => f64::from(word as u32 as i32),
        Scalar::U32 => f64::from(word as u32),
        Scalar::F32 => f64::from(f32::from_bits(word as u32)),
        Scalar::F64 => f64::from_bits(word),
    }
}
