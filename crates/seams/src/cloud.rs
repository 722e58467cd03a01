//! A part as points about evenly spread over its surface: for asking again and again what fits.

use crate::part::Part;
use seamwright_mesh::vec3;
use std::collections::HashSet;

/// Points along the longest extent of a part (ours).
const POINTS_ALONG: f64 = 64.0;

/// One point a cell of a grid, corners of the hull always, long edges by points along them.
pub fn points_mm(part: &Part) -> Vec<[f64; 3]> {
    let size = part.solid.size_mm();
    let spacing_mm = size[0].max(size[1]).max(size[2]) / POINTS_ALONG;
    let mut seen: HashSet<[i32; 3]> = HashSet::new();
    let mut points_mm = part.hull.points_mm.clone();
    let mut take = |p: [f64; 3]| {
        if seen.insert(p.map(|c| (c / spacing_mm).floor() as i32)) {
            points_mm.push(p);
        }
    };
    for index in 0..part.solid.n_triangles() {
        let corners = part.solid.corners_mm(index);
        for i in 0..3 {
            let (a, b) = (corners[i], corners[(i + 1) % 3]);
            take(a);
            let step = vec3::sub(b, a);
            let n = (vec3::length(step) / spacing_mm).floor();
            for k in 1..=n as usize {
                take(vec3::add(a, vec3::scale(step, k as f64 / (n + 1.0))));
            }
        }
    }
    points_mm
}
