//! A plane turned square to the skin it cuts.
//!
//! Why: what stands on such a cut of a shell stands straight, and neither side has an edge that runs out thin.
//! How: the skin along the section has one main normal where it is a wall, whose two sides count alike; the plane
//! is turned about the middle of the section until that normal lies in it.

use crate::part::Part;
use nalgebra::{Matrix3, SymmetricEigen};
use seamwright_mesh::section::chords;
use seamwright_mesh::{Plane, vec3};

/// Least share of the section along which the skin has the main normal (ours).
const WALL: f64 = 0.6;

/// The most a plane is turned: 30 degrees, as the sine of it (ours).
const MOST_TURN: f64 = 0.5;

/// The plane turned so; as it is where it cuts no wall, or one much aslant.
pub fn squared(part: &Part, plane: Plane) -> Plane {
    turned(part, plane).unwrap_or(plane)
}

fn turned(part: &Part, plane: Plane) -> Option<Plane> {
    let mut tensor = Matrix3::<f64>::zeros();
    let (mut middle, mut length_mm) = ([0.0; 3], 0.0);
    chords(&part.solid, &plane, |triangle, [from, to]| {
        let [a, b, c] = part.solid.corners_mm(triangle);
        if let Some(normal) = vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a))) {
            let along_mm = vec3::length(vec3::sub(to, from));
            tensor += Matrix3::from_fn(|i, j| along_mm * normal[i] * normal[j]);
            middle = vec3::add(middle, vec3::scale(vec3::add(from, to), 0.5 * along_mm));
            length_mm += along_mm;
        }
    });
    if length_mm <= 0.0 {
        return None;
    }
    let eigen = SymmetricEigen::new(tensor);
    let main = eigen.eigenvalues.imax();
    let skin: [f64; 3] = std::array::from_fn(|row| eigen.eigenvectors[(row, main)]);
    let lean = vec3::dot(plane.normal, skin);
    if eigen.eigenvalues[main] < WALL * length_mm || lean.abs() > MOST_TURN {
        return None;
    }
    let normal = vec3::unit(vec3::sub(plane.normal, vec3::scale(skin, lean)))?;
    Some(Plane { normal, offset_mm: vec3::dot(normal, vec3::scale(middle, 1.0 / length_mm)) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bound::tests::cuboid;
    use crate::part::Part;

    #[test]
    fn a_plane_through_a_board_is_turned_square_to_it() {
        let board = Part::uncared(cuboid([200.0, 300.0, 8.0]));
        let lean_rad = 12.0_f64.to_radians();
        let normal = [0.0, libm::cos(lean_rad), libm::sin(lean_rad)];
        let (low, high) = board.box_mm;
        let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        let plane = Plane { normal, offset_mm: vec3::dot(normal, middle) };
        let made = squared(&board, plane);
        assert!((made.normal[1] - 1.0).abs() < 1e-9, "{made:?}");
        assert!(made.distance_mm(middle).abs() < 1e-6, "about the middle of its section");
    }

    #[test]
    fn a_plane_across_a_bar_stays_as_it_is() {
        // As much skin one way as the other: it is no wall.
        let bar = Part::uncared(cuboid([20.0, 300.0, 20.0]));
        let lean_rad = 12.0_f64.to_radians();
        let normal = [0.0, libm::cos(lean_rad), libm::sin(lean_rad)];
        let plane = Plane { normal, offset_mm: vec3::dot(normal, [0.0, 150.0, 0.0]) };
        assert_eq!(squared(&bar, plane), plane);
    }
}
