//! Read a model file: the bytes decide the format, the name only breaks ties.
//!
//! How: a few marks at the start and the arithmetic of binary STL tell the format ([`format_of`]);
//! one file per format does the rest and yields a [`Model`] as written, in file units.
//! Nothing in a file sizes an allocation before the bytes it speaks of are seen to exist.
//! Strict mode also refuses what the format's standard forbids although the shape is certain.
//! Not here: joining points, proving closedness (`solid.rs`), counting flaws (`flaws.rs`), units
//! (`units.rs`).

mod obj;
mod off;
mod package;
mod ply;
mod ply_header;
mod polygon;
mod stl;
mod stl_ascii;
mod text;
mod threemf;

#[cfg(test)]
mod tests;

pub use package::{MAX_PACKAGE_BYTES, MAX_PART_BYTES};

use crate::model::Model;

/// How to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadOptions {
    /// Refuse what the format's standard forbids even where the geometry is certain.
    pub strict: bool,
}

/// The formats this crate reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Binary STL: 80 bytes, a count, 50 bytes a facet.
    StlBinary,
    /// ASCII STL.
    StlAscii,
    /// Polygons of an OBJ file.
    Obj,
    /// PLY, text or binary of both byte orders.
    Ply,
    /// OFF, text.
    Off,
    /// 3MF: a ZIP package of XML parts.
    ThreeMf,
}

impl Format {
    /// Short name for messages.
    pub fn name(self) -> &'static str {
        match self {
            Self::StlBinary => "binary STL",
            Self::StlAscii => "ASCII STL",
            Self::Obj => "OBJ",
            Self::Ply => "PLY",
            Self::Off => "OFF",
            Self::ThreeMf => "3MF",
        }
    }
}

/// Why a file cannot be read, and where in it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The file has no bytes.
    #[error("the file is empty (0 bytes)")]
    Empty,
    /// None of the formats fits. Export the model as STL, OBJ, PLY or 3MF.
    #[error("this is not STL, OBJ, PLY, OFF or 3MF: the file starts with {start}")]
    Unknown {
        /// The first bytes, printable.
        start: String,
    },
    /// Text in an encoding that is not read. Save it as UTF-8 or plain ASCII.
    #[error("the text is {encoding}; save it as UTF-8 or plain ASCII")]
    Encoding {
        /// Name of the encoding found.
        encoding: &'static str,
    },
    /// The file is well-formed but holds no triangle.
    #[error("the {} file holds no triangles{detail}", format.name())]
    NoTriangles {
        /// The format.
        format: Format,
        /// What it holds instead, or empty; starts with a comma or a colon.
        detail: String,
    },
    /// A line of a text format is wrong.
    #[error("{} line {line}: {why}", format.name())]
    Line {
        /// The format.
        format: Format,
        /// Line number, from 1.
        line: usize,
        /// What is wrong there.
        why: String,
    },
    /// A place in a binary file is wrong.
    #[error("{} byte {byte}, {element}: {why}", format.name())]
    Byte {
        /// The format.
        format: Format,
        /// Offset from the file's start.
        byte: usize,
        /// Which facet, vertex or face, counted from 1.
        element: String,
        /// What is wrong there.
        why: String,
    },
    /// The package around a 3MF model is wrong.
    #[error("3MF package, {part}: {why}")]
    Package {
        /// Name of the part inside the package, or "the archive".
        part: String,
        /// What is wrong with it.
        why: String,
    },
    /// A line of an XML part of a 3MF package is wrong.
    #[error("3MF {part} line {line}: {why}")]
    PartLine {
        /// Name of the part inside the package.
        part: String,
        /// Line number in the part, from 1.
        line: usize,
        /// What is wrong there.
        why: String,
    },
    /// The file, or something in it, is larger than what is read. The text says the limit.
    #[error("{what} takes {found} {unit}, more than the limit of {limit}")]
    TooLarge {
        /// What is too large.
        what: String,
        /// How large it is, or says it is.
        found: u64,
        /// The largest accepted.
        limit: u64,
        /// What is counted, e.g. "bytes".
        unit: &'static str,
    },
}

