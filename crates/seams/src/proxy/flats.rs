//! Which triangles of a stand-in are flat because the item is flat there, and which only because few
//! triangles stand for a bent skin: on those nothing stands.
//!
//! How: a triangle is flat if the item has enough skin in its plane, wherever in it. Planes are found by
//! the cell of a lattice in which their normal lies.

use seamwright_bed::rest::{FLAT_COSINE, FLAT_MM2};
use seamwright_mesh::{Solid, vec3};
use std::collections::HashMap;

/// As far skin may lie from a plane to be in it, mm (ours): a hair more than for standing on it, since
/// the stand-in's plane is not quite the item's.
const REACH_MM: f64 = 0.03;

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
            if (at - other_at).abs() <= REACH_MM && vec3::dot(normal, other) >= FLAT_COSINE {
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
    use crate::bound::tests::cuboid;
    use crate::proxy::tests::hollow_ball;

    #[test]
    fn facets_of_a_bent_skin_are_bent_and_faces_of_a_block_are_flat() {
        let (fine, coarse) = (hollow_ball(100), hollow_ball(12));
        assert!(bent(&fine, &coarse).into_iter().all(|bent| bent));
        // The same ball by itself is the facets it has, the larger of them 25 mm each way.
        assert!(bent(&coarse, &coarse).into_iter().any(|bent| !bent));
        let block = cuboid([40.0; 3]);
        assert!(bent(&block, &block).into_iter().all(|bent| !bent));
        let marked = coarse.with_bent_skin(&vec![true; coarse.n_triangles()]);
        assert!(marked.origins().iter().all(|&origin| !seamwright_mesh::solid::is_cut(origin)));
    }
}
