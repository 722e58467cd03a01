//! A triangle as pieces small enough to count as points.
//!
//! How: strips along the longest side, each cut evenly; so that a needle of a triangle becomes few
//! pieces. Areas and places sum to those of the triangle exactly.

use super::cells::Piece;
use crate::vec3;

/// Cuts a triangle whose sides may be longer than `side_mm`; `normals` are those at its corners.
/// `pieces` is emptied first; the piece nearest to each corner is told by its index.
pub(crate) fn cut(
    corners_mm: [[f64; 3]; 3],
    normals: [[f64; 3]; 3],
    triangle: u32,
    side_mm: f64,
    pieces: &mut Vec<Piece>,
) -> [usize; 3] {
    pieces.clear();
    let length = |i: usize| vec3::length(vec3::sub(corners_mm[(i + 1) % 3], corners_mm[i]));
    let base = (1..3).fold(0, |longest, i| if length(i) > length(longest) { i } else { longest });
    let base_mm = length(base);
    let [a, b, c] = [base, (base + 1) % 3, (base + 2) % 3];
    let doubled =
        vec3::cross(vec3::sub(corners_mm[b], corners_mm[a]), vec3::sub(corners_mm[c], corners_mm[a]));
    let area_mm2 = vec3::length(doubled) / 2.0;
    let n_strips = (2.0 * area_mm2 / base_mm / side_mm).ceil().max(1.0) as usize;
    let mut nearest = [(0, f64::INFINITY); 3];
    for strip in 0..n_strips {
        // Heights over the base as shares of the triangle's; the strip is 1 - h wide.
        let (low, high) = (strip as f64 / n_strips as f64, (strip + 1) as f64 / n_strips as f64);
        let width = |h: f64| h - h * h / 2.0;
        let moment = |h: f64| h * h / 2.0 - h * h * h / 3.0;
        let size = width(high) - width(low);
        let middle = (moment(high) - moment(low)) / size;
        let n_along = (base_mm * (1.0 - middle) / side_mm).ceil().max(1.0) as usize;
        for along in 0..n_along {
            let share = (along as f64 + 0.5) / n_along as f64;
            let mut weights = [0.0; 3];
            weights[a] = (1.0 - middle) * (1.0 - share);
            weights[b] = (1.0 - middle) * share;
            weights[c] = middle;
            let mixed = |of: &[[f64; 3]; 3]| -> [f64; 3] {
                std::array::from_fn(|i| (0..3).map(|k| weights[k] * of[k][i]).sum())
            };
            let normal = vec3::unit(mixed(&normals)).unwrap_or(normals[a]);
            let (place_mm, area_mm2) = (mixed(&corners_mm), 2.0 * area_mm2 * size / n_along as f64);
            for corner in 0..3 {
                let line = vec3::sub(place_mm, corners_mm[corner]);
                let away2 = vec3::dot(line, line);
                if away2 < nearest[corner].1 {
                    nearest[corner] = (pieces.len(), away2);
                }
            }
            pieces.push(Piece { place_mm, normal, area_mm2, triangle });
        }
    }
    nearest.map(|(piece, _)| piece)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_sum_to_the_triangle_and_are_small() {
        for corners in [
            [[0.0, 0.0, 0.0], [31.0, 0.0, 0.0], [11.0, 17.0, 3.0]],
            [[0.0, 0.0, 0.0], [0.1, 90.0, 0.0], [0.3, 0.0, 0.2]],
            [[5.0, 1.0, 2.0], [5.5, 1.0, 2.0], [5.0, 1.5, 2.0]],
        ] {
            let mut pieces = Vec::new();
            let nearest = cut(corners, [[0.0, 0.0, 1.0]; 3], 7, 2.0, &mut pieces);
            let cross = vec3::cross(vec3::sub(corners[1], corners[0]), vec3::sub(corners[2], corners[0]));
            let whole = vec3::length(cross) / 2.0;
            let area: f64 = pieces.iter().map(|p| p.area_mm2).sum();
            assert!((area - whole).abs() < 1e-9 * whole);
            for axis in 0..3 {
                let moment: f64 = pieces.iter().map(|p| p.area_mm2 * p.place_mm[axis]).sum();
                let middle = corners.iter().map(|c| c[axis]).sum::<f64>() / 3.0;
                assert!((moment / whole - middle).abs() < 1e-9, "axis {axis}");
            }
            assert!(pieces.len() as f64 <= 2.0 + whole + 60.0, "{} pieces", pieces.len());
            for (corner, &piece) in nearest.iter().enumerate() {
                let away = |p: &Piece| vec3::length(vec3::sub(p.place_mm, corners[corner]));
                assert!(pieces.iter().all(|p| away(&pieces[piece]) <= away(p) + 2.0));
            }
        }
    }
}
