//! How much of a visible seam line runs through detail rather than along it.
//!
//! The definition is `contract.md`'s: chords of 1.5 mm along each stretch; where two that follow
//! each other turn by more than 30 degrees, the line within 1.5 mm of that corner is through
//! detail, counted once. A seam along an edge or a hollow runs straight; one over relief climbs.
//! Read here: "within 1.5 mm" is straight distance, and only the same stretch counts for a corner.
//! Units: mm. Cost: linear in the length, but for the look-up of corners near a side.

use std::collections::BTreeMap;

use seamwright_mesh::vec3;

use super::stretch::{Stretch, ball_shares};

/// Length of the chords, and how far around a corner the line counts (`contract.md`).
pub const CHORD_MM: f64 = 1.5;

/// Two chords that turn by more than this make a corner (`contract.md`).
pub const CORNER_DEG: f64 = 30.0;

/// Length of a stretch that is through detail.
pub fn through_detail_mm(stretch: &Stretch) -> f64 {
    let corners = corners(&stretch.chords(CHORD_MM));
    if corners.is_empty() {
        return 0.0;
    }
    let mut by_cell: BTreeMap<[i64; 3], Vec<[f64; 3]>> = BTreeMap::new();
    for &corner in &corners {
        by_cell.entry(cell(corner)).or_default().push(corner);
    }
    let mut sum_mm = 0.0;
    for side in 0..stretch.n_sides() {
        let (a, b) = stretch.side(side);
        let side_mm = vec3::length(vec3::sub(b, a));
        // Short parts, so that the cells around one are few.
        let n_parts = (side_mm / CHORD_MM).ceil().max(1.0);
        let at = |part: f64| vec3::add(a, vec3::scale(vec3::sub(b, a), part / n_parts));
        for part in 0..n_parts as usize {
            let (from, to) = (at(part as f64), at(part as f64 + 1.0));
            sum_mm += share_near(from, to, &by_cell) * side_mm / n_parts;
        }
    }
    sum_mm
}

/// The same told quickly: the length of the chords that meet at corners. A chord shorter at the end of a stretch
/// counts as a whole one.
pub fn about_through_detail_mm(stretch: &Stretch) -> f64 {
    let samples = stretch.chords(CHORD_MM);
    let is_corner: Vec<bool> = samples.windows(3).map(turns).collect();
    let near = |chord: usize| {
        let at = |corner: usize| is_corner.get(corner) == Some(&true);
        at(chord) || chord > 0 && at(chord - 1)
    };
    CHORD_MM * (0..samples.len().saturating_sub(1)).filter(|&chord| near(chord)).count() as f64
}

fn corners(samples: &[[f64; 3]]) -> Vec<[f64; 3]> {
    samples.windows(3).filter(|w| turns(w)).map(|w| w[1]).collect()
}

/// Whether two chords, by their three ends, turn enough to make a corner.
fn turns(ends: &[[f64; 3]]) -> bool {
    let straight_cos = libm::cos(CORNER_DEG.to_radians());
    let (into, out) = (vec3::sub(ends[1], ends[0]), vec3::sub(ends[2], ends[1]));
    vec3::dot(into, out) < straight_cos * vec3::length(into) * vec3::length(out)
}

/// The share of a short straight part that lies within a chord of any corner.
fn share_near(from: [f64; 3], to: [f64; 3], by_cell: &BTreeMap<[i64; 3], Vec<[f64; 3]>>) -> f64 {
    let mut spans: Vec<(f64, f64)> = Vec::new();
    let (low, high) = (
        cell(std::array::from_fn(|axis| from[axis].min(to[axis]) - CHORD_MM)),
        cell(std::array::from_fn(|axis| from[axis].max(to[axis]) + CHORD_MM)),
    );
    for x in low[0]..=high[0] {
        for y in low[1]..=high[1] {
            for corners in by_cell.range([x, y, low[2]]..=[x, y, high[2]]).map(|(_, corners)| corners) {
                for &corner in corners {
                    if let Some((enters, leaves)) = ball_shares(from, to, corner, CHORD_MM) {
                        let span = (enters.max(0.0), leaves.min(1.0));
                        spans.extend((span.0 < span.1).then_some(span));
                    }
                }
            }
        }
    }
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut covered, mut end) = (0.0, 0.0);
    for (enters, leaves) in spans {
        if leaves > end {
            covered += leaves - enters.max(end);
            end = leaves;
        }
    }
    covered
}

fn cell(point_mm: [f64; 3]) -> [i64; 3] {
    point_mm.map(|mm| (mm / CHORD_MM).floor() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(points: &[[f64; 2]], closed: bool) -> f64 {
        through_detail_mm(&Stretch::new(points.iter().map(|&[x, y]| [x, y, 0.0]).collect(), closed))
    }

    #[test]
    fn a_straight_line_and_a_wide_circle_run_through_no_detail() {
        assert_eq!(through(&[[0.0, 0.0], [7.3, 0.0], [100.0, 0.0]], false), 0.0);
        // Chords of 1.5 mm in a circle of 20 mm turn by 4.3 degrees.
        let circle: Vec<[f64; 2]> = (0..200)
            .map(|k| std::f64::consts::TAU * f64::from(k) / 200.0)
            .map(|turn| [20.0 * libm::cos(turn), 20.0 * libm::sin(turn)])
            .collect();
        assert_eq!(through(&circle, true), 0.0);
    }

    #[test]
    fn a_small_circle_is_through_detail_all_round() {
        // Chords of 1.5 mm in a circle of 2 mm turn by 44 degrees.
        let circle: Vec<[f64; 2]> = (0..200)
            .map(|k| std::f64::consts::TAU * f64::from(k) / 200.0)
            .map(|turn| [2.0 * libm::cos(turn), 2.0 * libm::sin(turn)])
            .collect();
        let around_mm = 400.0 * 2.0 * libm::sin(std::f64::consts::PI / 200.0);
        assert!((through(&circle, true) - around_mm).abs() < 1e-6);
    }

    #[test]
    fn a_corner_that_a_chord_ends_in_counts_three_millimetres() {
        let found = through(&[[0.0, 0.0], [15.0, 0.0], [15.0, 20.0]], false);
        assert!((found - 3.0).abs() < 1e-6, "{found}");
        let points = [[0.0, 0.0, 0.0], [15.0, 0.0, 0.0], [15.0, 20.0, 0.0]];
        let about_mm = about_through_detail_mm(&Stretch::new(points.to_vec(), false));
        assert!((about_mm - found).abs() < 1e-6, "{about_mm} for {found}");
        // Two chords before the end: the last corner's far side is cut off with the line.
        let found = through(&[[0.0, 0.0], [15.0, 0.0], [15.0, 2.0]], false);
        assert!((found - 3.0).abs() < 1e-6, "{found}");
    }

    #[test]
    fn corners_close_together_are_counted_once() {
        // A step of 1.5 mm: corners at 15 and 16.5 mm, covered from 13.5 to 18.
        let found = through(&[[0.0, 0.0], [15.0, 0.0], [15.0, 1.5], [40.0, 1.5]], false);
        assert!((found - 4.5).abs() < 1e-6, "{found}");
    }

    #[test]
    fn no_corner_of_a_closed_loop_is_lost_at_its_start() {
        let square = [[0.0, 0.0], [30.0, 0.0], [30.0, 30.0], [0.0, 30.0]];
        for first in 0..4 {
            let mut turned = square;
            turned.rotate_left(first);
            assert!((through(&turned, true) - 12.0).abs() < 1e-6);
        }
    }
}
