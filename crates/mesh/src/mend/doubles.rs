//! Triangles that only get in the way: without area where an edge has too many, and copies of others.
//!
//! A triangle without area that the surface needs to close stays: it is part of the mesh as drawn.

use super::surface::Surface;
use super::{LeftOut, Step};
use crate::edges::{QuickMap, edge_key};
use crate::flaws::Found;
use crate::vec3;

/// Numbers of triangles dropped, with some of the places.
#[derive(Default)]
pub(super) struct Dropped {
    pub without_area: Found,
    pub copies: Found,
    /// Pairs over the same corners that face opposite ways and enclose nothing.
    pub n_back_to_back: usize,
    /// The surface was two-sided all over: one side was kept instead.
    pub one_side_kept: bool,
}

/// Drops triangles with a corner twice, needless ones without area, copies, and pairs back to back.
pub(super) fn drop_doubles(surface: &mut Surface, leave_out: LeftOut) -> Dropped {
    let mut dropped = Dropped::default();
    let n = surface.triangles.len();
    let mut stays = vec![true; n];
    for (index, stays) in stays.iter_mut().enumerate() {
        if surface.lacks_corner(index) {
            *stays = false;
            dropped.without_area.add(|| surface.middle_mm(index));
        }
    }
    // Copies: triangles over the same three points.
    let mut order: Vec<([u32; 3], bool, u32)> = (0..n)
        .filter(|&index| stays[index])
        .map(|index| {
            let t = surface.triangles[index];
            let mut sorted = t;
            sorted.sort_unstable();
            let least = (0..3).min_by_key(|&i| t[i]).unwrap_or(0);
            (sorted, t[(least + 1) % 3] < t[(least + 2) % 3], index as u32)
        })
        .collect();
    order.sort_unstable();
    let (keeps_copies, keeps_pairs) = (leave_out.has(Step::Duplicates), leave_out.has(Step::BackToBack));
    let mut back_to_back = Vec::new();
    for same in order.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() > 1) {
        let mut side = |faces: bool| {
            let mut of_side = same.iter().filter(|entry| entry.1 == faces).map(|entry| entry.2 as usize);
            let first = of_side.next();
            for copy in of_side.filter(|_| !keeps_copies) {
                stays[copy] = false;
                dropped.copies.add(|| surface.middle_mm(copy));
            }
            first
        };
        if let (Some(front), Some(back)) = (side(true), side(false))
            && !keeps_pairs
        {
            back_to_back.push((front, back));
        }
    }
    let n_kept = stays.iter().filter(|&&stays| stays).count();
    dropped.n_back_to_back = back_to_back.len();
    dropped.one_side_kept = !back_to_back.is_empty() && 4 * back_to_back.len() > n_kept;
    for (front, back) in back_to_back {
        // Cloth modelled from both sides keeps the side that comes first in the file.
        stays[front.max(back)] = false;
        stays[front.min(back)] = dropped.one_side_kept;
    }
    surface.keep(&stays);
    drop_needless(surface, &mut dropped);
    dropped
}

/// Drops triangles without area whose edges pair up as well or better without them.
fn drop_needless(surface: &mut Surface, dropped: &mut Dropped) {
    let flat: Vec<usize> = (0..surface.triangles.len())
        .filter(|&index| vec3::dot(surface.cross(index), surface.cross(index)) == 0.0)
        .collect();
    if flat.is_empty() {
        return;
    }
    let mut excess: QuickMap<u64, (i32, i32)> = QuickMap::default();
    let sides = |t: [u32; 3]| [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])];
    for (a, b) in surface.triangles.iter().flat_map(|&t| sides(t)) {
        let entry = excess.entry(edge_key(a, b)).or_default();
        entry.0 += if a < b { 1 } else { -1 };
        entry.1 += 1;
    }
    let mut stays = vec![true; surface.triangles.len()];
    for index in flat {
        // An edge used by one or two triangles is as it should be; a third use is one too many.
        let edges = sides(surface.triangles[index]);
        let is_needless = edges.iter().all(|&(a, b)| excess[&edge_key(a, b)].1 != 2)
            || edges.iter().filter(|&&(a, b)| excess[&edge_key(a, b)].0 != 0).count() >= 2;
        if !is_needless {
            continue;
        }
        for (a, b) in edges {
            let entry = excess.entry(edge_key(a, b)).or_default();
            entry.0 -= if a < b { 1 } else { -1 };
            entry.1 -= 1;
        }
        stays[index] = false;
        dropped.without_area.add(|| surface.middle_mm(index));
    }
    surface.keep(&stays);
}
