//! Binary STL of a solid: its grid points are exact in f32, so the file equals memory.
//!
//! The header never starts with `solid`, the mark of ASCII STL. Normals are computed from the
//! corners for programs that look at them.
//! Source: layout as in `read/stl.rs`.

use crate::solid::Solid;
use crate::vec3;

/// Header text; the rest of the 80 bytes is zero.
const HEADER: &[u8] = b"binary stl, millimetres, z up";

/// The bytes of a binary STL in mm.
pub fn stl_bytes(solid: &Solid) -> Vec<u8> {
    stl_of((0..solid.n_triangles()).map(|index| solid.corners_mm(index)))
}

/// The bytes of a binary STL of loose triangles in mm, each by its corners.
pub fn stl_of(triangles: impl ExactSizeIterator<Item = [[f64; 3]; 3]>) -> Vec<u8> {
    let n_triangles = triangles.len();
    let mut bytes = Vec::with_capacity(84 + 50 * n_triangles);
    bytes.extend_from_slice(HEADER);
    bytes.resize(80, 0);
    bytes.extend_from_slice(&(n_triangles as u32).to_le_bytes());
    for [a, b, c] in triangles {
        let normal = vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a))).unwrap_or([0.0; 3]);
        for point in [normal, a, b, c] {
            for value in point {
                bytes.extend_from_slice(&(value as f32).to_le_bytes());
            }
        }
        bytes.extend_from_slice(&[0, 0]);
    }
    bytes
}

/// The corners of each facet of a binary STL as written, for checks that compare files bit by bit;
/// `None` where the size does not follow from the count.
pub fn stl_triangles(bytes: &[u8]) -> Option<Vec<[[f32; 3]; 3]>> {
    let field = bytes.get(80..84)?;
    let count = u32::from_le_bytes([field[0], field[1], field[2], field[3]]);
    let body = &bytes[84..];
    if body.len() as u64 != 50 * u64::from(count) {
        return None;
    }
    let value = |at: &[u8]| f32::from_le_bytes([at[0], at[1], at[2], at[3]]);
    let corner = |at: &[u8]| [value(at), value(&at[4..]), value(&at[8..])];
    Some(body.chunks_exact(50).map(|f| [corner(&f[12..]), corner(&f[24..]), corner(&f[36..])]).collect())
}