/// Reads a model leniently: faults that leave the shape certain become notices.
///
/// `name` is the file's name; only its ending is used, and only where the bytes fit two formats.
///
/// # Errors
/// [`ReadError`] says where in the file and why.
///
/// # Examples
/// ```
/// let text = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\nf 1 3 2\nf 1 2 4\nf 2 3 4\nf 3 1 4\n";
/// let model = seamwright_mesh::read::read_model(text.as_bytes(), "tetrahedron.obj")?;
/// assert_eq!(model.parts[0].triangles.len(), 4);
/// # Ok::<(), seamwright_mesh::read::ReadError>(())
/// ```
pub fn read_model(bytes: &[u8], name: &str) -> Result<Model, ReadError> {
    read_model_with(bytes, name, ReadOptions { strict: false })
}

/// Reads a model with options; see [`read_model`].
///
/// # Errors
/// [`ReadError`] says where in the file and why.
pub fn read_model_with(bytes: &[u8], name: &str, options: ReadOptions) -> Result<Model, ReadError> {
    let format = format_of(bytes, name)?;
    let model = match format {
        Format::StlBinary => stl::read(bytes)?,
        Format::StlAscii => stl_ascii::read(bytes, options)?,
        Format::Obj => obj::read(bytes, options)?,
        Format::Ply => ply::read(bytes, options)?,
        Format::Off => off::read(bytes)?,
        Format::ThreeMf => threemf::read(bytes, options)?,
    };
    if model.parts.iter().all(|part| part.triangles.is_empty()) {
        let n_points: usize = model.parts.iter().map(|part| part.points.len()).sum();
        let detail = if n_points == 0 { String::new() } else { format!(", only {n_points} points") };
        return Err(ReadError::NoTriangles { format, detail });
    }
    Ok(model)
}

/// Decides the format by the bytes; `name` breaks ties between text formats.
///
/// # Errors
/// [`ReadError::Empty`], [`ReadError::Encoding`] for UTF-16 text, [`ReadError::Unknown`].
pub fn format_of(bytes: &[u8], name: &str) -> Result<Format, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        return Ok(Format::ThreeMf);
    }
    // The size of a binary STL follows from its count: an exact match outweighs any word at the
    // start, because exporters write "solid" into binary headers too.
    if stl::announced_facets(bytes).is_some_and(|n| n > 0 && stl::size_of(n) == bytes.len() as u64) {
        return Ok(Format::StlBinary);
    }
    if text::starts_with_word(bytes, "ply") {
        return Ok(Format::Ply);
    }
    text::refuse_utf16(bytes)?;
    if text::looks_like_text(bytes) {
        return text_format(bytes, name).ok_or_else(|| unknown(bytes));
    }
    if off::announces(bytes) {
        return Ok(Format::Off);
    }
    let named_stl = has_ending(name, ".stl");
    let plausible = stl::announced_facets(bytes).is_some_and(|n| stl::size_of(n) <= bytes.len() as u64);
    if named_stl || plausible { Ok(Format::StlBinary) } else { Err(unknown(bytes)) }
}

fn text_format(bytes: &[u8], name: &str) -> Option<Format> {
    if off::announces(bytes) {
        return Some(Format::Off);
    }
    if text::starts_with_word(bytes, "solid") || text::starts_with_word(bytes, "facet") {
        return Some(Format::StlAscii);
    }
    if obj::looks_like(bytes) {
        return Some(Format::Obj);
    }
    // Nothing in the text decides, e.g. a broken first line: trust the name.
    let endings =
        [(".stl", Format::StlAscii), (".obj", Format::Obj), (".ply", Format::Ply), (".off", Format::Off)];
    endings.into_iter().find(|(ending, _)| has_ending(name, ending)).map(|(_, format)| format)
}

fn has_ending(name: &str, ending: &str) -> bool {
    name.to_ascii_lowercase().ends_with(ending)
}

fn unknown(bytes: &[u8]) -> ReadError {
    let start: String =
        bytes.iter().take(16).flat_map(|&b| std::ascii::escape_default(b)).map(char::from).collect();
    ReadError::Unknown { start: format!("\"{start}\"") }
}
