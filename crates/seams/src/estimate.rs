//! A quick estimate of how many pieces a part that does not fit will need.
//!
//! How: in each of some frames, boxes of the bed laid side by side over the extents; the fewest
//! over frames, beds and ways round. Also how far the extents exceed one box, so that of two cuts
//! with equal counts the one that leaves less to do is preferred: on shells the count alone lets a
//! search shave slivers.
//! Source: counting boxes as in "Partitioning models into printable parts" (2012),
//! doi:10.1145/2366145.2366148; the excess term is ours.

use crate::frames::Frame;
use seamwright_bed::Bed;
use seamwright_mesh::vec3;

/// What a part that does not fit is thought to need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// Boxes side by side; 1 where it fits in some frame.
    pub pieces: f64,
    /// Volume of the extents beyond one box, in boxes; 0 where it fits.
    pub excess: f64,
}

/// The box sizes beds offer, each in its six ways round.
pub fn boxes_of(beds: &[Bed]) -> Vec<[f64; 3]> {
    let mut boxes: Vec<[f64; 3]> = Vec::new();
    for bed in beds {
        let [x, y, z] = bed.usable().inscribed_box_mm();
        for turned in [[x, y, z], [x, z, y], [y, x, z], [y, z, x], [z, x, y], [z, y, x]] {
            if !boxes.contains(&turned) {
                boxes.push(turned);
            }
        }
    }
    boxes
}

/// Extents of points in a frame, in mm.
pub fn extents(points_mm: &[[f64; 3]], frame: &Frame) -> [f64; 3] {
    frame.map(|axis| width_mm(points_mm, axis))
}

/// Lowest and highest of points along a direction, in mm.
pub fn ends_mm(points_mm: &[[f64; 3]], direction: [f64; 3]) -> [f64; 2] {
    let along = points_mm.iter().map(|&p| vec3::dot(direction, p));
    along.fold([f64::MAX, f64::MIN], |[low, high], c| [low.min(c), high.max(c)])
}

/// Extent of points along a direction, in mm.
pub fn width_mm(points_mm: &[[f64; 3]], direction: [f64; 3]) -> f64 {
    let [low, high] = ends_mm(points_mm, direction);
    (high - low).max(0.0)
}

/// The need of one set of extents, over all boxes.
pub fn need_of(extents_mm: [f64; 3], boxes: &[[f64; 3]]) -> Need {
    let mut best = Need { pieces: f64::MAX, excess: f64::MAX };
    for size in boxes {
        let (mut pieces, mut filled) = (1.0, 1.0);
        for i in 0..3 {
            let share = extents_mm[i] / size[i];
            pieces *= (share - 1e-9).ceil().max(1.0);
            filled *= share.max(1.0);
        }
        let need = Need { pieces, excess: filled - 1.0 };
        if need.pieces + need.excess < best.pieces + best.excess {
            best = need;
        }
    }
    best
}

/// The least need over frames.
pub fn need(points_mm: &[[f64; 3]], frames: &[Frame], boxes: &[[f64; 3]]) -> Need {
    let mut best = Need { pieces: f64::MAX, excess: f64::MAX };
    for frame in frames {
        let found = need_of(extents(points_mm, frame), boxes);
        if found.pieces + found.excess < best.pieces + best.excess {
            best = found;
        }
    }
    best
}
