//! The patch of least area over a rim.
//!
//! How: dynamic programming over all triangulations of the rim, O(n^3) for n points; a longer rim is
//! first shortened by cutting every other corner off, as long as the ears stay small.
//! Source: minimal area triangulation of a polygon in space as in "Filling gaps in the boundary of a
//! polyhedron" (CAGD, 1995; from memory).

use crate::vec3;

/// Rims up to this many points are patched at once: about 20 million areas.
const LONGEST: usize = 400;

/// Triangles over a rim, as indices into it, running in its direction. `is_taken` says which pairs of
/// rim points the surface already joins by an edge: no new edge is laid along those.
pub(super) fn least_area(rim_mm: &[[f64; 3]], is_taken: &dyn Fn(usize, usize) -> bool) -> Vec<[usize; 3]> {
    let mut left: Vec<usize> = (0..rim_mm.len()).collect();
    let mut triangles = Vec::new();
    while left.len() > LONGEST {
        let before = left.len();
        left = shortened(rim_mm, &left, is_taken, &mut triangles);
        if left.len() == before {
            break;
        }
    }
    let inner = if left.len() > LONGEST { fan(left.len()) } else { by_programming(rim_mm, &left, is_taken) };
    triangles.extend(inner.into_iter().map(|t| t.map(|i| left[i])));
    triangles
}

/// Of a rim so long that its corners cannot even be cut off: all from the first point.
fn fan(n: usize) -> Vec<[usize; 3]> {
    (1..n - 1).map(|i| [0, i, i + 1]).collect()
}

/// Cuts off every other corner whose new edge is free; adds the triangles.
fn shortened(
    rim_mm: &[[f64; 3]],
    left: &[usize],
    is_taken: &dyn Fn(usize, usize) -> bool,
    triangles: &mut Vec<[usize; 3]>,
) -> Vec<usize> {
    let n = left.len();
    let mut kept = Vec::with_capacity(n / 2 + 1);
    let mut at = 0;
    while at < n {
        let (here, corner, next) = (left[at], left[(at + 1) % n], left[(at + 2) % n]);
        kept.push(here);
        let (p, q, r) = (rim_mm[here], rim_mm[corner], rim_mm[next]);
        // A sharp corner keeps its point: an ear over it would run across the hole.
        let turn = vec3::dot(vec3::sub(q, p), vec3::sub(r, q));
        if at + 1 < n && turn > 0.0 && !is_taken(here, next) {
            triangles.push([here, corner, next]);
            at += 2;
        } else {
            at += 1;
        }
    }
    kept
}

fn by_programming(
    rim_mm: &[[f64; 3]],
    left: &[usize],
    is_taken: &dyn Fn(usize, usize) -> bool,
) -> Vec<[usize; 3]> {
    let n = left.len();
    if n < 3 {
        return Vec::new();
    }
    let at = |i: usize| rim_mm[left[i]];
    // Where every triangulation runs along a taken edge, that is allowed at a price no area reaches.
    let taken_mm2 = |i: usize, k: usize| {
        let is_side = k == i + 1 || (i == 0 && k == n - 1);
        if !is_side && is_taken(left[i], left[k]) { 1e12 } else { 0.0 }
    };
    let mut least = vec![0.0_f64; n * n];
    let mut apex = vec![0_u32; n * n];
    for span in 2..n {
        for i in 0..n - span {
            let k = i + span;
            let mut best = (f64::INFINITY, 0);
            for j in i + 1..k {
                let total = least[i * n + j] + least[j * n + k] + vec3::area([at(i), at(j), at(k)]);
                if total < best.0 {
                    best = (total, j);
                }
            }
            least[i * n + k] = best.0 + taken_mm2(i, k);
            apex[i * n + k] = best.1 as u32;
        }
    }
    let mut triangles = Vec::with_capacity(n - 2);
    let mut waiting = vec![(0, n - 1)];
    while let Some((i, k)) = waiting.pop() {
        if k < i + 2 {
            continue;
        }
        let j = apex[i * n + k] as usize;
        triangles.push([i, j, k]);
        waiting.extend([(i, j), (j, k)]);
    }
    triangles
}
