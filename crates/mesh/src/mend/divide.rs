//! Dividing long edges of a surface, so that what is given to its points holds between them too.
//!
//! How: every edge that asks for it gets its middle; a triangle with one, two or three such edges
//! becomes two, three or four. The surface stays where it is, to half a grid step.

use super::surface::Surface;
use crate::edges::{QuickMap, edge_key};

/// Divides the edges of the triangles `body` for which `asks` says so, once; the new triangles are
/// added to `body`. Says whether any was.
pub(super) fn divide(
    surface: &mut Surface,
    body: &mut Vec<u32>,
    asks: &dyn Fn(&Surface, u32, u32) -> bool,
) -> bool {
    let mut middles: QuickMap<u64, Option<u32>> = QuickMap::default();
    let mut any = false;
    for index in 0..body.len() {
        let triangle = body[index] as usize;
        let t = surface.triangles[triangle];
        let mut middle = [None; 3];
        for i in 0..3 {
            let (a, b) = (t[i], t[(i + 1) % 3]);
            let known = middles.get(&edge_key(a, b)).copied();
            middle[i] = known.unwrap_or_else(|| {
                let made = asks(surface, a, b).then(|| {
                    let (p, q) = (surface.points[a as usize], surface.points[b as usize]);
                    surface.add_point(std::array::from_fn(|axis| i32::midpoint(p[axis], q[axis])))
                });
                middles.insert(edge_key(a, b), made);
                made
            });
        }
        let parts = parted(t, middle);
        any |= parts.len() > 1;
        let made = surface.made[triangle];
        surface.triangles[triangle] = parts[0];
        for &part in &parts[1..] {
            body.push(surface.triangles.len() as u32);
            surface.triangles.push(part);
            surface.made.push(made);
        }
    }
    any
}

/// The triangles a triangle becomes; `middle[i]` is the middle of the edge from corner `i`.
fn parted(t: [u32; 3], middle: [Option<u32>; 3]) -> Vec<[u32; 3]> {
    match middle {
        [None, None, None] => vec![t],
        [Some(ab), Some(bc), Some(ca)] => {
            vec![[t[0], ab, ca], [ab, t[1], bc], [ca, bc, t[2]], [ab, bc, ca]]
        }
        _ => {
            // Turned until the first edge has a middle and the last has none.
            let turn = (0..3).find(|&i| middle[i].is_some() && middle[(i + 2) % 3].is_none()).unwrap_or(0);
            let [a, b, c] = std::array::from_fn(|i| t[(turn + i) % 3]);
            let (ab, bc) = (middle[turn].unwrap_or(b), middle[(turn + 1) % 3]);
            match bc {
                None => vec![[a, ab, c], [ab, b, c]],
                Some(bc) => vec![[ab, b, bc], [a, ab, bc], [a, bc, c]],
            }
        }
    }
}
