//! What a stretch of seam boundary lies on: the hidden skin, the skin that shows, or another cut.
//!
//! How: the item's faces within a few grid steps of the middle of the stretch. None: the boundary
//! runs inside the item, along another cut. Faces that lie in the cut's own plane do not count
//! while others are there; where faces of both kinds meet under the line it shows.
//! Units: mm.

use seamwright_mesh::grid::STEPS_PER_MM;
use seamwright_mesh::{Plane, Solid, vec3};

use crate::patches::SkinMap;

/// How far the boundary may lie off the item's surface: the same as off its plane, since both come
/// from snapping (`contact.rs`, `ON_PLANE_MM`).
pub const ON_SKIN_MM: f64 = 4.0 / STEPS_PER_MM;

/// Faces within 2 degrees of the cut's plane count as lying in it.
const IN_PLANE_COS: f64 = 0.9994;

/// What the boundary runs over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// Another cut: no part of the item's surface.
    Cut,
    /// The inner side of a wall.
    Hidden,
    /// Any other skin.
    Visible,
}

/// What a point of a contact's boundary lies on.
pub fn ground_at(item: &Solid, skin: &SkinMap, plane: &Plane, point_mm: [f64; 3]) -> Ground {
    let (low, high) = (point_mm.map(|x| x - ON_SKIN_MM), point_mm.map(|x| x + ON_SKIN_MM));
    // Crossing the plane, or lying in it: each hidden, or seen.
    let (mut across, mut within) = (Ground::Cut, Ground::Cut);
    for triangle_index in skin.tree().in_box(low, high) {
        let corners = item.corners_mm(triangle_index);
        if distance_to_triangle_mm(point_mm, corners) > ON_SKIN_MM {
            continue;
        }
        let normal = vec3::cross(vec3::sub(corners[1], corners[0]), vec3::sub(corners[2], corners[0]));
        let in_plane = vec3::dot(normal, plane.normal).abs() > IN_PLANE_COS * vec3::length(normal);
        let ground = if in_plane { &mut within } else { &mut across };
        if skin.is_visible(triangle_index) {
            *ground = Ground::Visible;
        } else if *ground == Ground::Cut {
            *ground = Ground::Hidden;
        }
    }
    if across == Ground::Cut { within } else { across }
}

/// Distance from a point to a triangle.
///
/// # Source
/// The regions of the plane around a triangle, as in "Real-Time Collision Detection" (2005),
/// section 5.1.5 (from memory).
pub fn distance_to_triangle_mm(p: [f64; 3], [a, b, c]: [[f64; 3]; 3]) -> f64 {
    let normal = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
    let inside = [(a, b), (b, c), (c, a)]
        .iter()
        .all(|&(from, to)| vec3::dot(vec3::cross(vec3::sub(to, from), vec3::sub(p, from)), normal) >= 0.0);
    let size = vec3::length(normal);
    if inside && size > 0.0 {
        return vec3::dot(vec3::sub(p, a), normal).abs() / size;
    }
    distance_to_side_mm(p, a, b).min(distance_to_side_mm(p, b, c)).min(distance_to_side_mm(p, c, a))
}

/// Distance from a point to a straight side.
pub fn distance_to_side_mm(p: [f64; 3], a: [f64; 3], b: [f64; 3]) -> f64 {
    let (along, to_p) = (vec3::sub(b, a), vec3::sub(p, a));
    let square = vec3::dot(along, along);
    let share = if square > 0.0 { (vec3::dot(along, to_p) / square).clamp(0.0, 1.0) } else { 0.0 };
    vec3::length(vec3::sub(to_p, vec3::scale(along, share)))
}
