//! Binary STL: 80 bytes of header, a count of facets, 50 bytes a facet, little endian.
//!
//! Facet normals and the two attribute bytes are skipped: the order of the corners decides.
//! Kept: every coordinate exactly (f32 in f64).
//! Source: layout from "StereoLithography Interface Specification" (1989), from memory; agrees
//! with the Library of Congress format description fdd000504 (from memory).
//! Not here: ASCII STL (`stl_ascii.rs`), telling the two apart (`mod.rs`).

use super::{Format, ReadError};
use crate::model::{Model, Notice, Part};

const HEADER_BYTES: usize = 84;
const FACET_BYTES: usize = 50;

/// The count of facets the header announces; `None` if the file is too short to have one.
pub fn announced_facets(bytes: &[u8]) -> Option<u32> {
    let field = bytes.get(80..84)?;
    Some(u32::from_le_bytes([field[0], field[1], field[2], field[3]]))
}

/// Bytes of a file with this many facets.
pub fn size_of(n_facets: u32) -> u64 {
    HEADER_BYTES as u64 + FACET_BYTES as u64 * u64::from(n_facets)
}

/// Reads a binary STL as one part, three points a facet.
///
/// # Errors
/// [`ReadError::Byte`] with the facet, counted from 1.
pub fn read(bytes: &[u8]) -> Result<Model, ReadError> {
    let Some(announced) = announced_facets(bytes) else {
        let why =
            format!("the header takes {HEADER_BYTES} bytes, the file has {}: it is cut short", bytes.len());
        return Err(error(0, "header".into(), why));
    };
    let body = &bytes[HEADER_BYTES..];
    let n_whole = body.len() / FACET_BYTES;
    if (announced as usize) > n_whole {
        let why = format!(
            "the header announces {announced} facets, the file holds {n_whole} whole ones: it is cut short"
        );
        return Err(error(HEADER_BYTES + n_whole * FACET_BYTES, format!("facet {}", n_whole + 1), why));
    }
    let n_facets = announced as usize;
    let mut part = Part {
        points: Vec::with_capacity(3 * n_facets),
        triangles: Vec::with_capacity(n_facets),
        ..Part::default()
    };
    for (facet, record) in body.chunks_exact(FACET_BYTES).take(n_facets).enumerate() {
        let mut coordinates = [0.0f64; 9];
        for (value, field) in coordinates.iter_mut().zip(record[12..48].chunks_exact(4)) {
            *value = f64::from(f32::from_le_bytes([field[0], field[1], field[2], field[3]]));
        }
        if let Some(bad) = coordinates.iter().position(|value| !value.is_finite()) {
            let kind = if coordinates[bad].is_nan() { "not a number" } else { "infinite" };
            let axis = ["x", "y", "z"][bad % 3];
            let at = HEADER_BYTES + facet * FACET_BYTES + 12 + 4 * bad;
            return Err(error(
                at,
                format!("facet {}", facet + 1),
                format!("{axis} of corner {} is {kind}", bad / 3 + 1),
            ));
        }
        let first = (3 * facet) as u32;
        let c = &coordinates;
        part.points.extend([[c[0], c[1], c[2]], [c[3], c[4], c[5]], [c[6], c[7], c[8]]]);
        part.triangles.push([first, first + 1, first + 2]);
    }
    let mut model = Model { parts: vec![part], ..Model::default() };
    let trailing = body.len() - n_facets * FACET_BYTES;
    if trailing > 0 {
        model.notices.push(Notice {
            code: "trailing-bytes",
            text: format!("{trailing} bytes follow the last facet and were skipped"),
            count: trailing,
            at_mm: Vec::new(),
        });
    }
    Ok(model)
}

fn error(byte: usize, element: String, why: String) -> ReadError {
    ReadError::Byte { format: Format::StlBinary, byte, element, why }
}
