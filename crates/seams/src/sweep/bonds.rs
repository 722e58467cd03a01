//! What holds a solid together that its surface does not show: the material between skins.
//!
//! A sweep joins the points of the surface as a plane passes them. That alone would take the lining
//! of a cup for a piece apart from its outside until the plane reaches the rim. Two kinds of bonds
//! mend it, and with them the lumps are those of the solid, exactly:
//! - *floors*: at a lowest point of the surface with material under it (the bottom of a hollow) that
//!   material reaches down to some other place of the surface, found by a ray;
//! - *meetings*: where an edge of one body enters another body, both are one from there on.
//!
//! Why this is enough: lumps of what lies below a plane are born at lowest points without material under
//! them and join at saddles of the surface, or where surfaces cross; all other events change a lump's
//! surface only. Source: Morse theory of sublevel sets (textbook, from memory).
//! Bodies that touch without crossing are bonded at points of one within reach of the other; two edges
//! that touch between their ends are missed: a sweep counts a lump too many there, the cut does not.

use crate::lines::surface::distance_to_triangle_mm;
use seamwright_mesh::lumps::TOUCH_MM;
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Solid, bodies, vec3};

/// A place where two parts of the surface belong to one lump as soon as it is passed.
#[derive(Debug, Clone, Copy)]
pub struct Bond {
    /// The place.
    pub at_mm: [f64; 3],
    /// An edge through it; or twice the point that lies there.
    pub edge: [u32; 2],
    /// A triangle through it.
    pub triangle: u32,
}

/// Where bodies of a solid meet; none where it has one body.
pub fn meetings(solid: &Solid, tree: &Tree, edges: &[[u32; 2]]) -> Vec<Bond> {
    let bodies = bodies::bodies(solid);
    if bodies.len() == 1 {
        return Vec::new();
    }
    let mut body_of = vec![0_u32; solid.n_triangles()];
    let mut of_point = vec![0_u32; solid.points().len()];
    for (number, body) in (0_u32..).zip(&bodies) {
        for &t in &body.triangles {
            body_of[t as usize] = number;
            for point in solid.triangles()[t as usize] {
                of_point[point as usize] = number;
            }
        }
    }
    let points = solid.points_mm();
    let mut bonds = Vec::new();
    for &edge in edges {
        let [a, b] = edge.map(|i| points[i as usize]);
        let low = std::array::from_fn(|k| a[k].min(b[k]));
        let high = std::array::from_fn(|k| a[k].max(b[k]));
        for t in tree.in_box(low, high) {
            if body_of[t] == of_point[edge[0] as usize] {
                continue;
            }
            if let Some(at_mm) = crossing(a, b, solid.corners_mm(t)) {
                bonds.push(Bond { at_mm, edge, triangle: t as u32 });
            }
        }
    }
    let reach = [TOUCH_MM; 3];
    for (index, &point) in points.iter().enumerate() {
        for t in tree.in_box(vec3::sub(point, reach), vec3::add(point, reach)) {
            let near = || distance_to_triangle_mm(point, solid.corners_mm(t)) <= TOUCH_MM;
            if body_of[t] != of_point[index] && near() {
                bonds.push(Bond { at_mm: point, edge: [index as u32; 2], triangle: t as u32 });
            }
        }
    }
    bonds
}

/// The triangle that ends the material under a lowest point of the surface, looking down along
/// `-normal`; `None` where there is no material under it.
pub fn floor_under(solid: &Solid, tree: &Tree, normal: [f64; 3], point: u32) -> Option<usize> {
    // A little aslant, so that edges of the item are not looked along; any way down will do.
    const ASLANT: [f64; 2] = [0.0371, 0.0523];
    let (u, v) = vec3::frame_of(normal);
    let aside = vec3::add(vec3::scale(u, ASLANT[0]), vec3::scale(v, ASLANT[1]));
    let down = vec3::unit(vec3::sub(aside, normal))?;
    let start_mm = seamwright_mesh::grid::to_mm(solid.points()[point as usize]);
    let mut hits = tree.all_hits(start_mm, down);
    hits.retain(|hit| !solid.triangles()[hit.triangle].contains(&point));
    let leaves = |triangle: usize| {
        let [a, b, c] = solid.corners_mm(triangle);
        vec3::dot(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)), down) > 0.0
    };
    let sides: Vec<i32> = hits.iter().map(|hit| if leaves(hit.triangle) { 1 } else { -1 }).collect();
    let mut depth: i32 = sides.iter().sum();
    for (hit, side) in hits.iter().zip(sides) {
        if depth <= 0 {
            return None;
        }
        depth -= side;
        if depth <= 0 {
            return Some(hit.triangle);
        }
    }
    None
}

/// Where the segment crosses the triangle.
fn crossing(a: [f64; 3], b: [f64; 3], corners: [[f64; 3]; 3]) -> Option<[f64; 3]> {
    let [p, q, r] = corners;
    let normal = vec3::cross(vec3::sub(q, p), vec3::sub(r, p));
    let (from, to) = (vec3::dot(normal, vec3::sub(a, p)), vec3::dot(normal, vec3::sub(b, p)));
    if (from >= 0.0) == (to >= 0.0) {
        return None;
    }
    let at = vec3::add(a, vec3::scale(vec3::sub(b, a), from / (from - to)));
    let inside =
        |u: [f64; 3], v: [f64; 3]| vec3::dot(normal, vec3::cross(vec3::sub(v, u), vec3::sub(at, u))) >= 0.0;
    (inside(p, q) && inside(q, r) && inside(r, p)).then_some(at)
}
