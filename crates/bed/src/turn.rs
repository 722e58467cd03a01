//! Rotations as three rows: row `i` is the direction in the piece that comes to lie along bed axis `i`.
//!
//! `q = R p` with `q[i] = rows[i] · p`. Kept orthonormal with determinant +1.

use seamwright_mesh::vec3;

/// Rows of a rotation.
pub type Rows = [[f64; 3]; 3];

/// Leaves everything as it is.
pub const IDENTITY: Rows = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// The image of a point.
pub fn apply(rows: &Rows, p: [f64; 3]) -> [f64; 3] {
    [vec3::dot(rows[0], p), vec3::dot(rows[1], p), vec3::dot(rows[2], p)]
}

/// The rotation by the Rodrigues vector `g` (axis times tangent of half the angle).
pub fn from_rodrigues(g: [f64; 3]) -> Rows {
    let [x, y, z] = g;
    let s = 1.0 / (1.0 + x * x + y * y + z * z);
    [
        [(1.0 + x * x - y * y - z * z) * s, 2.0 * (x * y - z) * s, 2.0 * (x * z + y) * s],
        [2.0 * (x * y + z) * s, (1.0 - x * x + y * y - z * z) * s, 2.0 * (y * z - x) * s],
        [2.0 * (x * z - y) * s, 2.0 * (y * z + x) * s, (1.0 - x * x - y * y + z * z) * s],
    ]
}

/// Each row turned in the piece's frame by the rotation vector `by_rad` (axis times angle).
pub fn turned(rows: &Rows, by_rad: [f64; 3]) -> Rows {
    let angle = vec3::length(by_rad);
    if angle < 1e-300 {
        return *rows;
    }
    let step = from_rodrigues(vec3::scale(by_rad, libm::tan(angle / 2.0) / angle));
    clean(&[apply(&step, rows[0]), apply(&step, rows[1]), apply(&step, rows[2])])
}

/// The rotation with this unit `up` along z and, before turning about it, rows 0 and 1 as
/// [`vec3::frame_of`] gives them; then turned counter-clockwise by `turn_rad` seen from above.
pub fn upright(up: [f64; 3], turn_rad: f64) -> Rows {
    let (u, v) = vec3::frame_of(up);
    let (sin, cos) = libm::sincos(turn_rad);
    let x = vec3::sub(vec3::scale(u, cos), vec3::scale(v, sin));
    let y = vec3::add(vec3::scale(u, sin), vec3::scale(v, cos));
    clean(&[x, y, up])
}

/// Orthonormal again, with determinant +1, starting from row 2 (which keeps its direction).
pub fn clean(rows: &Rows) -> Rows {
    let up = vec3::unit(rows[2]).unwrap_or([0.0, 0.0, 1.0]);
    let x = vec3::sub(rows[0], vec3::scale(up, vec3::dot(rows[0], up)));
    let x = vec3::unit(x).unwrap_or_else(|| vec3::frame_of(up).0);
    [x, vec3::cross(up, x), up]
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::Placement;

    #[test]
    fn every_way_to_make_a_rotation_gives_determinant_one() {
        for rows in [
            from_rodrigues([0.3, -0.2, 0.7]),
            turned(&from_rodrigues([0.1, 0.2, 0.3]), [1.0, -2.0, 0.5]),
            upright(vec3::unit([1.0, 2.0, -3.0]).unwrap(), 2.5),
            clean(&[[2.0, 0.0, 0.1], [0.0, -1.0, 0.0], [0.0, 0.0, 3.0]]),
        ] {
            assert!(Placement::from_rows(rows, [0.0; 3]).is_rigid(1e-12), "{rows:?}");
        }
    }

    #[test]
    fn a_quarter_turn_about_z_takes_x_to_y() {
        let rows = from_rodrigues([0.0, 0.0, 1.0]);
        let q = apply(&rows, [1.0, 0.0, 0.0]);
        assert!((q[1] - 1.0).abs() < 1e-15, "{q:?}");
        let up = [0.0, 0.0, 1.0];
        let (before, after) = (upright(up, 0.0), upright(up, std::f64::consts::FRAC_PI_2));
        let p = [3.0, 4.0, 5.0];
        let (a, b) = (apply(&before, p), apply(&after, p));
        assert!((b[0] + a[1]).abs() < 1e-12 && (b[1] - a[0]).abs() < 1e-12 && (b[2] - a[2]).abs() < 1e-12);
    }
}
