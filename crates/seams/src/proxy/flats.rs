//! Which triangles of a stand-in are flat because the item is flat there, and which only because few
//! triangles stand for a bent skin: on those nothing stands.
//!
//! How: a triangle is flat if the item has enough skin in its plane, wherever in it. Planes are found by
//! the cell of a lattice in which their normal lies.

use seamwright_mesh::{Solid, vec3};
use std::collections::HashMap;

/// Skin in one plane from which a face counts as flat, mm2: as for standing on it.
const FLAT_MM2: f64 = seamwright_bed::rest::FLAT_MM2;

/// Cosine of 1 degree, and mm: as far skin may turn and lie from a plane.
const FLAT_COSINE: f64 = 0.999_847_695;
const FLAT_REACH_MM: f64 = 0.03;

/// Side of a cell of normals: some 3 degrees, so that near ones lie in it or beside it.
const CELL: f64 = 0.05;

/// Per triangle of the stand-in, whether the item is bent there.
pub fn bent(item: &Solid, stand_in: &Solid) -> Vec<bool> {
    let planes: Vec<Option<([f64; 3], f64)>> = (0..stand_in.n_triangles())
        .map(|index| plane_of(stand_in.corners_mm(index)).map(|(normal, at, _)| (normal, at)))
        .collect();
    let cell = |normal: [f64; 3]| normal.map(|c| (c / CELL).floor() as i32);
    let mut near: HashMap<[i32; 3], Vec<usize>> = HashMap::new();
    for (index, plane) in planes.iter().enumerate() {
        let Some((normal, _)) = plane else { continue };
        let [x, y, z] = cell(*normal);
        for k in 0..27 {
            near.entry([x + k % 3 - 1, y + k / 3 % 3 - 1, z + k / 9 - 1]).or_default().push(index);
        }
    }
    let mut flat_mm2 = vec![0.0; planes.len()];
    for (normal, at, area_mm2) in (0..item.n_triangles()).filter_map(|index| plane_of(item.corners_mm(index)))
    {
        for &index in near.get(&cell(normal)).into_iter().flatten() {
            let Some((other, other_at)) = planes[index] else { continue };
            if (at - other_at).abs() <= FLAT_REACH_MM && vec3::dot(normal, other) >= FLAT_COSINE {
                flat_mm2[index] += area_mm2;
            }
        }
    }
    flat_mm2.into_iter().map(|area_mm2: f64| area_mm2 < FLAT_MM2).collect()
}

/// Unit normal, offset of the middle along it, and area.
fn plane_of([a, b, c]: [[f64; 3]; 3]) -> Option<([f64; 3], f64, f64)> {
    let twice = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
    let normal = vec3::unit(twice)?;
    let middle = vec3::scale(vec3::add(vec3::add(a, b), c), 1.0 / 3.0);
    Some((normal, vec3::dot(normal, middle), 0.5 * vec3::length(twice)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proxy::tests::hollow_ball;

    #[test]
    fn facets_of_a_bent_skin_are_bent_and_faces_of_a_block_are_flat() {
        let (fine, coarse) = (hollow_ball(100), hollow_ball(12));
        assert!(bent(&fine, &coarse).into_iter().all(|bent| bent));
        // The same ball by itself is the facets it has, the larger of them 25 mm each way.
        assert!(bent(&coarse, &coarse).into_iter().any(|bent| !bent));
        let points: Vec<[f64; 3]> =
            (0..8).map(|i| [0, 1, 2].map(|k| if i >> k & 1 == 1 { 40.0 } else { 0.0 })).collect();
        let quads = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];
        let triangles: Vec<[u32; 3]> =
            quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        let block = Solid::from_triangles(&points, &triangles).expect("a box is closed").0;
        assert!(bent(&block, &block).into_iter().all(|bent| !bent));
        let marked = coarse.with_bent_skin(&vec![true; coarse.n_triangles()]);
        assert!(marked.origins().iter().all(|&origin| !seamwright_mesh::solid::is_cut(origin)));
    }
}
