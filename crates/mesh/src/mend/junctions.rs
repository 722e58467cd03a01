//! T-junctions: an open edge that runs past points of other open edges is split at them.
//!
//! How: a point splits an edge where it lies within the tolerance of its inside and at least one of
//! the parts then meets another open edge; the triangle becomes a fan. Repeated, since parts of long
//! edges may be split again.

use super::surface::{Cells, Surface, excess};
use crate::edges::{self, EdgeUse, QuickSet, edge_key};
use crate::flaws::Found;
use crate::grid::STEPS_PER_MM;
use crate::vec3;

/// A point this close to an edge lies on it: a tenth of the finest layer (own choice).
const NEAR_MM: f64 = 0.01;
/// Rounds of splitting.
const ROUNDS: usize = 8;

/// Splits open edges at points on them that lie within `tolerance_mm`, at least a hundredth of a mm; gives
/// the edges split.
pub(super) fn close_junctions(surface: &mut Surface, tolerance_mm: f64) -> Found {
    let near_mm = tolerance_mm.max(NEAR_MM);
    let mut split = Found::default();
    for _ in 0..ROUNDS {
        let uses = surface.edge_uses();
        let open: Vec<EdgeUse> = edges::runs(&uses)
            .filter(|run| excess(run, &surface.triangles) != 0 && run.len() == 1)
            .map(|run| run[0])
            .collect();
        if !pass(surface, &open, near_mm, &mut split) {
            break;
        }
    }
    split
}

fn pass(surface: &mut Surface, open: &[EdgeUse], near_mm: f64, split: &mut Found) -> bool {
    let mut ends: Vec<u32> = open.iter().flat_map(|edge| [edge.low(), edge.high()]).collect();
    ends.sort_unstable();
    ends.dedup();
    let total_mm: f64 = open.iter().map(|edge| surface.edge_length_mm(edge)).sum();
    let cell_steps = (total_mm / open.len().max(1) as f64 * STEPS_PER_MM).max(1.0) as i64;
    let cells = Cells::new(&surface.points, &ends, cell_steps);
    let keys: QuickSet<u64> = open.iter().map(EdgeUse::key).collect();
    let mut busy: QuickSet<u32> = QuickSet::default();
    let mut changed = false;
    for edge in open {
        let on_edge = points_on(surface, &cells, &ends, edge, near_mm);
        let triangle = edge.triangle();
        if on_edge.is_empty() || busy.contains(&(triangle as u32)) {
            continue;
        }
        let t = surface.triangles[triangle];
        let (a, b, c) = (t[edge.corner()], t[(edge.corner() + 1) % 3], t[(edge.corner() + 2) % 3]);
        let mut chain: Vec<u32> = on_edge;
        if edge.low() != a {
            chain.reverse();
        }
        chain.retain(|&point| point != c);
        let mut whole = vec![a];
        whole.append(&mut chain);
        whole.push(b);
        if !whole.windows(2).any(|part| keys.contains(&edge_key(part[0], part[1]))) || whole.len() < 3 {
            continue;
        }
        busy.insert(triangle as u32);
        split.add(|| surface.at_mm(whole[1]));
        let made = surface.made[triangle];
        surface.triangles[triangle] = [whole[0], whole[1], c];
        for part in whole.windows(2).skip(1) {
            surface.triangles.push([part[0], part[1], c]);
            surface.made.push(made);
        }
        changed = true;
    }
    changed
}

/// Ends of open edges inside an edge, in order from its lower point.
fn points_on(surface: &Surface, cells: &Cells, ends: &[u32], edge: &EdgeUse, near_mm: f64) -> Vec<u32> {
    let (from, to) = (surface.points[edge.low() as usize], surface.points[edge.high() as usize]);
    let reach = (near_mm * STEPS_PER_MM).ceil() as i32;
    let low = std::array::from_fn(|i| from[i].min(to[i]) - reach);
    let high = std::array::from_fn(|i| from[i].max(to[i]) + reach);
    let (a, b) = (surface.at_mm(edge.low()), surface.at_mm(edge.high()));
    let along = vec3::sub(b, a);
    let squared = vec3::dot(along, along);
    let place = |point: u32| {
        let out = vec3::sub(surface.at_mm(point), a);
        let t = vec3::dot(out, along) / squared;
        let off_mm = vec3::length(vec3::sub(out, vec3::scale(along, t)));
        let inside_mm = t.min(1.0 - t) * squared.sqrt();
        (off_mm <= near_mm && inside_mm > near_mm && point != edge.low() && point != edge.high())
            .then_some((t, point))
    };
    let mut found: Vec<(f64, u32)> = if cells.n_cells(low, high) > 64 + ends.len() as u64 {
        ends.iter().copied().filter_map(place).collect()
    } else {
        cells.in_box(low, high).filter_map(place).collect()
    };
    found.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
    found.dedup_by_key(|entry| entry.1);
    found.into_iter().map(|(_, point)| point).collect()
}
