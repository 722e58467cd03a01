//! The ZIP archive around a 3MF model, read with limits.
//!
//! How: the central directory at the end lists the parts; a part is unpacked only when asked for.
//! Sizes are checked three times: as declared, against what this ratio of packing can be, and
//! while unpacking. Names are looked up, never used as paths.
//! Read: stored and deflated parts, ZIP64 sizes. Refused: encryption, other methods, two parts of
//! one name, a wrong checksum.
//! Source: "APPNOTE.TXT - .ZIP File Format Specification" 6.3, 4.3 to 4.5 (from memory).

use super::ReadError;

/// The largest part that is unpacked: XML of 10 million triangles takes about 0.7 GB.
pub const MAX_PART_BYTES: u64 = 1 << 30;
/// The most all parts of a package may take unpacked.
pub const MAX_PACKAGE_BYTES: u64 = 2 << 30;
/// XML of meshes packs 4 to 30 times; past this, and past [`SMALL_BYTES`], it is a bomb.
const MAX_RATIO: u64 = 200;
/// Parts up to this size are unpacked whatever their ratio.
const SMALL_BYTES: u64 = 16 << 20;

/// A part of the package.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Name without a leading slash, as written.
    pub name: String,
    flags: u16,
    method: u16,
    crc: u32,
    packed: u64,
    size: u64,
    header_at: u64,
}

/// An opened archive.
pub struct Package<'a> {
    bytes: &'a [u8],
    /// Parts in directory order, folders left out.
    pub entries: Vec<Entry>,
}

impl<'a> Package<'a> {
    /// Reads the directory.
    ///
    /// # Errors
    /// [`ReadError::Package`], [`ReadError::TooLarge`].
    pub fn open(bytes: &'a [u8]) -> Result<Self, ReadError> {
        let end =
            find_end(bytes).ok_or_else(|| archive_error("no end of directory: the file is cut short"))?;
        let (mut count, mut start) =
            (u64::from(u16_at(bytes, end + 10)?), u64::from(u32_at(bytes, end + 16)?));
        // ZIP64: a locator of 20 bytes stands before the end and points to a wider record.
        if let Some(locator) = end.checked_sub(20).filter(|&at| bytes[at..].starts_with(b"PK\x06\x07")) {
            let record = usize_of(u64_at(bytes, locator + 8)?)?;
            if bytes.get(record..).is_some_and(|rest| rest.starts_with(b"PK\x06\x06")) {
                count = u64_at(bytes, record + 32)?;
                start = u64_at(bytes, record + 48)?;
            }
        }
        let mut entries: Vec<Entry> = Vec::new();
        let mut at = usize_of(start)?;
        for _ in 0..count {
            let (entry, next) = entry_at(bytes, at)?;
            at = next;
            if !entry.name.ends_with('/') {
                entries.push(entry);
            }
        }
        let total: u64 = entries.iter().fold(0, |sum, entry| sum.saturating_add(entry.size));
        if total > MAX_PACKAGE_BYTES {
            let what = "the unpacked 3MF package".into();
            return Err(ReadError::TooLarge { what, found: total, limit: MAX_PACKAGE_BYTES, unit: "bytes" });
        }
        Ok(Self { bytes, entries })
    }

    /// The part of this name, in any case, with or without a leading slash.
    ///
    /// # Errors
    /// [`ReadError::Package`] if two parts have the name.
    pub fn find(&self, name: &str) -> Result<Option<&Entry>, ReadError> {
        let name = name.trim_start_matches('/');
        let mut found = self.entries.iter().filter(|entry| entry.name.eq_ignore_ascii_case(name));
        let first = found.next();
        if found.next().is_some() {
            return Err(ReadError::Package {
                part: name.into(),
                why: "the package has two parts of this name".into(),
            });
        }
        Ok(first)
    }

