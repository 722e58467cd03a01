//! Notice where rounding a cut has laid points or edges on each other.
//!
//! Planes through vertices and along edges leave slivers thinner than a grid step. Both checks only
//! ask for the side to be assembled anew (`assemble.rs`); they change nothing themselves.

use super::{ABOVE, BELOW, Cut};
use crate::edges::edge_key;
use crate::grid::GridPoint;

impl<D: Fn(GridPoint) -> f64> Cut<'_, D> {
    /// A cut point on the very place of a vertex that is not an end of its edge: two names for one
    /// point, where edges may meet. Assembling joins them and moves such edges apart.
    pub(super) fn look_for_shared_places(&mut self) {
        for &vertex in self.near {
            let point = self.solid.points[vertex as usize];
            let goes = if self.side[vertex as usize] > 0 { ABOVE } else { BELOW };
            if let Some(&node) = self.node_at.get(&self.frame.flat(point)) {
                let node = &self.nodes[node as usize];
                let other_name = node.index[goes] != self.halves[goes].renamed[vertex as usize];
                self.again |= node.point == point && other_name;
            }
        }
    }

    /// An edge from a point of the section, or near it, that is not used once each way: the
    /// surface touches itself there, or slivers of it have been flattened onto each other.
    pub(super) fn look_for_touching_edges(&mut self, first_node: usize, first_triangle: [usize; 2]) {
        for goes in [BELOW, ABOVE] {
            let half = &self.halves[goes];
            let mut in_section = vec![false; half.points.len()];
            for node in &self.nodes[first_node..] {
                if let Some(flag) = in_section.get_mut(node.index[goes] as usize) {
                    *flag = true;
                }
            }
            for &vertex in self.near {
                if let Some(flag) = in_section.get_mut(half.renamed[vertex as usize] as usize) {
                    *flag = true;
                }
            }
            let mut edges: Vec<(u64, bool)> = Vec::new();
            for t in &half.triangles[first_triangle[goes]..] {
                let on = t.map(|i| in_section[i as usize]);
                for i in 0..3 {
                    if on[i] || on[(i + 1) % 3] {
                        let (a, b) = (t[i], t[(i + 1) % 3]);
                        edges.push((edge_key(a, b), a < b));
                    }
                }
            }
            edges.sort_unstable();
            let sound = |same: &[(u64, bool)]| matches!(same, [(_, false), (_, true)]);
            self.again |= !edges.chunk_by(|a, b| a.0 == b.0).all(sound);
        }
    }
}
