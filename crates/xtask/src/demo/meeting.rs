//! Where tangent planes meet: one vertex for a patch of surface, on its crease where it has one.
//!
//! Source: the quadratic fit of "Dual Contouring of Hermite Data" (2002, from memory), solved by
//! eigenvectors so that directions the planes do not fix are left alone.

use super::field::Field;
use seamwright_mesh::vec3::{add, dot, scale, sub};

/// A point on a grid edge where the field is zero, and the way out there.
#[derive(Clone, Copy)]
pub struct Crossing {
    /// Where, mm.
    pub at_mm: [f64; 3],
    /// Unit vector outward.
    pub normal: [f64; 3],
}

/// Central differences over a step small against every rounding radius of the shapes.
pub fn gradient(field: Field, at_mm: [f64; 3]) -> [f64; 3] {
    const STEP_MM: f64 = 0.01;
    std::array::from_fn(|a| {
        let (mut low, mut high) = (at_mm, at_mm);
        low[a] -= STEP_MM;
        high[a] += STEP_MM;
        (field(high) - field(low)) / (2.0 * STEP_MM)
    })
}

/// The point nearest to the middle of the crossings where their tangent planes meet best.
pub fn meeting_point(found: &[Crossing]) -> [f64; 3] {
    let n = found.len().max(1) as f64;
    let middle = scale(found.iter().fold([0.0; 3], |sum, c| add(sum, c.at_mm)), 1.0 / n);
    let mut matrix = [[0.0; 3]; 3];
    let mut right = [0.0; 3];
    for crossing in found {
        let offset = dot(crossing.normal, sub(crossing.at_mm, middle));
        right = add(right, scale(crossing.normal, offset));
        for (row, &n) in matrix.iter_mut().zip(&crossing.normal) {
            *row = add(*row, scale(crossing.normal, n));
        }
    }
    let (values, axes) = eigen(matrix);
    let largest = values.iter().fold(0.0, |a: f64, &b| a.max(b));
    let mut point = middle;
    for (value, axis) in values.iter().zip(axes) {
        // A crease that turns by 15 degrees has a ratio of tan^2(7.5 degrees), 0.017; below that the
        // planes do not fix this direction (flat, or along a straight crease).
        if *value > 0.012 * largest {
            point = add(point, scale(axis, dot(axis, right) / value));
        }
    }
    point
}

/// Drawn onto the surface where it bends so gently that tangent planes meet off it; on a crease
/// the meeting point lies on the surface already.
pub fn on_surface(field: Field, mut point: [f64; 3]) -> [f64; 3] {
    const CLOSE_MM: f64 = 0.01;
    for _ in 0..2 {
        let value = field(point);
        if value.abs() < CLOSE_MM {
            break;
        }
        let slope = gradient(field, point);
        let step = (value / dot(slope, slope).max(0.2)).clamp(-0.4, 0.4);
        point = sub(point, scale(slope, step));
    }
    point
}

/// Eigenvalues and unit eigenvectors of a symmetric matrix by Jacobi rotations.
fn eigen(mut m: [[f64; 3]; 3]) -> ([f64; 3], [[f64; 3]; 3]) {
    let mut axes = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    for _sweep in 0..8 {
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            if m[p][q].abs() < 1e-14 {
                continue;
            }
            let theta = (m[q][q] - m[p][p]) / (2.0 * m[p][q]);
            let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
            let c = 1.0 / (t * t + 1.0).sqrt();
            let s = t * c;
            for row in &mut m {
                (row[p], row[q]) = (c * row[p] - s * row[q], s * row[p] + c * row[q]);
            }
            let (row_p, row_q) = (m[p], m[q]);
            for k in 0..3 {
                m[p][k] = c * row_p[k] - s * row_q[k];
                m[q][k] = s * row_p[k] + c * row_q[k];
            }
            let (axis_p, axis_q) = (axes[p], axes[q]);
            for k in 0..3 {
                axes[p][k] = c * axis_p[k] - s * axis_q[k];
                axes[q][k] = s * axis_p[k] + c * axis_q[k];
            }
        }
    }
    ([m[0][0], m[1][1], m[2][2]], axes)
}
