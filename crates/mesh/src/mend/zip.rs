//! Zipping rims together: two that run side by side get a strip between them, others a patch each.
//!
//! Side by side: each is the other's nearest, and closer than they are wide. The rim of a hat's head and
//! that of the lining it gets are 8 mm apart and 420 mm long; patched, they would close the hat below.

use super::patch;
use crate::vec3;

/// Rims lie side by side within this share of the shorter one's length (own choice: a sixth of the width of
/// a round one).
const BESIDE: f64 = 0.05;

/// Triangles that close the rims; two are zipped where each is the other's nearest and on the mean they
/// lie within `reach_mm`, or side by side.
pub(super) fn close(rims: &[Vec<u32>], at_mm: &dyn Fn(u32) -> [f64; 3], reach_mm: f64) -> Vec<[u32; 3]> {
    /// With more rims than this each gets a patch: they are rags, and asking all pairs takes long.
    const MOST: usize = 200;
    let places: Vec<Vec<[f64; 3]>> = rims.iter().map(|rim| rim.iter().map(|&p| at_mm(p)).collect()).collect();
    let length_mm: Vec<f64> = places.iter().map(|rim| round_mm(rim)).collect();
    let mut nearest: Vec<Option<usize>> = vec![None; rims.len()];
    if rims.len() <= MOST {
        for one in 0..rims.len() {
            let away = |other: usize| {
                mean_mm(&places[one], &places[other]).max(mean_mm(&places[other], &places[one]))
            };
            let others = (0..rims.len()).filter(|&other| other != one).map(|other| (away(other), other));
            let least = others.min_by(|a, b| a.0.total_cmp(&b.0));
            let reach_mm = |other: usize| reach_mm.max(BESIDE * length_mm[one].min(length_mm[other]));
            nearest[one] = least.filter(|least| least.0 <= reach_mm(least.1)).map(|least| least.1);
        }
    }
    let mut triangles = Vec::new();
    for one in 0..rims.len() {
        match nearest[one].filter(|&other| nearest[other] == Some(one)) {
            Some(other) if one < other => zip(&rims[one], &rims[other], at_mm, &mut triangles),
            Some(_) => {}
            None => {
                let laid = patch::least_area(&places[one], &|_, _| false);
                triangles.extend(laid.into_iter().map(|t| t.map(|i| rims[one][i])));
            }
        }
    }
    triangles
}

/// The way once round.
fn round_mm(rim: &[[f64; 3]]) -> f64 {
    rim.iter().zip(rim.iter().cycle().skip(1)).map(|(a, b)| vec3::length(vec3::sub(*b, *a))).sum()
}

/// The mean way from the points of one chain to the nearest of another.
fn mean_mm(from: &[[f64; 3]], to: &[[f64; 3]]) -> f64 {
    let nearest = |p: &[f64; 3]| to.iter().map(|q| vec3::length(vec3::sub(*p, *q))).fold(f64::MAX, f64::min);
    from.iter().map(nearest).sum::<f64>() / from.len() as f64
}

/// A strip between two rims, each in the direction in which a patch would run it: always the shorter of
/// the two next rungs.
fn zip(one: &[u32], other: &[u32], at_mm: &dyn Fn(u32) -> [f64; 3], triangles: &mut Vec<[u32; 3]>) {
    let away = |a: u32, b: u32| vec3::length(vec3::sub(at_mm(a), at_mm(b)));
    let back: Vec<u32> = other.iter().rev().copied().collect();
    let (n, m) = (one.len(), back.len());
    let all = (0..n).flat_map(|i| (0..m).map(move |j| (i, j)));
    let start = all.min_by(|&(i, j), &(k, l)| away(one[i], back[j]).total_cmp(&away(one[k], back[l])));
    let (from, to) = start.unwrap_or((0, 0));
    let (mut i, mut j) = (0, 0);
    while i < n || j < m {
        let (a, b) = (one[(from + i) % n], back[(to + j) % m]);
        let (next_a, next_b) = (one[(from + i + 1) % n], back[(to + j + 1) % m]);
        if j >= m || (i < n && away(next_a, b) <= away(a, next_b)) {
            triangles.push([a, next_a, b]);
            i += 1;
        } else {
            triangles.push([a, next_b, b]);
            j += 1;
        }
    }
}
