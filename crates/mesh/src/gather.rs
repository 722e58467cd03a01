//! Fewer points, quickly: those of one small cell that face alike become one.
//!
//! How: points are gathered by the cubic cell they lie in and by the octant their surface faces,
//! so that the two skins of a wall thinner than a cell stay apart. A triangle with two corners in
//! one gathering vanishes. What is left is closed where the whole was: every edge is still run as
//! often one way as the other, though triangles may lie on each other.
//! Cost: linear; one pass for millions of triangles before the finer and slower `simplify.rs`.
//! Source: vertex clustering, "Multi-resolution 3D approximations for rendering complex scenes"
//! (1993, from memory); the octants are ours.

use crate::edges::{QuickMap, QuickSet};
use crate::simplify::Mesh;
use crate::vec3;

/// Gathers the points of a mesh in cells of `cell_mm`; points of `kept` stay as they are.
pub fn gather(mesh: &Mesh, cell_mm: f64, kept: &[[f64; 3]]) -> Mesh {
    let kept: QuickSet<[u64; 3]> = kept.iter().map(|p| p.map(f64::to_bits)).collect();
    let mut facing = vec![[0.0; 3]; mesh.points.len()];
    for t in &mesh.triangles {
        let [a, b, c] = t.map(|i| mesh.points[i as usize]);
        let area2 = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        for &corner in t {
            facing[corner as usize] = vec3::add(facing[corner as usize], area2);
        }
    }
    let mut gatherings: QuickMap<[i32; 4], u32> = QuickMap::default();
    let mut sums: Vec<([f64; 3], f64)> = Vec::new();
    let place = |(&p, toward): (&[f64; 3], &[f64; 3])| {
        let [x, y, z] = p.map(|c| (c / cell_mm).floor() as i32);
        let octant = (0..3).map(|k| i32::from(toward[k] > 0.0) << k).sum();
        if kept.contains(&p.map(f64::to_bits)) {
            sums.push((p, 1.0));
            return sums.len() as u32 - 1;
        }
        let index = *gatherings.entry([x, y, z, octant]).or_insert_with(|| {
            sums.push(([0.0; 3], 0.0));
            sums.len() as u32 - 1
        });
        let (sum, n) = &mut sums[index as usize];
        *sum = vec3::add(*sum, p);
        *n += 1.0;
        index
    };
    let of: Vec<u32> = mesh.points.iter().zip(&facing).map(place).collect();
    let renamed = mesh.triangles.iter().map(|t| t.map(|i| of[i as usize]));
    Mesh {
        points: sums.into_iter().map(|(sum, n)| vec3::scale(sum, 1.0 / n)).collect(),
        triangles: renamed.filter(|&[a, b, c]| a != b && b != c && c != a).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate of 100 x 100 x 1 mm as a closed mesh of squares of 2 mm.
    fn plate() -> Mesh {
        const N: u32 = 50;
        let at = |i: u32, j: u32, top: u32| top * (N + 1) * (N + 1) + i * (N + 1) + j;
        let mut points = Vec::new();
        for top in 0..2_u32 {
            for i in 0..=N {
                points.extend((0..=N).map(|j| [f64::from(2 * i), f64::from(2 * j), f64::from(top)]));
            }
        }
        let mut triangles = Vec::new();
        let mut quad = |[a, b, c, d]: [u32; 4]| triangles.extend([[a, b, c], [a, c, d]]);
        for i in 0..N {
            for j in 0..N {
                quad([at(i, j, 1), at(i + 1, j, 1), at(i + 1, j + 1, 1), at(i, j + 1, 1)]);
                quad([at(i, j, 0), at(i, j + 1, 0), at(i + 1, j + 1, 0), at(i + 1, j, 0)]);
            }
            quad([at(i, 0, 0), at(i + 1, 0, 0), at(i + 1, 0, 1), at(i, 0, 1)]);
            quad([at(i + 1, N, 0), at(i, N, 0), at(i, N, 1), at(i + 1, N, 1)]);
            quad([at(0, i + 1, 0), at(0, i, 0), at(0, i, 1), at(0, i + 1, 1)]);
            quad([at(N, i, 0), at(N, i + 1, 0), at(N, i + 1, 1), at(N, i, 1)]);
        }
        Mesh { points, triangles }
    }

    fn volume_mm3(mesh: &Mesh) -> f64 {
        let triple = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|i| mesh.points[i as usize]);
            vec3::dot(a, vec3::cross(b, c)) / 6.0
        };
        mesh.triangles.iter().map(triple).sum()
    }

    #[test]
    fn both_skins_of_a_wall_thinner_than_a_cell_stay() {
        let plate = plate();
        assert!((volume_mm3(&plate) - 10_000.0).abs() < 1e-6);
        let few = gather(&plate, 8.0, &[[0.0; 3]]);
        assert!(few.triangles.len() * 8 < plate.triangles.len(), "{} left", few.triangles.len());
        // Its rim is drawn in by at most a cell; a plate gone flat would have no volume.
        assert!((0.8..1.01).contains(&(volume_mm3(&few) / 10_000.0)), "{} mm3", volume_mm3(&few));
        assert!(few.points.contains(&[0.0; 3]));
    }

    #[test]
    fn a_closed_mesh_stays_closed() {
        let few = gather(&plate(), 8.0, &[]);
        let mut uses: std::collections::BTreeMap<[u32; 2], i32> = Default::default();
        for &[a, b, c] in &few.triangles {
            for [from, to] in [[a, b], [b, c], [c, a]] {
                *uses.entry([from.min(to), from.max(to)]).or_default() += if from < to { 1 } else { -1 };
            }
        }
        assert!(uses.values().all(|&sum| sum == 0));
    }
}
