//! Meshes of any size with a known shape, for cuts beside reference libraries and for timing.
//!
//! All are made of rings of quads, closed by construction, centred on the origin, in mm.

use anyhow::{Context, Result};
use seamwright_mesh::Solid;

type Mesh = (Vec<[f64; 3]>, Vec<[u32; 3]>);

/// A torus about Z with about `n_triangles` triangles; `round_mm` to the middle of its tube.
///
/// # Errors
/// Never for sizes inside the planner's reach.
pub fn torus(round_mm: f64, tube_mm: f64, n_triangles: usize) -> Result<Solid> {
    let across = even((n_triangles as f64 / 6.0).sqrt());
    let around = even(n_triangles as f64 / 2.0 / across as f64);
    let mut mesh: Mesh = Default::default();
    for i in 0..around {
        for j in 0..across {
            let (turn, tilt) = (angle(i, around), angle(j, across));
            let radius = round_mm + tube_mm * libm::cos(tilt);
            mesh.0.push([radius * libm::cos(turn), radius * libm::sin(turn), tube_mm * libm::sin(tilt)]);
        }
    }
    let at = |i: usize, j: usize| ((i % around) * across + j % across) as u32;
    for i in 0..around {
        for j in 0..across {
            quad(&mut mesh.1, [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    solid(&mesh)
}

/// A ball with a smaller ball left out of its middle, about `n_triangles` triangles in all.
///
/// # Errors
/// Never for sizes inside the planner's reach.
pub fn shell(outer_mm: f64, inner_mm: f64, n_triangles: usize) -> Result<Solid> {
    let mut mesh = ball(outer_mm, n_triangles / 2);
    let (points, triangles) = ball(inner_mm, n_triangles / 2);
    let first = mesh.0.len() as u32;
    mesh.0.extend(points);
    mesh.1.extend(triangles.iter().map(|&[a, b, c]| [first + a, first + c, first + b]));
    solid(&mesh)
}

/// A ball with about `n_triangles` triangles.
///
/// # Errors
/// Never for sizes inside the planner's reach.
pub fn sphere(radius_mm: f64, n_triangles: usize) -> Result<Solid> {
    solid(&ball(radius_mm, n_triangles))
}

/// A ball with humps and dents up to `height_mm`, about `n_triangles` triangles.
///
/// # Errors
/// Never for heights well below the radius.
pub fn wavy(radius_mm: f64, height_mm: f64, n_triangles: usize) -> Result<Solid> {
    let mut mesh = ball(radius_mm, n_triangles);
    for point in &mut mesh.0 {
        let [x, y, z] = point.map(|mm| mm / radius_mm);
        let wave = libm::sin(4.0 * x + 0.3) * libm::sin(3.0 * y + 1.0) * libm::cos(3.5 * z);
        *point = point.map(|mm| mm * (1.0 + height_mm / radius_mm * wave));
    }
    solid(&mesh)
}

/// A closed profile (radius, height), counter-clockwise, turned about Z; about `n_triangles`
/// triangles, its edges divided evenly.
///
/// # Errors
/// Never for profiles inside the planner's reach that keep off the axis.
pub fn turned(profile_mm: &[[f64; 2]], n_triangles: usize) -> Result<Solid> {
    let sides = (n_triangles as f64 / 2.0).sqrt();
    let parts = even(sides / profile_mm.len() as f64);
    let around = even(n_triangles as f64 / 2.0 / (parts * profile_mm.len()) as f64);
    let n = parts * profile_mm.len();
    let mut mesh: Mesh = Default::default();
    for i in 0..around {
        for j in 0..n {
            let (from, to) = (profile_mm[j / parts], profile_mm[(j / parts + 1) % profile_mm.len()]);
            let along = (j % parts) as f64 / parts as f64;
            let [radius, z] = [0, 1].map(|k| from[k] + along * (to[k] - from[k]));
            let turn = angle(i, around);
            mesh.0.push([radius * libm::cos(turn), radius * libm::sin(turn), z]);
        }
    }
    let at = |i: usize, j: usize| ((i % around) * n + j % n) as u32;
    for i in 0..around {
        for j in 0..n {
            quad(&mut mesh.1, [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    solid(&mesh)
}

fn ball(radius_mm: f64, n_triangles: usize) -> Mesh {
    let down = even((n_triangles as f64 / 4.0).sqrt() + 1.0);
    let around = 2 * down;
    let mut mesh: Mesh = (vec![[0.0, 0.0, radius_mm]], Vec::new());
    for i in 1..down {
        let tilt = angle(i, 2 * down);
        let (ring, z) = (radius_mm * libm::sin(tilt), radius_mm * libm::cos(tilt));
        mesh.0.extend((0..around).map(|j| {
            let turn = angle(j, around);
            [ring * libm::cos(turn), ring * libm::sin(turn), z]
        }));
    }
    mesh.0.push([0.0, 0.0, -radius_mm]);
    let bottom = mesh.0.len() as u32 - 1;
    let at = |i: usize, j: usize| (1 + (i - 1) * around + j % around) as u32;
    for j in 0..around {
        mesh.1.push([0, at(1, j), at(1, j + 1)]);
        mesh.1.push([bottom, at(down - 1, j + 1), at(down - 1, j)]);
        for i in 1..down - 1 {
            quad(&mut mesh.1, [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
    }
    mesh
}

fn quad(triangles: &mut Vec<[u32; 3]>, [a, b, c, d]: [u32; 4]) {
    triangles.extend([[a, b, c], [a, c, d]]);
}

fn angle(step: usize, of: usize) -> f64 {
    std::f64::consts::TAU * step as f64 / of as f64
}

/// The nearest even number from 4 up, so that rings have points on the planes between the axes.
fn even(n: f64) -> usize {
    2 * (n / 2.0).round().max(2.0) as usize
}

fn solid((points_mm, triangles): &Mesh) -> Result<Solid> {
    let (solid, _) = Solid::from_triangles(points_mm, triangles).context("a made shape is not closed")?;
    Ok(solid)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Inscribed polygons of n sides lose about (2 pi / n)^2 / 6 of their area in each direction.
    #[test]
    fn made_shapes_have_the_volume_of_their_formula() {
        let torus = torus(60.0, 15.0, 20_000).unwrap();
        let formula_mm3 = 2.0 * PI * PI * 60.0 * 15.0 * 15.0;
        assert!((torus.volume_mm3() / formula_mm3 - 1.0).abs() < 3e-3);
        let shell = shell(100.0, 96.0, 40_000).unwrap();
        let formula_mm3 = 4.0 / 3.0 * PI * (100.0 * 100.0 * 100.0 - 96.0 * 96.0 * 96.0);
        assert!((shell.volume_mm3() / formula_mm3 - 1.0).abs() < 3e-3);
        assert!((38_000..42_000).contains(&shell.n_triangles()));
        let step = turned(&[[20.0, 0.0], [60.0, 0.0], [60.0, 30.0], [20.0, 30.0]], 20_000).unwrap();
        let formula_mm3 = PI * (60.0 * 60.0 - 20.0 * 20.0) * 30.0;
        assert!((step.volume_mm3() / formula_mm3 - 1.0).abs() < 3e-3);
        assert!((18_000..22_000).contains(&step.n_triangles()));
    }
}
