//! The thinnest place of a contact patch, measured straight across.
//!
//! How: from places along its skin side a ray goes into the patch, square to the boundary, to the
//! first boundary it meets; it counts where that runs the other way within 45 degrees. So the
//! corner of a box is no thin wall, and a feather edge is.
//! Units: mm, in the plane of the cut.

/// Places looked at on one patch, so that a long line costs no more than a short one twice over.
const MAX_PLACES: f64 = 400.0;

/// Sides shorter than this have no direction to trust (40 grid steps).
const SHORT_MM: f64 = 0.01;

/// Cosine of the 45 degrees by which two walls may be out of parallel.
const FACING_COS: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// The least distance across; `loops` is the whole boundary with the patch on its left, `from` the
/// sides to measure from. `None` where nothing faces them.
pub fn min_wall_mm(loops: &[Vec<[f64; 2]>], from: &[[[f64; 2]; 2]]) -> Option<f64> {
    let sides: Vec<[[f64; 2]; 2]> =
        loops.iter().flat_map(|l| (0..l.len()).map(|i| [l[i], l[(i + 1) % l.len()]])).collect();
    let total_mm: f64 = from.iter().map(|side| length_mm(*side)).sum();
    let spacing_mm = (total_mm / MAX_PLACES).max(1.0);
    let mut since_mm = spacing_mm;
    let mut least_mm: Option<f64> = None;
    for &side in from {
        since_mm += length_mm(side);
        if since_mm < spacing_mm || length_mm(side) < SHORT_MM {
            continue;
        }
        since_mm = 0.0;
        if let Some(across_mm) = across_mm(side, &sides) {
            least_mm = Some(least_mm.map_or(across_mm, |least: f64| least.min(across_mm)));
        }
    }
    least_mm
}

fn across_mm(side: [[f64; 2]; 2], sides: &[[[f64; 2]; 2]]) -> Option<f64> {
    let along = direction(side)?;
    let inward = [-along[1], along[0]];
    let middle = [0.5 * (side[0][0] + side[1][0]), 0.5 * (side[0][1] + side[1][1])];
    let mut nearest: Option<(f64, f64)> = None;
    for &[a, b] in sides {
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
            nearest = Some((depth_mm, facing));
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

    fn thinnest(points: &[[f64; 2]]) -> Option<f64> {
        let sides: Vec<_> = (0..points.len()).map(|i| [points[i], points[(i + 1) % points.len()]]).collect();
        min_wall_mm(&[points.to_vec()], &sides)
    }

    #[test]
    fn the_thinnest_place_of_a_strip_is_its_width() {
        let found = thinnest(&[[0.0, 0.0], [30.0, 0.0], [30.0, 4.0], [0.0, 4.0]]).unwrap();
        assert!((found - 4.0).abs() < 1e-12);
    }

    #[test]
    fn sides_more_than_45_degrees_out_of_parallel_face_nothing() {
        // An equilateral triangle: 60 degrees everywhere.
        assert_eq!(thinnest(&[[0.0, 0.0], [10.0, 0.0], [5.0, 8.66]]), None);
    }

    #[test]
    fn a_feather_edge_is_thin() {
        // A wedge of 1 : 10, asked in the middle of its long side.
        let found = thinnest(&[[0.0, 0.0], [50.0, 0.0], [50.0, 5.0]]).unwrap();
        assert!((found - 2.5).abs() < 0.1, "{found}");
    }
}
