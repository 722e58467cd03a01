//! Spoiling sound files: bytes changed, lost, doubled, numbers made huge, words swapped.
//!
//! Of a 3MF package, half the mutants are spoiled inside: a part is unpacked, spoiled and packed
//! again, so that they pass the checksum.

use seamwright_mesh::write::archive;
use std::io::Read;

/// A sequence of numbers from a seed: 64-bit xorshift with a multiplier.
/// Source: "An experimental exploration of Marsaglia's xorshift generators, scrambled" (2016), from memory.
#[derive(Debug, Clone)]
pub struct Sequence(u64);

impl Sequence {
    /// The sequence of a seed.
    pub fn new(seed: u64) -> Self {
        // The state must not be zero; neighbouring seeds must not give neighbouring states.
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// The next number.
    pub fn next_number(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// One of `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next_number() >> 32) as usize % n.max(1)
    }
}

/// A sound file to start from, and its parts where it is a package.
pub struct Sample {
    /// File name.
    pub name: String,
    /// The file.
    pub bytes: Vec<u8>,
    parts: Vec<(String, Vec<u8>)>,
}

impl Sample {
    /// A sample of a file.
    pub fn new(name: String, bytes: Vec<u8>) -> Self {
        let parts = parts_of(&bytes).unwrap_or_default();
        Self { name, bytes, parts }
    }

    /// A spoiled copy.
    pub fn mutant(&self, sequence: &mut Sequence) -> Vec<u8> {
        if self.parts.is_empty() || sequence.below(2) == 0 {
            return spoiled(&self.bytes, sequence);
        }
        let chosen = sequence.below(self.parts.len());
        let spoiled_part = spoiled(&self.parts[chosen].1, sequence);
        let all = self.parts.iter().enumerate().map(|(i, (name, content))| {
            let content = if i == chosen { &spoiled_part } else { content };
            (name.as_str(), &content[..])
        });
        archive(&all.collect::<Vec<_>>())
    }
}

fn parts_of(bytes: &[u8]) -> Option<Vec<(String, Vec<u8>)>> {
    let mut package = zip::ZipArchive::new(std::io::Cursor::new(bytes)).ok()?;
    let mut parts = Vec::new();
    for index in 0..package.len() {
        let mut part = package.by_index(index).ok()?;
        let mut content = Vec::new();
        part.read_to_end(&mut content).ok()?;
        parts.push((part.name().ok()?.into_owned(), content));
    }
    Some(parts)
}

/// Words that readers must not trip over.
const WORDS: [&[u8]; 16] = [
    b"4294967295",
    b"-1",
    b"nan",
    b"inf",
    b"1e999",
    b"1e-999",
    b"0",
    b"-0.0",
    b"99999999999999999999",
    b"\xff\xfe",
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    b"\r",
    b"\n",
    b" ",
    b"<!DOCTYPE x>",
];

fn spoiled(bytes: &[u8], sequence: &mut Sequence) -> Vec<u8> {
    let mut out = bytes.to_vec();
    for _ in 0..1 + sequence.below(8) {
        let at = sequence.below(out.len().max(1));
        let end = (at + 1 + sequence.below(16)).min(out.len());
        match sequence.below(8) {
            0..=2 if at < out.len() => out[at] = sequence.next_number() as u8,
            3 if at < out.len() => out[at] ^= 1 << sequence.below(8),
            4 if at < end => drop(out.drain(at..end)),
            5 if at < end => {
                let copy = out[at..end].to_vec();
                let to = sequence.below(out.len());
                out.splice(to..to, copy);
            }
            6 => {
                let word = WORDS[sequence.below(WORDS.len())];
                let end = if sequence.below(2) == 0 { at } else { (at + word.len()).min(out.len()) };
                out.splice(at.min(out.len())..end, word.iter().copied());
            }
            7 if sequence.below(8) == 0 => out.truncate(at),
            _ => {}
        }
    }
    out
}
