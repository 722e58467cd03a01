//! The thinnest place of a contact patch, measured straight across.
//!
//! How: from places along its skin side a ray goes into the patch, square to the boundary, to the
//! first boundary it meets; it counts where that is skin too and runs the other way within 30
//! degrees. So the corner of a box is no thin wall, nor the wedge between skin and another cut; a
//! feather edge is.
//! Units: mm, in the plane of the cut.

/// Places looked at on one patch, so that a long line costs no more than a short one twice over.
const MAX_PLACES: f64 = 400.0;

/// Sides shorter than this have no direction to trust (40 grid steps).
const SHORT_MM: f64 = 0.01;

/// Cosine of the 30 degrees by which the two skins of a wall may be out of parallel.
const FACING_COS: f64 = 0.866;

/// One straight part of the boundary of a patch, with the patch on its left.
#[derive(Debug, Clone, Copy)]
pub struct WallSide {
    /// Where it starts and ends.
    pub ends_mm: [[f64; 2]; 2],
    /// Whether it lies on the item's skin.
    pub on_skin: bool,
}

/// The least distance from skin to skin across a patch with this whole boundary. `None` where no
/// skin faces another.
pub fn min_wall_mm(boundary: &[WallSide]) -> Option<f64> {
    let from: Vec<[[f64; 2]; 2]> = boundary.iter().filter(|s| s.on_skin).map(|s| s.ends_mm).collect();
    let total_mm: f64 = from.iter().map(|side| length_mm(*side)).sum();
    let spacing_mm = (total_mm / MAX_PLACES).max(1.0);
    let mut since_mm = spacing_mm;
    let mut least_mm: Option<f64> = None;
    for side in from {
        since_mm += length_mm(side);
        if since_mm < spacing_mm || length_mm(side) < SHORT_MM {
            continue;
        }
        since_mm = 0.0;
        if let Some(across_mm) = across_mm(side, boundary) {
            least_mm = Some(least_mm.map_or(across_mm, |least: f64| least.min(across_mm)));
        }
    }
    least_mm
}

fn across_mm(side: [[f64; 2]; 2], boundary: &[WallSide]) -> Option<f64> {
    let along = direction(side)?;
    let inward = [-along[1], along[0]];
    let middle = [0.5 * (side[0][0] + side[1][0]), 0.5 * (side[0][1] + side[1][1])];
    let mut nearest: Option<(f64, f64)> = None;
    for &WallSide { ends_mm: [a, b], on_skin } in boundary {
        let (to_a, to_b) = ([a[0] - middle[0], a[1] - middle[1]], [b[0] - middle[0], b[1] - middle[1]]);
        let (left, right) = (dot(to_a, along), dot(to_b, along));
        if (left < 0.0) == (right < 0.0) {
            continue;
        }
        let share = left / (left - right);
        let depth_mm = dot(to_a, inward) * (1.0 - share) + dot(to_b, inward) * share;
        // The side itself lies at depth zero.
        if depth_mm > 1e-3 && nearest.is_none_or(|(best_mm, _)| depth_mm < best_mm) {
            let facing = direction([a, b]).map_or(0.0, |other| -dot(other, along));
            nearest = Some((depth_mm, if on_skin { facing } else { 0.0 }));
        }
    }
    nearest.filter(|&(_, facing)| facing > FACING_COS).map(|(depth_mm, _)| depth_mm)
}

fn direction(side: [[f64; 2]; 2]) -> Option<[f64; 2]> {
    let length_mm = length_mm(side);
    (length_mm > 0.0).then(|| [(side[1][0] - side[0][0]) / length_mm, (side[1][1] - side[0][1]) / length_mm])
}

fn length_mm([a, b]: [[f64; 2]; 2]) -> f64 {
    libm::hypot(b[0] - a[0], b[1] - a[1])
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boundary(points: &[[f64; 2]]) -> Vec<WallSide> {
        let side =
            |i: usize| WallSide { ends_mm: [points[i], points[(i + 1) % points.len()]], on_skin: true };
        (0..points.len()).map(side).collect()
    }

    fn thinnest(points: &[[f64; 2]]) -> Option<f64> {
        min_wall_mm(&boundary(points))
    }

    #[test]
    fn the_thinnest_place_of_a_strip_is_its_width() {
        let found = thinnest(&[[0.0, 0.0], [30.0, 0.0], [30.0, 4.0], [0.0, 4.0]]).unwrap();
        assert!((found - 4.0).abs() < 1e-12);
    }

    #[test]
    fn sides_more_than_30_degrees_out_of_parallel_face_nothing() {
        // An equilateral triangle: 60 degrees everywhere.
        assert_eq!(thinnest(&[[0.0, 0.0], [10.0, 0.0], [5.0, 8.66]]), None);
    }

    #[test]
    fn another_cut_is_no_wall() {
        let mut strip = boundary(&[[0.0, 0.0], [30.0, 0.0], [30.0, 4.0], [0.0, 4.0]]);
        strip[2].on_skin = false;
        assert_eq!(min_wall_mm(&strip), Some(30.0));
    }

    #[test]
    fn a_feather_edge_is_thin() {
        // A wedge of 1 : 10, asked in the middle of its long side.
        let found = thinnest(&[[0.0, 0.0], [50.0, 0.0], [50.0, 5.0]]).unwrap();
        assert!((found - 2.5).abs() < 0.1, "{found}");
    }
}
