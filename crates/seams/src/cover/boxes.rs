//! Covers: boxes of a bed's size, each in a rotation of its own, that hold all points of an item together.
//!
//! How: greedily. Each box is the one of many drawn that holds most points not held yet; boxes are set against what
//! is left from outside, into a corner of its extents. Drawn anew each cover is another.
//! Not here: how few boxes there can be at least (`bound.rs`).

use crate::draw::Draw;
use crate::frames::{self, Frame};
use seamwright_mesh::vec3;

/// Rotations drawn for each box (ours).
const N_TURNS: usize = 60;

/// A box in some rotation: its extents along the axes of a frame.
#[derive(Debug, Clone)]
pub struct Placed {
    frame: Frame,
    low: [f64; 3],
    high: [f64; 3],
}

impl Placed {
    /// How far a point lies outside it along its axes; 0 where it does not.
    pub fn lack_mm(&self, p: [f64; 3]) -> f64 {
        let at = along(&self.frame, p);
        let lack = |k: usize| (self.low[k] - at[k]).max(at[k] - self.high[k]);
        (0..3).map(lack).fold(0.0, f64::max)
    }
}

fn along(frame: &Frame, p: [f64; 3]) -> [f64; 3] {
    frame.map(|axis| vec3::dot(axis, p))
}

/// The axes of a frame in another order.
const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

/// Boxes of these sizes that hold all points; `None` where that takes more than `most` of those drawn.
pub fn cover(
    points_mm: &[[f64; 3]],
    sizes_mm: &[[f64; 3]],
    own: Frame,
    most: usize,
    draw: &mut Draw,
) -> Option<Vec<Placed>> {
    let mut left = points_mm.to_vec();
    let mut boxes = Vec::new();
    while !left.is_empty() {
        if boxes.len() == most {
            return None;
        }
        let best = (0..N_TURNS).map(|_| best_corner(&left, sizes_mm, own, draw)).max_by_key(|(n, _)| *n);
        let (_, placed) = best?;
        left.retain(|&p| placed.lack_mm(p) > 0.0);
        boxes.push(placed);
    }
    Some(boxes)
}

/// A box in a drawn rotation, in the corner of the extents of points where it holds most of them, and how many.
fn best_corner(
    points_mm: &[[f64; 3]],
    sizes_mm: &[[f64; 3]],
    own: Frame,
    draw: &mut Draw,
) -> (usize, Placed) {
    // One in three stands along an axis of the item or its own frame; the others lie anyhow.
    let frame = match draw.below(6) {
        0 => frames::AXES,
        1 => own,
        _ => {
            let axis = frames::drawn(draw);
            let (u, v) = vec3::frame_of(axis);
            frames::turned([axis, u, v], draw.unit() * std::f64::consts::TAU)
        }
    };
    let frame = ORDERS[draw.below(6)].map(|axis| frame[axis]);
    let size_mm = sizes_mm[draw.below(sizes_mm.len())];
    let seen: Vec<[f64; 3]> = points_mm.iter().map(|&p| along(&frame, p)).collect();
    let fold = |pick: fn(f64, f64) -> f64, from: f64| -> [f64; 3] {
        seen.iter().fold([from; 3], |ends, p| [0, 1, 2].map(|k| pick(ends[k], p[k])))
    };
    let (least, greatest) = (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY));
    let corners = (0..8_usize).map(|corner| {
        let low: [f64; 3] = std::array::from_fn(|k| {
            if corner >> k & 1 == 0 { least[k] } else { (greatest[k] - size_mm[k]).max(least[k]) }
        });
        let high: [f64; 3] = std::array::from_fn(|k| low[k] + size_mm[k]);
        let is_in = |p: &&[f64; 3]| (0..3).all(|k| low[k] <= p[k] && p[k] <= high[k]);
        (seen.iter().filter(is_in).count(), Placed { frame, low, high })
    });
    // Eight corners, so there is one.
    let none = (0, Placed { frame, low: least, high: least });
    corners.fold(none, |best, corner| if corner.0 > best.0 { corner } else { best })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_of_points_is_held_by_as_few_boxes_as_its_length_asks_for() {
        let points: Vec<[f64; 3]> = (0..=500).map(|x| [f64::from(x), 0.0, 0.0]).collect();
        let boxes =
            cover(&points, &[[100.0; 3]], frames::AXES, 9, &mut Draw::new(1, 0)).expect("it is 500 mm long");
        assert!((4..=6).contains(&boxes.len()), "{}: the diagonal of a box is 173 mm", boxes.len());
        let is_held = |p: &[f64; 3]| boxes.iter().any(|held| held.lack_mm(*p) <= 1e-9);
        assert!(points.iter().all(is_held));
        assert!(cover(&points, &[[100.0; 3]], frames::AXES, 2, &mut Draw::new(1, 0)).is_none());
    }
}
