//! The plain grid: equal cells along three axes, the plan any maker would start from.
//!
//! Every other plan must be at least as good. Cells are no larger than the usable volume (of a
//! round bed the box inscribed in its circle), fewest over the six ways round, counted by lumps,
//! ties by shorter line.
//! Also serves with other frames than the item's axes, as a seed of the search.

use crate::estimate;
use crate::frames::Frame;
use crate::partition::{Part, Partition};
use seamwright_bed::Bed;
use seamwright_mesh::{Plane, Solid, vec3};

/// Rounding must not turn a length of exactly n cells into n + 1, in mm.
const ROUNDING_MM: f64 = 1e-6;

/// Cells along each axis of a frame, one entry a distinct way round.
pub fn cell_counts(points_mm: &[[f64; 3]], frame: &Frame, beds: &[Bed]) -> Vec<[usize; 3]> {
    let extents = estimate::extents(points_mm, frame);
    let mut counts: Vec<[usize; 3]> = Vec::new();
    for size in estimate::boxes_of(beds) {
        let n: [usize; 3] =
            std::array::from_fn(|i| ((extents[i] - ROUNDING_MM) / size[i]).ceil().max(1.0) as usize);
        if !counts.contains(&n) {
            counts.push(n);
        }
    }
    counts
}

/// Planes that cut the extents of `points_mm` into equal cells.
pub fn planes(points_mm: &[[f64; 3]], frame: &Frame, cells: [usize; 3]) -> Vec<Plane> {
    let mut planes = Vec::new();
    for (axis, &normal) in frame.iter().enumerate() {
        let along = points_mm.iter().map(|&p| vec3::dot(normal, p));
        let (low, high) = along.fold((f64::MAX, f64::MIN), |(l, h), d| (l.min(d), h.max(d)));
        for k in 1..cells[axis] {
            let offset_mm = low + (high - low) * k as f64 / cells[axis] as f64;
            planes.push(Plane { normal, offset_mm });
        }
    }
    planes
}

/// Cuts every piece by each plane in turn.
pub fn cut_all(mut partition: Partition, planes: &[Plane], look: &dyn Fn(Solid) -> Part) -> Partition {
    for plane in planes {
        // One nudge for all pieces of the plane, so that they stay one plane.
        for piece in partition.pieces() {
            let _ = partition.cut_near(piece, *plane, look);
        }
    }
    partition
}
