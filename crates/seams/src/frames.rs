//! Directions and frames to try: the item's own axes, its principal axes, and an even spread.
//!
//! A frame is three unit vectors at right angles, right-handed. Everything here is a list fixed by
//! its arguments, so that a search is the same wherever it runs.
//! Source: the golden-angle spiral for even directions is common practice, no source.

use crate::draw::Draw;
use nalgebra::{Matrix3, SymmetricEigen};
use seamwright_mesh::{Solid, vec3};

/// Three unit vectors at right angles, right-handed.
pub type Frame = [[f64; 3]; 3];

/// The frame of the item as placed.
pub const AXES: Frame = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// The golden angle in radians, which spreads points of a spiral evenly.
const GOLDEN_RAD: f64 = 2.399_963_229_728_653;

/// Principal axes of the material, longest extent first; [`AXES`] where they are not defined.
pub fn principal(solid: &Solid) -> Frame {
    let inertia = solid.mass().inertia_mm5;
    let matrix = Matrix3::from_fn(|i, j| inertia[i][j]);
    if !matrix.iter().all(|x| x.is_finite()) {
        return AXES;
    }
    let eigen = SymmetricEigen::new(matrix);
    let mut order = [0, 1, 2];
    // The least moment belongs to the longest axis.
    order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
    let column = |i: usize| -> [f64; 3] { std::array::from_fn(|row| eigen.eigenvectors[(row, order[i])]) };
    let upright = |v: [f64; 3]| {
        // One of the two signs, chosen by the largest coordinate.
        let most = (0..3).max_by(|&i, &j| v[i].abs().total_cmp(&v[j].abs())).unwrap_or(0);
        if v[most] < 0.0 { vec3::scale(v, -1.0) } else { v }
    };
    let (Some(first), Some(second)) = (vec3::unit(upright(column(0))), vec3::unit(upright(column(1)))) else {
        return AXES;
    };
    [first, second, vec3::cross(first, second)]
}

/// `n` directions spread evenly over the half sphere with z >= 0.
pub fn half_sphere(n: usize) -> Vec<[f64; 3]> {
    (0..n)
        .map(|i| {
            let z = 1.0 - (i as f64 + 0.5) / n as f64;
            let r = (1.0 - z * z).sqrt();
            let turn_rad = GOLDEN_RAD * i as f64;
            [r * libm::cos(turn_rad), r * libm::sin(turn_rad), z]
        })
        .collect()
}

/// A direction drawn evenly from the sphere: heights are even on it (Archimedes' hat-box theorem).
pub(crate) fn drawn(draw: &mut Draw) -> [f64; 3] {
    let z = 2.0 * draw.unit() - 1.0;
    let (sin, cos) = libm::sincos(draw.unit() * std::f64::consts::TAU);
    let r = (1.0 - z * z).sqrt();
    [r * cos, r * sin, z]
}

/// A direction leant so far to one side; sides are counted around it.
pub fn leant(way: [f64; 3], side_rad: f64, by_rad: f64) -> Option<[f64; 3]> {
    let (u, v) = vec3::frame_of(way);
    let aside = vec3::add(vec3::scale(u, libm::cos(side_rad)), vec3::scale(v, libm::sin(side_rad)));
    vec3::unit(vec3::add(way, vec3::scale(aside, libm::tan(by_rad))))
}

/// Cosine of 5 degrees: a direction nearer to another than that finds nothing new.
const SAME_DIRECTION: f64 = 0.996;

/// Whether a direction is none of these, nor opposite to one.
pub fn is_new(way: [f64; 3], among: &[[f64; 3]]) -> bool {
    among.iter().all(|known| vec3::dot(*known, way).abs() < SAME_DIRECTION)
}

/// The first of all directions that are the same or opposite.
pub fn distinct(ways: impl IntoIterator<Item = [f64; 3]>) -> Vec<[f64; 3]> {
    let mut distinct = Vec::new();
    for way in ways {
        if is_new(way, &distinct) {
            distinct.push(way);
        }
    }
    distinct
}

/// The direction that has these coordinates in a frame.
pub fn within(frame: Frame, [x, y, z]: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|k| x * frame[0][k] + y * frame[1][k] + z * frame[2][k])
}

/// `frame` turned about its own third axis.
pub fn turned(frame: Frame, turn_rad: f64) -> Frame {
    let (c, s) = (libm::cos(turn_rad), libm::sin(turn_rad));
    let first = vec3::add(vec3::scale(frame[0], c), vec3::scale(frame[1], s));
    [first, vec3::cross(frame[2], first), frame[2]]
}

/// Frames in which boxes are tried for quick estimates: both given frames, turned by 45 degrees
/// about each axis, and `n_spread` more from an even spread.
pub fn for_estimates(own: Frame, n_spread: usize) -> Vec<Frame> {
    let mut frames = Vec::new();
    let bases = if same(own, AXES) { vec![AXES] } else { vec![AXES, own] };
    for base in bases {
        frames.push(base);
        for shift in 0..3 {
            let cycled = [base[shift], base[(shift + 1) % 3], base[(shift + 2) % 3]];
            frames.push(turned(cycled, std::f64::consts::FRAC_PI_4));
        }
    }
    for (i, up) in half_sphere(n_spread).into_iter().enumerate() {
        let (u, v) = vec3::frame_of(up);
        frames.push(turned([u, v, up], GOLDEN_RAD * i as f64));
    }
    frames
}

fn same(a: Frame, b: Frame) -> bool {
    a.iter().all(|u| b.iter().any(|v| vec3::dot(*u, *v).abs() > 1.0 - 1e-9))
}
