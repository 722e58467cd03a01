//! Edges of a triangle list: who uses them and whether they pair up.
//!
//! An edge is keyed by its two point indices, smaller first; a use is a triangle and the direction
//! in which it runs the edge. Closed means: every edge is run as often one way as the other.
//! Cost: linear; entries are put in buckets by their smallest point, and only buckets are sorted.

use std::hash::{BuildHasherDefault, Hasher};

/// One triangle's use of an edge.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct EdgeUse {
    /// Smaller point index, then larger.
    ends: [u32; 2],
    /// Triangle index times four, plus the corner (0-2) where the edge starts in that triangle.
    place: u32,
}

impl EdgeUse {
    /// See [`edge_key`].
    pub fn key(&self) -> u64 {
        edge_key(self.ends[0], self.ends[1])
    }

    pub fn triangle(&self) -> usize {
        (self.place >> 2) as usize
    }

    /// Corner of the triangle at which the edge starts.
    pub fn corner(&self) -> usize {
        (self.place & 3) as usize
    }

    /// Whether the triangle runs the edge from the smaller point index to the larger.
    pub fn forward(&self, triangles: &[[u32; 3]]) -> bool {
        triangles[self.triangle()][self.corner()] == self.low()
    }

    pub fn low(&self) -> u32 {
        self.ends[0]
    }

    pub fn high(&self) -> u32 {
        self.ends[1]
    }
}

/// The key of the edge between two points: smaller index in the high half, larger in the low half.
pub(crate) fn edge_key(a: u32, b: u32) -> u64 {
    (u64::from(a.min(b)) << 32) | u64::from(a.max(b))
}

/// All edge uses of less than 2^30 triangles, sorted by edge, then triangle.
pub(crate) fn edge_uses(triangles: &[[u32; 3]]) -> Vec<EdgeUse> {
    let mut uses = Vec::with_capacity(triangles.len() * 3);
    for (index, t) in triangles.iter().enumerate() {
        for corner in 0..3 {
            let (a, b) = (t[corner], t[(corner + 1) % 3]);
            uses.push(EdgeUse { ends: [a.min(b), a.max(b)], place: ((index as u32) << 2) | corner as u32 });
        }
    }
    sort_by_point(&uses, EdgeUse::low)
}

/// `entries` in order, where `point` is what the order asks first: put in buckets by it, since few
/// entries share one, and then sorted bucket by bucket.
pub(crate) fn sort_by_point<T: Copy + Default + Ord>(entries: &[T], point: impl Fn(&T) -> u32) -> Vec<T> {
    let mut ends = vec![0_u32; entries.iter().map(|entry| point(entry) as usize + 1).max().unwrap_or(0)];
    entries.iter().for_each(|entry| ends[point(entry) as usize] += 1);
    let mut sum = 0;
    for end in &mut ends {
        // Where the bucket starts for now; filling it moves this to its end.
        (*end, sum) = (sum, sum + *end);
    }
    let mut sorted = vec![T::default(); entries.len()];
    for entry in entries {
        let at = &mut ends[point(entry) as usize];
        sorted[*at as usize] = *entry;
        *at += 1;
    }
    let mut start = 0;
    for end in ends {
        sorted[start..end as usize].sort_unstable();
        start = end as usize;
    }
    sorted
}

/// Consecutive runs of one edge in a sorted list of uses.
pub(crate) fn runs(uses: &[EdgeUse]) -> impl Iterator<Item = &[EdgeUse]> {
    uses.chunk_by(|a, b| a.ends == b.ends)
}

/// A hasher for small integer keys: multiply and rotate. Maps built on it are only looked up,
/// never walked into a result.
#[derive(Default)]
pub(crate) struct QuickHasher(u64);

impl Hasher for QuickHasher {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    /// Arrays of integers come here as one run of bytes.
    fn write(&mut self, bytes: &[u8]) {
        let (words, rest) = bytes.as_chunks::<4>();
        words.iter().for_each(|&word| self.write_u32(u32::from_le_bytes(word)));
        rest.iter().for_each(|&byte| self.write_u64(u64::from(byte)));
    }

    fn write_u32(&mut self, value: u32) {
        self.write_u64(u64::from(value));
    }

    fn write_i32(&mut self, value: i32) {
        self.write_u64(u64::from(value as u32));
    }

    fn write_u64(&mut self, value: u64) {
        // Odd constant from the golden ratio, 2^64 / 1.618..., as in multiplicative hashing.
        self.0 = (self.0.rotate_left(5) ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }

    fn write_usize(&mut self, value: usize) {
        self.write_u64(value as u64);
    }
}

/// A map that is looked up and never walked.
pub(crate) type QuickMap<K, V> = std::collections::HashMap<K, V, BuildHasherDefault<QuickHasher>>;

/// A set that is asked and never walked.
pub(crate) type QuickSet<K> = std::collections::HashSet<K, BuildHasherDefault<QuickHasher>>;

/// Joined sets of indices.
pub(crate) struct Joined {
    parent: Vec<u32>,
}

impl Joined {
    pub fn new(n: usize) -> Self {
        Self { parent: (0..n as u32).collect() }
    }

    /// The smallest index joined with `index`.
    pub fn find(&mut self, index: u32) -> u32 {
        let mut at = index;
        while self.parent[at as usize] != at {
            let up = self.parent[self.parent[at as usize] as usize];
            self.parent[at as usize] = up;
            at = up;
        }
        at
    }

    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.find(a), self.find(b));
        // The smaller index stays the name, so names do not depend on the order of joins.
        self.parent[a.max(b) as usize] = a.min(b);
    }
}
