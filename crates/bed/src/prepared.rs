//! A hull made ready for many fit tests: its corners in columns, a few outermost ones, its largest
//! faces, a long distance and its volume.
//!
//! Not here: the fit itself (`fit.rs`).

use seamwright_mesh::hull::Hull;
use seamwright_mesh::vec3;

use crate::extent::Points;

/// Hulls with more vertices than this are first judged by a few outermost ones.
const FEW: usize = 160;

/// Those few are the outermost ones along this many directions, both ways.
const N_FEW_DIRECTIONS: usize = 96;

/// A hull made ready for many fit tests.
#[derive(Debug, Clone)]
pub struct Prepared {
    pub(crate) all: Points,
    pub(crate) few: Points,
    /// Outward normals of the largest faces, largest first.
    pub(crate) faces: Vec<[f64; 3]>,
    pub(crate) long_distance_mm: f64,
    pub(crate) volume_mm3: f64,
}

/// Makes a hull ready.
pub fn prepare(hull: &Hull) -> Prepared {
    let all = Points::new(hull.points_mm.iter().copied());
    let few = if all.len() > FEW { all.outermost(&spread_directions(N_FEW_DIRECTIONS)) } else { all.clone() };
    let mut faces: Vec<(f64, [f64; 3])> = Vec::new();
    let mut volume_mm3 = 0.0;
    for triangle in &hull.triangles {
        let [a, b, c] = triangle.map(|i| hull.points_mm[i as usize]);
        let from = hull.points_mm[0];
        let twice = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        volume_mm3 += vec3::dot(vec3::sub(a, from), twice) / 6.0;
        if let Some(normal) = vec3::unit(twice) {
            faces.push((0.5 * vec3::length(twice), normal));
        }
    }
    faces.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut largest: Vec<[f64; 3]> = Vec::new();
    for &(_, normal) in faces.iter().take(400) {
        // Both sides of a plate give the same frames; 1 degree apart is as good as one for a start.
        if largest.len() < 24 && largest.iter().all(|&n| vec3::dot(n, normal).abs() < 0.99985) {
            largest.push(normal);
        }
    }
    let long_distance_mm = few.long_distance_mm();
    Prepared { all, few, faces: largest, long_distance_mm, volume_mm3 }
}

/// Directions spread evenly over half the sphere (a spiral at the golden angle).
pub(crate) fn spread_directions(n: usize) -> Vec<[f64; 3]> {
    (0..n)
        .map(|i| {
            let z = (i as f64 + 0.5) / n as f64;
            let r = (1.0 - z * z).sqrt();
            // 2.399963... = pi (3 - sqrt 5).
            let (sin, cos) = libm::sincos(i as f64 * std::f64::consts::PI * (3.0 - 5f64.sqrt()));
            [r * cos, r * sin, z]
        })
        .collect()
}