    /// Unpacks a part.
    ///
    /// # Errors
    /// [`ReadError::Package`], [`ReadError::TooLarge`].
    pub fn unpack(&self, entry: &Entry) -> Result<Vec<u8>, ReadError> {
        let fail = |why: &str| Err(ReadError::Package { part: entry.name.clone(), why: why.into() });
        if entry.flags & 1 != 0 {
            return fail("the part is encrypted");
        }
        let too_large = |limit: u64| {
            let what = format!("3MF part {} unpacked", entry.name);
            Err(ReadError::TooLarge { what, found: entry.size, limit, unit: "bytes" })
        };
        if entry.size > MAX_PART_BYTES {
            return too_large(MAX_PART_BYTES);
        }
        if entry.size > SMALL_BYTES && entry.size / MAX_RATIO > entry.packed {
            return too_large(entry.packed.saturating_mul(MAX_RATIO));
        }
        let header = usize_of(entry.header_at)?;
        if !self.bytes.get(header..).is_some_and(|rest| rest.starts_with(b"PK\x03\x04")) {
            return fail("the directory points to no such part");
        }
        let names =
            usize::from(u16_at(self.bytes, header + 26)?) + usize::from(u16_at(self.bytes, header + 28)?);
        let data = header + 30 + names;
        let packed = data.checked_add(usize_of(entry.packed)?).and_then(|end| self.bytes.get(data..end));
        let Some(packed) = packed else { return fail("the part runs past the end: the file is cut short") };
        let content = match entry.method {
            0 => packed.to_vec(),
            8 => {
                let limit = usize_of(entry.size)?;
                match miniz_oxide::inflate::decompress_to_vec_with_limit(packed, limit) {
                    Ok(content) => content,
                    Err(error) if error.status == miniz_oxide::inflate::TINFLStatus::HasMoreOutput => {
                        return fail("the part is larger than the directory says");
                    }
                    Err(_) => return fail("the packed bytes are damaged"),
                }
            }
            method => return fail(&format!("packing method {method} is not read, only stored and deflated")),
        };
        if content.len() as u64 != entry.size {
            return fail("the part's size is not what the directory says");
        }
        if crate::crc32::crc32(&content) != entry.crc {
            return fail("the part's checksum is wrong: the file is damaged");
        }
        Ok(content)
    }
}

/// Where the end record starts: the last one whose comment ends with the file.
fn find_end(bytes: &[u8]) -> Option<usize> {
    let last = bytes.len().checked_sub(22)?;
    let first = last.saturating_sub(usize::from(u16::MAX));
    (first..=last).rev().find(|&at| bytes[at..].starts_with(b"PK\x05\x06"))
}

/// The directory entry at `at`, and where the next one starts.
fn entry_at(bytes: &[u8], at: usize) -> Result<(Entry, usize), ReadError> {
    if !bytes.get(at..).is_some_and(|rest| rest.starts_with(b"PK\x01\x02")) {
        return Err(archive_error("the directory is damaged"));
    }
    let lengths = [28, 30, 32].map(|offset| u16_at(bytes, at + offset).map(usize::from));
    let [name_len, extra_len, comment_len] = lengths;
    let (name_len, extra_len, comment_len) = (name_len?, extra_len?, comment_len?);
    let name = bytes.get(at + 46..at + 46 + name_len).ok_or_else(cut_short)?;
    let mut entry = Entry {
        name: String::from_utf8_lossy(name).replace('\\', "/").trim_start_matches('/').to_string(),
        flags: u16_at(bytes, at + 8)?,
        method: u16_at(bytes, at + 10)?,
        crc: u32_at(bytes, at + 16)?,
        packed: u64::from(u32_at(bytes, at + 20)?),
        size: u64::from(u32_at(bytes, at + 24)?),
        header_at: u64::from(u32_at(bytes, at + 42)?),
    };
    let extra_at = at + 46 + name_len;
    let extra = bytes.get(extra_at..extra_at + extra_len).ok_or_else(cut_short)?;
    widen(&mut entry, extra)?;
    Ok((entry, extra_at + extra_len + comment_len))
}

/// Takes 64-bit values from extra field 1 for those the short fields could not hold.
fn widen(entry: &mut Entry, extra: &[u8]) -> Result<(), ReadError> {
    let mut at = 0;
    while at + 4 <= extra.len() {
        let (id, length) = (u16_at(extra, at)?, usize::from(u16_at(extra, at + 2)?));
        at += 4;
        if id == 1 {
            let mut field = at;
            for value in [&mut entry.size, &mut entry.packed, &mut entry.header_at] {
                if *value == u64::from(u32::MAX) {
                    *value = u64_at(extra, field)?;
                    field += 8;
                }
            }
        }
        at += length;
    }
    Ok(())
}

fn field<const N: usize>(bytes: &[u8], at: usize) -> Result<[u8; N], ReadError> {
    let field = at.checked_add(N).and_then(|end| bytes.get(at..end)).ok_or_else(cut_short)?;
    let mut copy = [0; N];
    copy.copy_from_slice(field);
    Ok(copy)
}

fn u16_at(bytes: &[u8], at: usize) -> Result<u16, ReadError> {
    field(bytes, at).map(u16::from_le_bytes)
}

fn u32_at(bytes: &[u8], at: usize) -> Result<u32, ReadError> {
    field(bytes, at).map(u32::from_le_bytes)
}

fn u64_at(bytes: &[u8], at: usize) -> Result<u64, ReadError> {
    field(bytes, at).map(u64::from_le_bytes)
}

/// An offset as an index; one past any memory is past the file too.
fn usize_of(value: u64) -> Result<usize, ReadError> {
    // Half the address space, so that small additions cannot overflow.
    usize::try_from(value).ok().filter(|&v| v < usize::MAX / 2).ok_or_else(cut_short)
}

fn cut_short() -> ReadError {
    archive_error("the directory points past the end: the file is cut short or damaged")
}

fn archive_error(why: &str) -> ReadError {
    ReadError::Package { part: "the archive".into(), why: why.into() }
}
