//! Lay clipped triangles on a side of a cut: skin and cap, each point once.

use super::{ABOVE, Corner, Cut};

impl Cut<'_> {
    /// The index of a corner on one side; made where it has none yet.
    pub(super) fn index_of(&mut self, goes: usize, corner: Corner) -> u32 {
        match corner {
            Corner::Vertex(vertex) if (self.side[vertex as usize] > 0) == (goes == ABOVE) => {
                self.renamed[vertex as usize]
            }
            Corner::Vertex(vertex) => {
                // Of a film given back; joined with its equals when the side is assembled.
                let half = &mut self.halves[goes];
                half.points.push(self.solid.points[vertex as usize]);
                half.points.len() as u32 - 1
            }
            Corner::Node(_) | Corner::Crossing(_) => {
                let Some(node) = self.node_at_corner(corner) else { return u32::MAX };
                let node = &mut self.nodes[node as usize];
                if node.index[goes] == u32::MAX {
                    let half = &mut self.halves[goes];
                    node.index[goes] = half.points.len() as u32;
                    half.points.push(node.point);
                }
                node.index[goes]
            }
        }
    }

    /// Adds a triangle to one side unless two of its corners have fallen together. Returns its
    /// index there.
    pub(super) fn lay(&mut self, goes: usize, corners: &[Corner; 3], origin: u32) -> Option<u32> {
        let [a, b, c] = corners.map(|corner| self.index_of(goes, corner));
        let half = &mut self.halves[goes];
        if a == b || b == c || c == a {
            half.may_be_unused.extend([a, b, c]);
            return None;
        }
        let number = half.triangles.len() as u32;
        half.triangles.push([a, b, c]);
        half.origin.push(origin);
        self.beside[goes].push(number);
        for (corner, index) in corners.iter().zip([a, b, c]) {
            if let &Corner::Vertex(vertex) = corner
                && self.side[vertex as usize].abs() < 3
            {
                self.near[goes].push((index, vertex));
            }
        }
        Some(number)
    }

    pub(super) fn lay_skin(&mut self, goes: usize, corners: &[Corner; 3], origin: u32) {
        let near = |corner: &Corner| match *corner {
            Corner::Vertex(vertex) => self.side[vertex as usize].abs() < 2,
            Corner::Node(_) | Corner::Crossing(_) => true,
        };
        let is_thin = corners.iter().all(near);
        if let Some(triangle) = self.lay(goes, corners, origin) {
            if is_thin {
                self.thin[goes].push(triangle);
            } else {
                let corners = self.halves[goes].triangles[triangle as usize];
                self.thick_points[goes].extend(corners);
            }
        }
    }
}
