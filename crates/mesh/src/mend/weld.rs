//! Welding: points of open edges that should be one are joined, within a tolerance that is found.
//!
//! How: only points that end an open edge are candidates, so fine detail elsewhere stays. Tolerances
//! are tried in a ladder, each twice the one before, up to a quarter of the shorter open edges; the
//! one that leaves the fewest open edges is taken, the smallest of equals. A triangle that would
//! lose a corner counts against a tolerance like three open edges.
//! Units: grid steps. Cost: one sort of the edges beside holes for each of about a dozen tolerances.

use super::surface::{Cells, Surface, excess};
use crate::edges::{self, Joined};
use crate::flaws::Found;
use crate::grid::STEPS_PER_MM;

/// The widest gap that is closed by joining points: 1 mm. Wider ones are holes (own choice).
const WIDEST_STEPS: i64 = 4096;

/// What welding did.
pub(super) struct Welded {
    /// Points this close were joined.
    pub tolerance_mm: f64,
    /// Points that were joined to another.
    pub points: Found,
}

/// Joins points of open edges; `None` where no tolerance leaves fewer of them.
pub(super) fn weld(surface: &mut Surface) -> Option<Welded> {
    let uses = surface.edge_uses();
    let mut is_open = vec![false; surface.points.len()];
    let mut lengths_mm = Vec::new();
    for run in edges::runs(&uses).filter(|run| excess(run, &surface.triangles) != 0) {
        is_open[run[0].low() as usize] = true;
        is_open[run[0].high() as usize] = true;
        lengths_mm.push(surface.edge_length_mm(&run[0]));
    }
    if lengths_mm.is_empty() {
        return None;
    }
    lengths_mm.sort_by(f64::total_cmp);
    let shorter_mm = lengths_mm[lengths_mm.len() / 10];
    let widest = ((shorter_mm / 4.0 * STEPS_PER_MM) as i64).min(WIDEST_STEPS);
    let open: Vec<u32> = (0..surface.points.len() as u32).filter(|&p| is_open[p as usize]).collect();
    let beside: Vec<[u32; 3]> = surface
        .triangles
        .iter()
        .filter(|t| t.iter().filter(|&&p| is_open[p as usize]).count() >= 2)
        .copied()
        .collect();
    let mut best: Option<(i64, Vec<u32>)> = None;
    let mut fewest = cost(&beside, &is_open, |p| p);
    let mut tolerance = 2;
    while tolerance <= widest && fewest > 0 {
        let names = clusters(surface, &open, tolerance);
        let left = cost(&beside, &is_open, |p| names[p as usize]);
        if left < fewest {
            fewest = left;
            best = Some((tolerance, names));
        }
        tolerance *= 2;
    }
    let (tolerance, names) = best?;
    let mut points = Found::default();
    for p in open.into_iter().filter(|&p| names[p as usize] != p) {
        points.add(|| surface.at_mm(p));
    }
    surface.triangles.iter_mut().flatten().for_each(|p| *p = names[*p as usize]);
    Some(Welded { tolerance_mm: tolerance as f64 / STEPS_PER_MM, points })
}

/// Open edges left between open points under new names, and three for each triangle lost.
fn cost(beside: &[[u32; 3]], is_open: &[bool], name: impl Fn(u32) -> u32) -> usize {
    let mut kept = Vec::with_capacity(beside.len());
    let mut n_lost = 0;
    for t in beside {
        let [a, b, c] = t.map(&name);
        if a == b || b == c || c == a {
            n_lost += 1;
        } else {
            kept.push([a, b, c]);
        }
    }
    let uses = edges::edge_uses(&kept);
    let both_open =
        |run: &&[edges::EdgeUse]| is_open[run[0].low() as usize] && is_open[run[0].high() as usize];
    let n_open = edges::runs(&uses).filter(both_open).filter(|run| excess(run, &kept) != 0).count();
    n_open + 3 * n_lost
}

/// Per point the name it takes when open points within `tolerance` steps are one: the first of them.
fn clusters(surface: &Surface, open: &[u32], tolerance: i64) -> Vec<u32> {
    let cells = Cells::new(&surface.points, open, tolerance.max(64));
    let mut joined = Joined::new(surface.points.len());
    for &point in open {
        let at = surface.points[point as usize];
        let reach = tolerance as i32;
        for other in cells.in_box(at.map(|x| x - reach), at.map(|x| x + reach)) {
            let away = surface.points[other as usize];
            let squared: i64 = (0..3).map(|i| i64::from(away[i] - at[i]).pow(2)).sum();
            if other > point && squared <= tolerance * tolerance {
                joined.join(point, other);
            }
        }
    }
    (0..surface.points.len() as u32).map(|p| joined.find(p)).collect()
}
