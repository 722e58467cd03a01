//! Split the lines of a section where they cross, and the skin beside them.
//!
//! A surface that runs through itself has a section that crosses itself; on a sound surface the
//! lines of a section may cross by a step through rounding. Both sides of the cut get the crossing
//! as a common point, so their caps stay one and the same.

use super::parts::net_lines;
use super::{ABOVE, BELOW, Corner, Cut};
use crate::edges::{QuickMap, QuickSet, edge_key};
use crate::grid::GridPoint;
use crate::meetings::meetings;
use std::collections::BTreeMap;

impl Cut<'_> {
    /// Splits every line that meets another. Returns whether any did.
    pub(super) fn split_lines_that_meet(
        &mut self,
        first_node: usize,
        first_triangle: [usize; 2],
        net: &mut Vec<(u32, u32, i32)>,
    ) -> bool {
        let (flat, local) = self.flat_lines(first_node, net);
        let mut found = meetings(&flat, &local);
        if found.is_empty() {
            return false;
        }
        // Along each line from its first end, every place once.
        let away = |meeting: &crate::meetings::Meeting| -> i64 {
            let from = flat[local[meeting.line].0 as usize];
            (0..2).map(|i| (i64::from(meeting.place[i]) - i64::from(from[i])).pow(2)).sum()
        };
        found.sort_by_key(|meeting| (meeting.line, away(meeting), meeting.place));
        found.dedup();
        // By edge, so that the order of new points depends on nothing else.
        let mut between: BTreeMap<u64, Vec<u32>> = BTreeMap::new();
        for on_line in found.chunk_by(|a, b| a.line == b.line) {
            // The flat lines run the other way.
            let (to, from, _) = net[on_line[0].line];
            let mut chain: Vec<u32> = Vec::with_capacity(on_line.len() + 2);
            chain.push(from);
            for meeting in on_line {
                let point = self.lift(meeting.place);
                chain.push(self.node(point, point.map(f64::from)));
            }
            chain.push(to);
            if from > to {
                chain.reverse();
            }
            between.insert(edge_key(from, to), chain);
        }
        // A line whose part is itself a line to be split waits for the next pass.
        let keys: Vec<u64> = between.keys().copied().collect();
        between.retain(|_, chain| {
            !chain.windows(2).any(|ends| keys.binary_search(&edge_key(ends[0], ends[1])).is_ok())
        });
        if between.is_empty() {
            return false;
        }
        *net = net_lines(net.iter().flat_map(|&(from, to, times)| match between.get(&edge_key(from, to)) {
            None => vec![(from, to, times)],
            Some(chain) => {
                let times = if from < to { times } else { -times };
                chain.windows(2).map(|ends| (ends[0], ends[1], times)).collect()
            }
        }));
        for goes in [BELOW, ABOVE] {
            self.split_skin(goes, first_triangle[goes], &between);
        }
        true
    }

    /// The grid point of the plane over a place in the cap's plane.
    fn lift(&self, place: [i32; 2]) -> GridPoint {
        let lifted = |height: i32| self.frame.lift(place, height);
        // The distance grows evenly with the height.
        let (at_0, at_1) = (self.level.distance(lifted(0)), self.level.distance(lifted(1)));
        lifted((at_0 / (at_0 - at_1)).round_ties_even() as i32)
    }

    /// Gives every triangle on a split line the points in between.
    fn split_skin(&mut self, goes: usize, first_triangle: usize, between: &BTreeMap<u64, Vec<u32>>) {
        let mut node_of: QuickMap<u32, u32> = QuickMap::default();
        for chain in between.values() {
            for &node in chain {
                let index = self.index_of(goes, Corner::Node(node));
                node_of.insert(index, node);
            }
        }
        let mut is_thin: QuickSet<u32> = self.thin[goes].iter().copied().collect();
        let half = &mut self.halves[goes];
        // With each triangle, which of its edges may be split: an edge made here may lie on a line
        // without being one, and splitting those would go round and round.
        let mut todo: Vec<(usize, [bool; 3])> =
            (first_triangle..half.triangles.len()).map(|triangle| (triangle, [true; 3])).collect();
        while let Some((triangle, may_split)) = todo.pop() {
            let t = half.triangles[triangle];
            let chain_of = |i: usize| {
                let (a, b) = (*node_of.get(&t[i])?, *node_of.get(&t[(i + 1) % 3])?);
                between.get(&edge_key(a, b)).map(|chain| (i, chain, a))
            };
            let Some((corner, chain, start)) = (0..3).filter(|&i| may_split[i]).find_map(chain_of) else {
                continue;
            };
            let apex = t[(corner + 2) % 3];
            let mut ends: Vec<u32> =
                chain.iter().map(|&node| self.nodes[node as usize].index[goes]).collect();
            if chain[0] != start {
                ends.reverse();
            }
            let origin = half.origin[triangle];
            // The first takes the place of the old one, so no index moves.
            for (n, pair) in ends.windows(2).enumerate() {
                let at = if n == 0 { triangle } else { half.triangles.len() };
                if n > 0 {
                    half.triangles.push([0; 3]);
                    half.origin.push(origin);
                    self.beside[goes].push(at as u32);
                    if is_thin.contains(&(triangle as u32)) {
                        is_thin.insert(at as u32);
                        self.thin[goes].push(at as u32);
                    }
                }
                half.triangles[at] = [pair[0], pair[1], apex];
                let (first, last) = (n == 0, n + 2 == ends.len());
                todo.push((
                    at,
                    [false, last && may_split[(corner + 1) % 3], first && may_split[(corner + 2) % 3]],
                ));
            }
        }
    }
}
