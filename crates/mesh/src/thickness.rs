//! The thinnest wall of a mesh, by rays.
//!
//! How: from the middle of triangles a ray goes inward to the first skin that faces away; the way is
//! the wall's thickness there. Skins that meet at a sharp edge do not count: the two must face away
//! from each other within 20 degrees. Nor does a speck: the thinnest is what 4 mm2 of the surface, or a
//! hundredth of a small one, do not reach.
//! Cost: a ray a triangle, of 100,000 triangles at most, evenly spread.

use crate::spatial::Tree;
use crate::vec3;

/// Rays at most.
const MOST_RAYS: usize = 100_000;
/// Less of the surface than this, or than this share of it, may be thinner: the foot of a crease is no wall.
const SPOT_MM2: f64 = 4.0;
const SPOT_SHARE: f64 = 0.01;
/// Cosine of the angle between a wall's skins beyond which they are the two sides of an edge.
const FACING: f64 = -0.94;

/// Where a mesh is thinnest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thin {
    /// The thickness there in mm.
    pub thick_mm: f64,
    /// Half way through, in mm.
    pub at_mm: [f64; 3],
}

/// The thinnest wall that is more than a speck; `None` where no ray meets a skin that faces away.
pub(crate) fn thinnest(points_mm: &[[f64; 3]], triangles: &[[u32; 3]]) -> Option<Thin> {
    let tree = Tree::new(points_mm.to_vec(), triangles.to_vec())?;
    let corners = |t: usize| triangles[t].map(|p| points_mm[p as usize]);
    let normal = |t: usize| {
        let [a, b, c] = corners(t);
        vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)))
    };
    let step = triangles.len().div_ceil(MOST_RAYS).max(1);
    let (mut all_mm2, mut found): (f64, Vec<(Thin, f64)>) = (0.0, Vec::new());
    for triangle in (0..triangles.len()).step_by(step) {
        let [a, b, c] = corners(triangle);
        let area_mm2 = step as f64 * vec3::area([a, b, c]);
        all_mm2 += area_mm2;
        let Some(outward) = normal(triangle) else { continue };
        let inward = vec3::scale(outward, -1.0);
        let middle = vec3::scale(vec3::add(a, vec3::add(b, c)), 1.0 / 3.0);
        // Half a grid step inside, so that the triangle itself is not met.
        const INSIDE_MM: f64 = 1.0 / 8192.0;
        let start = vec3::add(middle, vec3::scale(inward, INSIDE_MM));
        let Some(hit) = tree.cast_ray(start, inward, f64::MAX) else { continue };
        let thick_mm = hit.distance_mm + INSIDE_MM;
        let faces_away = normal(hit.triangle).is_some_and(|other| vec3::dot(outward, other) < FACING);
        if faces_away && hit.triangle != triangle {
            let at_mm = vec3::add(middle, vec3::scale(inward, thick_mm / 2.0));
            found.push((Thin { thick_mm, at_mm }, area_mm2));
        }
    }
    found.sort_by(|a, b| a.0.thick_mm.total_cmp(&b.0.thick_mm));
    let least_mm2 = SPOT_MM2.min(SPOT_SHARE * all_mm2);
    let mut sum_mm2 = 0.0;
    let enough = |&&(_, area_mm2): &&(Thin, f64)| {
        sum_mm2 += area_mm2;
        sum_mm2 >= least_mm2
    };
    found.iter().find(enough).map(|(thin, _)| *thin)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plate_is_as_thick_as_it_is_and_one_speck_of_a_wall_is_not_the_thinnest() {
        // A plate of 40 x 30 x 3 mm, each face of four triangles round its middle.
        let corner =
            |i: u32| [40.0 * f64::from(i & 1), 30.0 * f64::from(i >> 1 & 1), 3.0 * f64::from(i >> 2)];
        let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let mut points: Vec<[f64; 3]> = (0..8).map(corner).collect();
        let mut triangles = Vec::new();
        for face in faces {
            let sum = face.iter().fold([0.0; 3], |sum, &i| vec3::add(sum, corner(i)));
            points.push(vec3::scale(sum, 0.25));
            let middle = points.len() as u32 - 1;
            (0..4).for_each(|k| triangles.push([face[k], face[(k + 1) % 4], middle]));
        }
        let plate = thinnest(&points, &triangles).unwrap();
        assert!((plate.thick_mm - 3.0).abs() < 1e-3 && (plate.at_mm[2] - 1.5).abs() < 1e-3, "{plate:?}");
        // A speck of 0.5 mm2 that lies 0.1 mm over the plate is too small to count.
        let first = points.len() as u32;
        points.extend([[20.0, 14.0, 2.9], [21.0, 14.0, 2.9], [20.0, 15.0, 2.9]]);
        triangles.push([first, first + 2, first + 1]);
        let thick_mm = thinnest(&points, &triangles).unwrap().thick_mm;
        assert!((thick_mm - 3.0).abs() < 1e-3, "{thick_mm}");
    }
}
