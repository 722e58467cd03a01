//! Close both sides of a cut: the cap of one group, and the same turned over.

use super::parts::net_lines;
use super::{ABOVE, BELOW, Corner, Cut};
use crate::cap;
use crate::grid::STEPS_PER_MM;

/// How often lines that meet are split before a section is filled loop by loop: rounding a crossing
/// bends its lines by less than a step and may make them meet anew, ever fewer of them.
const CROSSING_PASSES: usize = 30;

/// Places in the cap's plane, and directed lines between them: from, to, how often.
pub(super) type FlatLines = (Vec<[i32; 2]>, Vec<(u32, u32, i32)>);

impl Cut<'_> {
    /// Caps one group on both sides.
    pub(super) fn close(&mut self, first_node: usize, first_triangle: [usize; 2], lines: &[(u32, u32)]) {
        let mut net = net_lines(lines.iter().map(|&(from, to)| (from, to, 1)));
        let mut cap = self.cap(first_node, &net);
        for _ in 0..CROSSING_PASSES {
            if cap.is_some() || !self.split_lines_that_meet(first_node, first_triangle, &mut net) {
                break;
            }
            cap = self.cap(first_node, &net);
        }
        let cap = cap.unwrap_or_else(|| {
            self.again = true;
            let (flat, local) = self.flat_lines(first_node, &net);
            cap::fill_anyhow(&flat, &local)
        });
        self.rough_mm2 += cap.rough_steps2 / (STEPS_PER_MM * STEPS_PER_MM);
        self.again |= cap.rough_steps2 > 0.0 || net.iter().any(|line| line.2 > 1);
        for triangle in cap.triangles {
            let [a, b, c] = triangle.map(|i| i + first_node as u32);
            let corners = [a, b, c].map(Corner::Node);
            let below = self.lay(BELOW, &corners, self.tag);
            let above = self.lay(ABOVE, &[corners[0], corners[2], corners[1]], self.tag);
            self.cap_pairs.extend(below.zip(above).map(|(below, above)| [below, above]));
        }
    }

    fn cap(&self, first_node: usize, net: &[(u32, u32, i32)]) -> Option<cap::Cap> {
        let (flat, local) = self.flat_lines(first_node, net);
        cap::fill(&flat, &local)
    }

    /// The nodes of a group in the cap's plane, and its lines between them, turned: the cap of the
    /// lower side runs them the other way.
    pub(super) fn flat_lines(&self, first_node: usize, net: &[(u32, u32, i32)]) -> FlatLines {
        let flat = self.nodes[first_node..].iter().map(|node| self.frame.flat(node.point)).collect();
        let first = first_node as u32;
        (flat, net.iter().map(|&(from, to, times)| (to - first, from - first, times)).collect())
    }
}
