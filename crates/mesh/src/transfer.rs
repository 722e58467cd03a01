//! A solid as bytes for another memory, and back: how workers hand each other what was proved once.
//!
//! How: counts, grid points, triangles, origins and group ends, little-endian, closed by their
//! CRC-32. Only bytes written here come back as a solid: the checksum stands in for proving the
//! mesh closed again, so bytes from outside (a file, a network) must never be read with this.
//! Not here: file formats (`read`, `write`).

use crate::crc32::crc32;
use crate::solid::Solid;

/// The solid as bytes.
pub fn solid_to_bytes(solid: &Solid) -> Vec<u8> {
    let counts = [solid.points.len(), solid.triangles.len(), solid.group_ends.len()];
    let mut bytes = Vec::with_capacity(counts[0] * 12 + counts[1] * 16 + counts[2] * 4 + 16);
    let mut word = |value: u32| bytes.extend_from_slice(&value.to_le_bytes());
    counts.iter().for_each(|&n| word(n as u32));
    solid.points.iter().flatten().for_each(|&c| word(c as u32));
    solid.triangles.iter().flatten().for_each(|&i| word(i));
    solid.group_ends.iter().for_each(|&end| word(end));
    solid.origin.iter().for_each(|&tag| word(tag));
    let sum = crc32(&bytes);
    bytes.extend_from_slice(&sum.to_le_bytes());
    bytes
}

/// The solid that [`solid_to_bytes`] wrote; `None` for any other bytes.
pub fn solid_from_bytes(bytes: &[u8]) -> Option<Solid> {
    let (body, sum) = bytes.split_last_chunk::<4>()?;
    if crc32(body) != u32::from_le_bytes(*sum) {
        return None;
    }
    let (heads, rest) = body.split_first_chunk::<12>()?;
    let count = |k: usize| {
        u32::from_le_bytes([heads[4 * k], heads[4 * k + 1], heads[4 * k + 2], heads[4 * k + 3]]) as usize
    };
    let (n_points, n_triangles, n_groups) = (count(0), count(1), count(2));
    let (points, rest) = rest.split_at_checked(n_points.checked_mul(12)?)?;
    let (triangles, rest) = rest.split_at_checked(n_triangles.checked_mul(12)?)?;
    let (groups, origins) = rest.split_at_checked(n_groups.checked_mul(4)?)?;
    if origins.len() != n_triangles.checked_mul(4)? {
        return None;
    }
    let word = |b: &[u8]| u32::from_le_bytes([b[0], b[1], b[2], b[3]]);
    let three = |b: &[u8]| [word(b), word(&b[4..]), word(&b[8..])];
    Some(Solid::of(
        points.chunks_exact(12).map(|b| three(b).map(|c| c as i32)).collect(),
        triangles.chunks_exact(12).map(three).collect(),
        origins.chunks_exact(4).map(word).collect(),
        groups.chunks_exact(4).map(word).collect(),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::letter_f;

    #[test]
    fn a_solid_comes_back_equal_and_changed_bytes_do_not() {
        let (points, triangles) = letter_f();
        let solid = Solid::from_triangles(&points, &triangles).unwrap().0;
        let bytes = solid_to_bytes(&solid);
        assert_eq!(solid_from_bytes(&bytes).as_ref(), Some(&solid));
        for at in [0, 13, bytes.len() / 2, bytes.len() - 1] {
            let mut changed = bytes.clone();
            changed[at] ^= 1;
            assert!(solid_from_bytes(&changed).is_none(), "byte {at}");
        }
        assert!(solid_from_bytes(&bytes[..bytes.len() - 2]).is_none());
        assert!(solid_from_bytes(&[]).is_none());
    }
}
