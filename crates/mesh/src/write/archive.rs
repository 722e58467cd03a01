//! A ZIP archive with fixed time stamps, so that the same content gives the same bytes.
//!
//! How: raw deflate by `miniz_oxide`, plain Rust without processor-specific paths, so the
//! compressed bytes are the same on every machine and in the browser.
//! Limits: 65,535 parts, 4 GiB in all (no ZIP64); a print job stays far below.
//! Source: ZIP layout from "APPNOTE.TXT - .ZIP File Format Specification" 6.3 (from memory).

/// Level 1 of the packer: XML of meshes shrinks to about a quarter in a third of the default's time.
const LEVEL: u8 = 1;
/// 1980-01-01 00:00, the earliest a DOS time stamp can say.
const DOS_DATE: u16 = 0x0021;

/// Packs named parts in the order given.
pub fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut packer = Packer::default();
    let mut bytes = Vec::new();
    for (name, content) in parts {
        bytes.append(&mut packer.part(name, content));
    }
    bytes.append(&mut packer.end());
    bytes
}

/// Packs part by part: what it gives, laid end to end, is the archive.
#[derive(Default)]
pub struct Packer {
    n_bytes: u32,
    n_parts: u16,
    directory: Vec<u8>,
}

impl Packer {
    /// The next bytes of the archive: a part.
    pub fn part(&mut self, name: &str, content: &[u8]) -> Vec<u8> {
        let packed = miniz_oxide::deflate::compress_to_vec(content, LEVEL);
        let fields = common_fields(name, content, packed.len());
        let bytes = [b"PK\x03\x04", &fields[..], name.as_bytes(), &packed].concat();
        // Made by: DOS, version 2.0.
        self.directory.extend_from_slice(b"PK\x01\x02");
        self.directory.extend_from_slice(&20u16.to_le_bytes());
        self.directory.extend_from_slice(&fields);
        // Comment length, disk, inner and outer attributes.
        self.directory.extend_from_slice(&[0; 10]);
        self.directory.extend_from_slice(&self.n_bytes.to_le_bytes());
        self.directory.extend_from_slice(name.as_bytes());
        self.n_bytes += bytes.len() as u32;
        self.n_parts += 1;
        bytes
    }

    /// The last bytes: the directory.
    pub fn end(self) -> Vec<u8> {
        let mut bytes = self.directory;
        let n_directory = bytes.len() as u32;
        bytes.extend_from_slice(b"PK\x05\x06\0\0\0\0");
        bytes.extend_from_slice(&self.n_parts.to_le_bytes());
        bytes.extend_from_slice(&self.n_parts.to_le_bytes());
        bytes.extend_from_slice(&n_directory.to_le_bytes());
        bytes.extend_from_slice(&self.n_bytes.to_le_bytes());
        bytes.extend_from_slice(&[0, 0]);
        bytes
    }
}

/// The 26 bytes that local and central headers share: version, flags, method, time, date, CRC,
/// sizes, name length, extra length.
fn common_fields(name: &str, content: &[u8], packed_len: usize) -> Vec<u8> {
    let mut fields = Vec::with_capacity(26);
    for word in [20u16, 0, 8, 0, DOS_DATE] {
        fields.extend_from_slice(&word.to_le_bytes());
    }
    for word in [crate::crc32::crc32(content), packed_len as u32, content.len() as u32] {
        fields.extend_from_slice(&word.to_le_bytes());
    }
    for word in [name.len() as u16, 0] {
        fields.extend_from_slice(&word.to_le_bytes());
    }
    fields
}
