//! The header of a PLY file: encoding, elements and their properties.
//!
//! Source: "The PLY Polygon File Format" (1994), from memory; the sized type names (`float32`,
//! `uint8`) are common practice.

use super::text::{self, Lines};
use super::{Format, ReadError};

/// How the data after the header are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// Numbers in words.
    Ascii,
    /// Binary, low byte first.
    Little,
    /// Binary, high byte first.
    Big,
}

/// A number type.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Scalar {
    /// Bytes of one number.
    pub fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    fn named(word: &[u8]) -> Option<Self> {
        Some(match word {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }
}

/// One column of an element.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Property {
    /// Its name.
    pub name: String,
    /// Type of the count for a list, else `None`.
    pub count: Option<Scalar>,
    /// Type of the value or of the list's entries.
    pub value: Scalar,
}

/// A table of rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Element {
    /// Its name.
    pub name: String,
    /// How many rows the header announces; not trusted.
    pub n_rows: u64,
    /// Columns in order.
    pub properties: Vec<Property>,
}

/// All the header says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// How the data are written.
    pub encoding: Encoding,
    /// Tables in order.
    pub elements: Vec<Element>,
    /// Bytes of the header with the end of its last line.
    pub n_bytes: usize,
    /// Lines of the header.
    pub n_lines: usize,
}

/// Reads the header.
///
/// # Errors
/// [`ReadError::Line`].
pub fn read(bytes: &[u8]) -> Result<Header, ReadError> {
    let mut lines = Lines::new(bytes);
    let mut encoding = None;
    let mut elements: Vec<Element> = Vec::new();
    let ended = loop {
        let Some(line) = lines.next() else { break false };
        let words: Vec<&[u8]> = text::words(line).collect();
        let fail = |why: String| Err(ReadError::Line { format: Format::Ply, line: lines.number, why });
        match words.as_slice() {
            [] | [b"ply"] | [b"comment", ..] | [b"obj_info", ..] => {}
            [b"format", name, ..] => {
                encoding = Some(match *name {
                    b"ascii" => Encoding::Ascii,
                    b"binary_little_endian" => Encoding::Little,
                    b"binary_big_endian" => Encoding::Big,
                    _ => return fail(format!("unknown encoding {}", text::printable(name))),
                });
            }
            [b"element", name, count, ..] => {
                let Some(n_rows) = std::str::from_utf8(count).ok().and_then(|text| text.parse().ok()) else {
                    return fail(format!("{} is not a count", text::printable(count)));
                };
                elements.push(Element { name: text::name(name), n_rows, properties: Vec::new() });
            }
            [b"property", b"list", count, value, name, ..] => {
                let (Some(count), Some(value)) = (Scalar::named(count), Scalar::named(value)) else {
                    return fail(format!("unknown number type in {}", text::printable(line.trim_ascii())));
                };
                if matches!(count, Scalar::F32 | Scalar::F64) {
                    return fail("a list whose count is not a whole number".into());
                }
                let Some(element) = elements.last_mut() else {
                    return fail("a property before any element".into());
                };
                element.properties.push(Property { name: text::name(name), count: Some(count), value });
            }
            [b"property", value, name, ..] => {
                let Some(value) = Scalar::named(value) else {
                    return fail(format!("unknown number type {}", text::printable(value)));
                };
                let Some(element) = elements.last_mut() else {
                    return fail("a property before any element".into());
                };
                element.properties.push(Property { name: text::name(name), count: None, value });
            }
            [b"end_header", ..] => break true,
            _ => return fail(format!("unknown header line {}", text::printable(line.trim_ascii()))),
        }
    };
    let fail = |why: &str| Err(ReadError::Line { format: Format::Ply, line: lines.number, why: why.into() });
    if !ended {
        return fail("the file ends within its header: no \"end_header\"");
    }
    let Some(encoding) = encoding else { return fail("the header names no format") };
    let n_bytes = bytes.len() - lines.rest().len();
    Ok(Header { encoding, elements, n_bytes, n_lines: lines.number })
}
