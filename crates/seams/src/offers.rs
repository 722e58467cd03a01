//! Planes worth cutting, found by sweeps: of each direction the few best, of all directions the best
//! that differ.
//!
//! How: the range of offsets is taken in slots; each is looked at where its line costs least and at its
//! border, so that neither the best seam nor the tightest fit is passed by. A plane counts by what the
//! lumps on both sides would need and by what its line costs.
//! Not here: the cut itself (`beam.rs`).

use crate::beam::Settings;
use crate::estimate::Need;
use crate::sweep::{Lump, Stop, Sweep};
use seamwright_mesh::{Plane, vec3};

/// A thin slice is hard to handle and wastes a cut, in mm (common practice, no source).
const LEAST_SLICE_MM: f64 = 15.0;

/// A plane and what its cut is thought to leave to do, in pieces.
#[derive(Debug, Clone)]
pub struct Offer {
    /// The plane.
    pub plane: Plane,
    /// Pieces both sides need, with excess and line; the less the better.
    pub score: f64,
}

/// The best planes of one direction that are wanted: its best, and its best elsewhere; and how many planes were
/// looked at.
pub fn along(
    sweep: &Sweep<'_>,
    normal: [f64; 3],
    settings: &Settings,
    boxes: &[[f64; 3]],
    girth_mm: f64,
    is_wanted: &dyn Fn(&Plane) -> bool,
) -> (Vec<Offer>, u64) {
    let [lowest, highest] = sweep.ends_mm();
    let (low, high) = (lowest + LEAST_SLICE_MM, highest - LEAST_SLICE_MM);
    if high <= low {
        return (Vec::new(), 0);
    }
    let profile = sweep.profile();
    let slot_mm = (high - low) / settings.n_slots as f64;
    let mut offsets_mm: Vec<f64> = (0..=settings.n_slots).map(|k| low + slot_mm * k as f64).collect();
    for slot in 0..settings.n_slots {
        let from = low + slot_mm * slot as f64;
        offsets_mm.extend(profile.minima_mm(from, from + slot_mm).first());
    }
    let own = settings.planes.iter().filter(|plane| vec3::dot(plane.normal, normal).abs() > 1.0 - 1e-9);
    let just = own.map(|plane| plane.offset_mm * vec3::dot(plane.normal, normal).signum());
    offsets_mm.extend(just.filter(|&mm| low < mm && mm < high));
    offsets_mm.sort_by(f64::total_cmp);
    offsets_mm.dedup();
    let score = |stop: &Stop| {
        let needs: f64 = stop.sides.iter().flatten().map(|lump| worth(&lump.need(boxes), settings)).sum();
        needs + settings.section_weight * stop.cost_mm / girth_mm
    };
    let volume_mm3 = |side: &[Lump]| side.iter().map(|lump| lump.volume_mm3).sum::<f64>();
    let mut row: Vec<Offer> = sweep
        .stops(&offsets_mm)
        .iter()
        .filter(|stop| is_wanted(&Plane { normal, offset_mm: stop.offset_mm }))
        .filter(|stop| {
            let [below, above] = [0, 1].map(|side| volume_mm3(&stop.sides[side]));
            below.min(above) >= settings.least_share * (below + above)
        })
        .map(|stop| Offer { plane: Plane { normal, offset_mm: stop.offset_mm }, score: score(stop) })
        .collect();
    row.sort_by(|a, b| a.score.total_cmp(&b.score));
    let apart_mm = 0.15 * (highest - lowest);
    let n_looked_at = offsets_mm.len() as u64;
    let Some(best_mm) = row.first().map(|offer| offer.plane.offset_mm) else {
        return (Vec::new(), n_looked_at);
    };
    let other = row.iter().position(|offer| (offer.plane.offset_mm - best_mm).abs() > apart_mm);
    (std::iter::once(0).chain(other).map(|i| row[i].clone()).collect(), n_looked_at)
}

/// The most promising planes of all directions, best first, no two nearly the same.
pub fn chosen(mut found: Vec<Offer>, n: usize) -> Vec<Offer> {
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    let mut chosen: Vec<Offer> = Vec::new();
    for offer in found {
        // About 15 degrees and 12 mm: nearer planes leave the same parts.
        let near = |other: &Offer| {
            let (a, b) = (&other.plane, &offer.plane);
            let along = vec3::dot(a.normal, b.normal);
            along.abs() > 0.965 && (a.offset_mm - b.offset_mm * along.signum()).abs() < 12.0
        };
        if chosen.len() < n && !chosen.iter().any(near) {
            chosen.push(offer);
        }
    }
    chosen
}

/// A need in pieces, with what is too large.
pub fn worth(need: &Need, settings: &Settings) -> f64 {
    need.pieces + settings.excess_weight * need.excess
}
