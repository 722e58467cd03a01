//! A lantern pendant that is broken on purpose: two holes torn in it and a patch turned over.
//!
//! Frame: z up, origin under the middle. The whole lantern is closed; [`break_it`] spoils it.

use super::mesher::{Mesh, Sampling};
use libm::{atan2, cos, hypot, sin};
use seamwright_mesh::vec3::{length, scale, sub};

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling { low_mm: [-40.0, -40.0, -6.0], high_mm: [40.0, 40.0, 110.0], cell_mm: 1.4, mirrored: false }
}

/// Signed distance of the whole lantern: six panes between posts, a roof, a ring.
pub fn distance(p: [f64; 3]) -> f64 {
    let [x, y, z] = p;
    let sector = std::f64::consts::FRAC_PI_3;
    let angle = atan2(y, x);
    let within = angle - (angle / sector).round() * sector;
    let from_axis = hypot(x, y);
    // Distance from the axis across the nearest pane, and along it from its middle.
    let (across, along) = (from_axis * cos(within), from_axis * sin(within));
    let body = (across - 17.0 - 0.10 * z).max((z - 34.0).abs() - 30.0);
    let pane = (along.abs() - 6.0 - 0.03 * z).max((z - 34.0).abs() - 20.0).max(13.0 + 0.10 * z - across);
    let roof = ((across - 30.0 + 0.72 * (z - 62.0)) * 0.8).max((z - 74.0).abs() - 14.0);
    let foot = (across - 24.0).max((z - 4.0).abs() - 4.0);
    let ring = hypot(hypot(x, z - 95.0) - 9.0, y) - 2.6;
    body.max(-pane).min(roof).min(foot).min(ring) * 0.9
}

/// Tears two round holes and turns a patch over.
pub fn break_it(mut mesh: Mesh) -> Mesh {
    let middle = |mesh: &Mesh, triangle: [u32; 3]| {
        let sum = triangle
            .iter()
            .fold([0.0; 3], |sum: [f64; 3], &i| std::array::from_fn(|a| sum[a] + mesh.points[i as usize][a]));
        scale(sum, 1.0 / 3.0)
    };
    let near = |at: [f64; 3], place: [f64; 3], radius_mm: f64| length(sub(at, place)) < radius_mm;
    let kept: Vec<[u32; 3]> = mesh
        .triangles
        .iter()
        .copied()
        .filter(|&t| {
            let at = middle(&mesh, t);
            !near(at, [0.0, -24.0, 66.0], 6.0) && !near(at, [20.0, 0.0, 4.0], 4.5)
        })
        .map(|t| if near(middle(&mesh, t), [-18.0, 0.0, 72.0], 9.0) { [t[0], t[2], t[1]] } else { t })
        .collect();
    mesh.triangles = kept;
    mesh
}
