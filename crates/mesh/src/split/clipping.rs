//! Clip the triangles that a plane crosses into what lies below and what lies above.

use super::{ABOVE, BELOW, Corner, Cut};
use crate::vec3;

impl Cut<'_> {
    /// The corners of both sides of a crossed triangle, crossings by number.
    pub(super) fn polygons(&mut self, t: [u32; 3]) -> [Vec<Corner>; 2] {
        let mut polygons: [Vec<Corner>; 2] = [Vec::with_capacity(4), Vec::with_capacity(4)];
        for i in 0..3 {
            let (a, b) = (t[i], t[(i + 1) % 3]);
            let (here, next) = (self.side[a as usize], self.side[b as usize]);
            match here {
                0 => {
                    let node = Corner::Node(self.node_of_vertex(a));
                    polygons.iter_mut().for_each(|polygon| polygon.push(node));
                }
                _ => polygons[if here > 0 { ABOVE } else { BELOW }].push(Corner::Vertex(a)),
            }
            if here.signum() * next.signum() < 0 {
                let crossing = Corner::Crossing(self.crossing_of(a, b));
                polygons.iter_mut().for_each(|polygon| polygon.push(crossing));
            }
        }
        polygons
    }

    pub(super) fn exact(&self, corner: Corner) -> [f64; 3] {
        match corner {
            Corner::Vertex(vertex) => self.solid.points[vertex as usize].map(f64::from),
            Corner::Node(node) => self.nodes[node as usize].point.map(f64::from),
            Corner::Crossing(number) => self.crossings[number as usize].exact,
        }
    }

    /// The triangles of a clipped polygon; a quadrilateral is cut along its shorter diagonal.
    pub(super) fn triangles_of(&self, polygon: &[Corner]) -> Vec<[Corner; 3]> {
        match *polygon {
            [a, b, c] => vec![[a, b, c]],
            [a, b, c, d] => {
                let squared = |u: Corner, v: Corner| {
                    let step = vec3::sub(self.exact(u), self.exact(v));
                    vec3::dot(step, step)
                };
                if squared(a, c) <= squared(b, d) {
                    vec![[a, b, c], [a, c, d]]
                } else {
                    vec![[b, c, d], [b, d, a]]
                }
            }
            _ => Vec::new(),
        }
    }

    /// Cuts a triangle that has corners on both sides.
    pub(super) fn clip(&mut self, index: usize, t: [u32; 3], lines: &mut Vec<(u32, u32)>) {
        let origin = self.solid.origin[index];
        for (goes, polygon) in self.polygons(t).into_iter().enumerate() {
            if goes == BELOW {
                for i in 0..polygon.len() {
                    let ends = [polygon[i], polygon[(i + 1) % polygon.len()]].map(|c| self.node_at_corner(c));
                    if let [Some(a), Some(b)] = ends
                        && a != b
                    {
                        lines.push((a, b));
                    }
                }
            }
            for corners in self.triangles_of(&polygon) {
                self.lay_skin(goes, &corners, origin);
            }
        }
    }

    /// The node at a corner, if it is on the plane.
    pub(super) fn node_at_corner(&self, corner: Corner) -> Option<u32> {
        match corner {
            Corner::Vertex(_) => None,
            Corner::Node(node) => Some(node),
            Corner::Crossing(number) => Some(self.crossings[number as usize].node),
        }
    }
}
