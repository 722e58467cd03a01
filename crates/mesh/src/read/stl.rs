//! Binary STL: 80 bytes of header, a count of facets, 50 bytes a facet, little endian.
//!
//! Facet normals and the two attribute bytes are skipped: the order of the corners decides.
//! Kept: every coordinate exactly (f32 in f64). Corners with the same bits become one point: the
//! format repeats each point in about six facets, and later steps are paid by the point.
//! Source: layout from "StereoLithography Interface Specification" (1989), from memory; agrees
//! with the Library of Congress format description fdd000504 (from memory).
//! Not here: ASCII STL (`stl_ascii.rs`), telling the two apart (`mod.rs`).

use super::{Format, ReadError};
use crate::edges::QuickMap;
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

/// Reads a binary STL as one part; points in order of first use.
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
    let mut part = Part { triangles: Vec::with_capacity(n_facets), ..Part::default() };
    // A closed surface has about half as many points as facets.
    let mut known: QuickMap<[u32; 3], u32> = QuickMap::default();
    known.reserve(n_facets / 2);
    for (facet, record) in body.chunks_exact(FACET_BYTES).take(n_facets).enumerate() {
        let (fields, _) = record[12..48].as_chunks::<4>();
        let bits: [u32; 9] = std::array::from_fn(|k| u32::from_le_bytes(fields[k]));
        if let Some(bad) = bits.iter().position(|&b| !f32::from_bits(b).is_finite()) {
            let kind = if f32::from_bits(bits[bad]).is_nan() { "not a number" } else { "infinite" };
            let axis = ["x", "y", "z"][bad % 3];
            let at = HEADER_BYTES + facet * FACET_BYTES + 12 + 4 * bad;
            return Err(error(
                at,
                format!("facet {}", facet + 1),
                format!("{axis} of corner {} is {kind}", bad / 3 + 1),
            ));
        }
        part.triangles.push(std::array::from_fn(|corner| {
            let bits = std::array::from_fn(|axis| bits[3 * corner + axis]);
            let next = part.points.len() as u32;
            let index = *known.entry(bits).or_insert(next);
            if index == next {
                part.points.push(bits.map(|b| f64::from(f32::from_bits(b))));
            }
            index
        }));
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
