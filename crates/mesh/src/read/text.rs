//! Words and numbers of the text formats, with the line each stands on.
//!
//! Lines end at LF, CR LF or CR alone. Numbers are read by the standard library (exact rounding);
//! decimal commas, not-a-number and infinity are refused with what to do about them.
//! Not here: what the words mean (one file per format).

use super::{Format, ReadError};

/// How many bytes decide whether a file is text: beyond any header, little to scan.
const PROBE_BYTES: usize = 4096;

/// Whether the first word of the file is `word`, in any case, after a BOM and white space.
pub fn starts_with_word(bytes: &[u8], word: &str) -> bool {
    let start = without_bom(bytes).trim_ascii_start();
    start.len() >= word.len()
        && start[..word.len()].eq_ignore_ascii_case(word.as_bytes())
        && start.get(word.len()).is_none_or(|b| b.is_ascii_whitespace())
}

/// The bytes after a UTF-8 byte order mark, if there is one.
pub fn without_bom(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes)
}

/// Whether the start reads as text: no control bytes besides white space. Bytes past 127 pass,
/// because names may be in any encoding.
pub fn looks_like_text(bytes: &[u8]) -> bool {
    let probe = &bytes[..bytes.len().min(PROBE_BYTES)];
    probe.iter().all(|&b| b >= 0x20 || matches!(b, b'\t' | b'\n' | b'\r' | 0x0b | 0x0c | 0x1a))
}

/// Refuses UTF-16 text, found by its mark or by a zero in every other byte.
///
/// # Errors
/// [`ReadError::Encoding`].
pub fn refuse_utf16(bytes: &[u8]) -> Result<(), ReadError> {
    let big = bytes.starts_with(&[0xFE, 0xFF]);
    let little = bytes.starts_with(&[0xFF, 0xFE]);
    let probe = &bytes[..bytes.len().min(64)];
    let alternate = |first: usize| {
        let printable = |b: u8| (0x20..0x7f).contains(&b) || b.is_ascii_whitespace();
        probe.len() >= 16 && probe.chunks_exact(2).all(|pair| pair[first] == 0 && printable(pair[1 - first]))
    };
    if big || alternate(0) {
        return Err(ReadError::Encoding { encoding: "UTF-16 (big endian)" });
    }
    if little || alternate(1) {
        return Err(ReadError::Encoding { encoding: "UTF-16 (little endian)" });
    }
    Ok(())
}

/// Lines of a text, numbered from 1, without their ends.
pub struct Lines<'a> {
    rest: Option<&'a [u8]>,
    /// Number of the line returned last.
    pub number: usize,
}

impl<'a> Lines<'a> {
    /// Over the whole text, a byte order mark skipped.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: Some(without_bom(bytes)), number: 0 }
    }

    /// What follows the line returned last.
    pub fn rest(&self) -> &'a [u8] {
        self.rest.unwrap_or(&[])
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        let rest = self.rest?;
        self.number += 1;
        let Some(end) = rest.iter().position(|&b| b == b'\n' || b == b'\r') else {
            self.rest = None;
            return Some(rest);
        };
        let step = if rest[end..].starts_with(b"\r\n") { 2 } else { 1 };
        self.rest = Some(&rest[end + step..]);
        Some(&rest[..end])
    }
}

/// Words of one line.
pub fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    line.split(u8::is_ascii_whitespace).filter(|word| !word.is_empty())
}

/// Words of a whole text, whatever line they stand on.
pub struct Words<'a> {
    lines: Lines<'a>,
    line: &'a [u8],
    format: Format,
}

impl<'a> Words<'a> {
    /// Over `bytes`, which `lines_before` lines come before.
    pub fn new(bytes: &'a [u8], lines_before: usize, format: Format) -> Self {
        let mut lines = Lines::new(bytes);
        lines.number = lines_before;
        Self { lines, line: &[], format }
    }

    /// What is left of the line the last word stands on; it is skipped.
    pub fn take_line(&mut self) -> &'a [u8] {
        std::mem::take(&mut self.line).trim_ascii()
    }

    /// The next word, if there is one.
    pub fn word(&mut self) -> Option<&'a [u8]> {
        loop {
            let start = self.line.trim_ascii_start();
            if start.is_empty() {
                self.line = self.lines.next()?;
                continue;
            }
            let end = start.iter().position(u8::is_ascii_whitespace).unwrap_or(start.len());
            self.line = &start[end..];
            return Some(&start[..end]);
        }
    }

    /// The next word on the same line, unless it is `stop` (any case), which stays.
    pub fn word_on_line_unless(&mut self, stop: &str) -> Option<&'a [u8]> {
        let start = self.line.trim_ascii_start();
        let end = start.iter().position(u8::is_ascii_whitespace).unwrap_or(start.len());
        if end == 0 || start[..end].eq_ignore_ascii_case(stop.as_bytes()) {
            return None;
        }
        self.line = &start[end..];
        Some(&start[..end])
    }

    /// The next word as a finite number; `of` names what it belongs to.
    ///
    /// # Errors
    /// [`ReadError::Line`].
    pub fn number_in(&mut self, of: impl Fn() -> String) -> Result<f64, ReadError> {
        match self.word() {
            Some(word) => number(word).map_err(|why| self.error(format!("{}: {why}", of()))),
            None => Err(self.error(format!("the file ends inside {}: it is cut short", of()))),
        }
    }

    /// An error at the line of the last word.
    pub fn error(&self, why: String) -> ReadError {
        ReadError::Line { format: self.format, line: self.lines.number, why }
    }
}

/// A finite number.
///
/// # Errors
/// What is wrong with the word.
pub fn number(word: &[u8]) -> Result<f64, String> {
    let parsed = std::str::from_utf8(word).ok().and_then(|text| text.parse::<f64>().ok());
    match parsed {
        Some(value) if value.is_finite() => Ok(value),
        Some(value) if value.is_nan() => Err(format!("{} is not a number", printable(word))),
        Some(_) => Err(format!("{} is infinite", printable(word))),
        None if word.contains(&b',') => Err(format!(
            "{} has a comma; write numbers with a decimal point (export with English number settings)",
            printable(word)
        )),
        None => Err(format!("{} is not a number", printable(word))),
    }
}

/// A word for a message: quoted, control bytes escaped, long ones cut.
pub fn printable(word: &[u8]) -> String {
    let text = String::from_utf8_lossy(&word[..word.len().min(40)]);
    format!("\"{}\"", text.escape_debug())
}

/// A name from a file: valid text, at most 200 characters, without control characters.
pub fn name(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes.trim_ascii()).chars().filter(|c| !c.is_control()).take(200).collect()
}
