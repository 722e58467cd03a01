//! Where a surface runs through itself: pairs of triangles that cross.
//!
//! Two triangles cross where an edge of one passes through the other from one side to the other. Ones
//! that only touch, or lie in one plane, do not count. Signs are exact (`exact.rs`).
//! Cost: a box query a triangle.

use crate::exact::side;
use crate::grid::{self, GridPoint};
use crate::spatial::Tree;

/// Triangles asked at most; of more, so many evenly spread.
const MOST_ASKED: usize = 300_000;

/// How often a surface runs through itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Crossings {
    /// Pairs of triangles that cross, among those asked.
    pub pairs: Vec<[u32; 2]>,
    /// One of so many triangles was asked: 1 is all.
    pub one_in: usize,
}

/// Pairs of crossing triangles, each once, the lower first. Points at one place must be one point.
pub(crate) fn crossings(points: &[GridPoint], triangles: &[[u32; 3]]) -> Crossings {
    let one_in = triangles.len().div_ceil(MOST_ASKED).max(1);
    let asked: Vec<u32> = (0..triangles.len() as u32).step_by(one_in).collect();
    Crossings { pairs: crossing_pairs(points, triangles, &asked), one_in }
}

/// Pairs in which one of `asked` crosses any other triangle.
pub(crate) fn crossing_pairs(points: &[GridPoint], triangles: &[[u32; 3]], asked: &[u32]) -> Vec<[u32; 2]> {
    // The triangles may be a few of a large mesh: only their points go into the tree.
    let corners_mm = |t: &[u32; 3]| t.map(|p| grid::to_mm(points[p as usize]));
    let names = (0..triangles.len() as u32).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    let Some(tree) = Tree::new(triangles.iter().flat_map(corners_mm).collect(), names) else {
        return Vec::new();
    };
    let mut is_asked = vec![false; triangles.len()];
    asked.iter().for_each(|&one| is_asked[one as usize] = true);
    let mut pairs = Vec::new();
    for &one in asked {
        let corners = corners_mm(&triangles[one as usize]);
        let low = std::array::from_fn(|i| corners.iter().fold(f64::MAX, |low, p| p[i].min(low)));
        let high = std::array::from_fn(|i| corners.iter().fold(f64::MIN, |high, p| p[i].max(high)));
        for other in tree.in_box(low, high) {
            // A pair of two that are asked is met twice: once is enough.
            let is_met_again = other < one as usize && is_asked[other];
            if other != one as usize
                && !is_met_again
                && cross(points, triangles[one as usize], triangles[other])
            {
                pairs.push([one.min(other as u32), one.max(other as u32)]);
            }
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    pairs
}

/// About where two crossing triangles meet: the middle of what their boxes share.
pub(crate) fn place_mm(points: &[GridPoint], one: [u32; 3], other: [u32; 3]) -> [f64; 3] {
    let [a, b] = [one, other].map(|t| t.map(|p| points[p as usize]));
    let middle = std::array::from_fn(|axis| {
        let low = |t: [GridPoint; 3]| t.iter().map(|p| p[axis]).min().unwrap_or(0);
        let high = |t: [GridPoint; 3]| t.iter().map(|p| p[axis]).max().unwrap_or(0);
        i32::midpoint(low(a).max(low(b)), high(a).min(high(b)))
    });
    grid::to_mm(middle)
}

/// Whether two triangles cross.
fn cross(points: &[GridPoint], one: [u32; 3], other: [u32; 3]) -> bool {
    let n_shared = one.iter().filter(|p| other.contains(p)).count();
    if n_shared > 1 {
        return false;
    }
    let [a, b] = [one, other].map(|t| t.map(|p| points[p as usize]));
    let (of_a, of_b) = (a.map(|p| side(b, p)), b.map(|p| side(a, p)));
    let apart = |sides: [i32; 3]| sides.iter().all(|&s| s >= 0) || sides.iter().all(|&s| s <= 0);
    if apart(of_a) || apart(of_b) {
        return false;
    }
    (0..3).any(|i| {
        let j = (i + 1) % 3;
        of_a[i] * of_a[j] < 0 && pierces(a[i], a[j], b) || of_b[i] * of_b[j] < 0 && pierces(b[i], b[j], a)
    })
}

/// Whether the line from `p` to `q`, whose ends lie on two sides of the triangle, passes inside it.
fn pierces(p: GridPoint, q: GridPoint, [a, b, c]: [GridPoint; 3]) -> bool {
    let turns = [side([p, q, a], b), side([p, q, b], c), side([p, q, c], a)];
    let n_zero = turns.iter().filter(|&&turn| turn == 0).count();
    n_zero <= 1 && (turns.iter().all(|&turn| turn >= 0) || turns.iter().all(|&turn| turn <= 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triangles_that_pierce_each_other_cross_and_ones_that_touch_do_not() {
        let points = [
            [0, 0, 0],
            [4096, 0, 0],
            [0, 4096, 0],
            [1000, 1000, -500],
            [1000, 1000, 500],
            [-3000, 1000, 100],
            [1000, 1000, 0],
        ];
        let count = |triangles: &[[u32; 3]]| crossings(&points, triangles).pairs.len();
        assert_eq!(count(&[[0, 1, 2], [3, 4, 5]]), 1);
        // A corner on the face, a shared edge, a shared corner: touching only.
        assert_eq!(count(&[[0, 1, 2], [6, 4, 5]]), 0);
        assert_eq!(count(&[[0, 1, 2], [1, 0, 4]]), 0);
        assert_eq!(count(&[[0, 1, 2], [0, 4, 5]]), 0);
        // A shared corner, and the far edge goes through.
        assert_eq!(count(&[[0, 1, 2], [0, 3, 4]]), 1);
    }
}
