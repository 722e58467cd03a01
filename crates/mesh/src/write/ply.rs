//! Small binary PLY, low byte first: f32 points, u8-counted u32 faces.
//!
//! Source: layout as in `read/ply.rs`.

/// The bytes of a PLY file; `points_mm` are rounded to f32 (exact for points of a solid),
/// `triangles` are triples of indices into them.
pub fn ply_bytes(points_mm: &[[f64; 3]], triangles: &[[u32; 3]]) -> Vec<u8> {
    let header = format!(
        "ply\nformat binary_little_endian 1.0\ncomment millimetres, z up\nelement vertex {}\nproperty float x\n\
         property float y\nproperty float z\nelement face {}\nproperty list uchar uint vertex_indices\nend_header\n",
        points_mm.len(),
        triangles.len()
    );
    let mut bytes = Vec::with_capacity(header.len() + 12 * points_mm.len() + 13 * triangles.len());
    bytes.extend_from_slice(header.as_bytes());
    for point in points_mm {
        for &value in point {
            bytes.extend_from_slice(&(value as f32).to_le_bytes());
        }
    }
    for triangle in triangles {
        bytes.push(3);
        for index in triangle {
            bytes.extend_from_slice(&index.to_le_bytes());
        }
    }
    bytes
}
