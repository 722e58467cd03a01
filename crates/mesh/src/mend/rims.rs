//! The rims of a surface: closed chains of edges that have a triangle missing.

use super::surface::excess;
use crate::edges::{self, QuickMap};

/// A closed chain of points, in the direction in which a patch would run it.
#[derive(Debug, Clone)]
pub(super) struct Rim {
    pub points: Vec<u32>,
    /// A triangle beside it.
    pub triangle: u32,
}

/// All rims; a chain that meets itself in a point is parted there.
pub(super) fn rims(triangles: &[[u32; 3]]) -> Vec<Rim> {
    let uses = edges::edge_uses(triangles);
    let mut ways: QuickMap<u32, Vec<(u32, u32)>> = QuickMap::default();
    let mut starts = Vec::new();
    for run in edges::runs(&uses) {
        let more = excess(run, triangles);
        let (from, to) = if more > 0 { (run[0].high(), run[0].low()) } else { (run[0].low(), run[0].high()) };
        for _ in 0..more.unsigned_abs() {
            ways.entry(from).or_default().push((to, run[0].triangle() as u32));
            starts.push(from);
        }
    }
    // Last in, first out below; the first way of a point in order of its edges comes first.
    ways.values_mut().for_each(|list| list.reverse());
    let mut found = Vec::new();
    let mut step = |from: u32| ways.get_mut(&from).and_then(Vec::pop);
    let mut at_of: QuickMap<u32, usize> = QuickMap::default();
    for start in starts {
        let mut chain = vec![start];
        at_of.clear();
        at_of.insert(start, 0);
        let mut at = start;
        while let Some((next, triangle)) = step(at) {
            if let Some(&from) = at_of.get(&next) {
                let loop_points: Vec<u32> = chain.drain(from + 1..).collect();
                loop_points.iter().for_each(|point| {
                    at_of.remove(point);
                });
                let mut points = vec![next];
                points.extend(loop_points);
                found.push(Rim { points, triangle });
            } else {
                at_of.insert(next, chain.len());
                chain.push(next);
            }
            at = next;
        }
    }
    found.retain(|rim| rim.points.len() >= 3);
    found
}
