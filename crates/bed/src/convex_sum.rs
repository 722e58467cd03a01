//! Convex polygons grown: sums, where a polygon must not be, bands around, fewer corners.
//!
//! Units and frame: as in `convex2d.rs`, which says what a polygon is.
//! Source: sum by merging edges in order of direction (textbook).
//! Not here: where to put a polygon (`place.rs`).

use crate::convex2d::{P2, cross, distance_to_stretch, dot, length, sub};

/// All sums of a point of `a` and a point of `b` (Minkowski sum), again convex.
pub fn sum(a: &[P2], b: &[P2]) -> Vec<P2> {
    if a.is_empty() || b.is_empty() {
        return Vec::new();
    }
    let (start_a, start_b) = (lowest(a), lowest(b));
    let edge = |polygon: &[P2], start: usize, i: usize| {
        let n = polygon.len();
        sub(polygon[(start + i + 1) % n], polygon[(start + i) % n])
    };
    // Both outlines begin at their lowest corner, so their edges come in rising direction and
    // merge like two sorted lists.
    let count = |polygon: &[P2]| if polygon.len() < 2 { 0 } else { polygon.len() };
    let (n_a, n_b) = (count(a), count(b));
    let (mut i, mut j) = (0, 0);
    let mut out = Vec::with_capacity(n_a + n_b);
    while i < n_a || j < n_b || out.is_empty() {
        let (p, q) = (a[(start_a + i) % a.len()], b[(start_b + j) % b.len()]);
        out.push([p[0] + q[0], p[1] + q[1]]);
        let turn = match (i < n_a, j < n_b) {
            (true, true) => later(edge(a, start_a, i), edge(b, start_b, j)),
            (true, false) => 1.0,
            (false, true) => -1.0,
            (false, false) => break,
        };
        let (step_a, step_b) = (turn >= 0.0 && i < n_a, turn <= 0.0 && j < n_b);
        i += usize::from(step_a);
        j += usize::from(step_b);
    }
    out
}

/// Positive where direction `b` comes after `a` counting counter-clockwise from x, zero if equal.
fn later(a: P2, b: P2) -> f64 {
    let lower_half = |d: P2| d[1] < 0.0 || (d[1] == 0.0 && d[0] < 0.0);
    match (lower_half(a), lower_half(b)) {
        (false, true) => 1.0,
        (true, false) => -1.0,
        _ => cross(a, b),
    }
}

/// Where the origin of `moving` must not be, so that it does not overlap `fixed`: the no-fit
/// polygon, `fixed` plus the mirror image of `moving` through the origin.
pub fn no_fit(fixed: &[P2], moving: &[P2]) -> Vec<P2> {
    let mirrored: Vec<P2> = moving.iter().map(|p| [-p[0], -p[1]]).collect();
    sum(fixed, &mirrored)
}

/// The polygon grown by `by_mm`, exact along edges; corners are cut by tangents no more than
/// 22.5° apart, so a corner reaches at most 2 % of `by_mm` too far and never too short.
pub fn grown(polygon: &[P2], by_mm: f64) -> Vec<P2> {
    const STEP_RAD: f64 = std::f64::consts::PI / 8.0;
    /// Cosine of the step, a little more so that rounding never exceeds the 22.5°.
    const COS_STEP: f64 = 0.923_88;
    if by_mm <= 0.0 || polygon.is_empty() {
        return polygon.to_vec();
    }
    let n = polygon.len();
    let normal = |i: usize| {
        let along = sub(polygon[(i + 1) % n], polygon[i % n]);
        let size = length(along);
        [along[1] / size, -along[0] / size]
    };
    let mut out = Vec::with_capacity(n + 16);
    // A lone point has no edges: a whole turn of tangents, starting downwards.
    let mut from = if n == 1 { [0.0, -1.0] } else { normal(n - 1) };
    for (i, corner) in polygon.iter().enumerate() {
        let to = if n == 1 { from } else { normal(i) };
        let cos_turn = dot(from, to);
        if cos_turn > COS_STEP && n > 1 {
            // Where both edges, moved outward, meet.
            let reach = by_mm / (1.0 + cos_turn);
            out.push([corner[0] + reach * (from[0] + to[0]), corner[1] + reach * (from[1] + to[1])]);
        } else {
            let turn = libm::atan2(cross(from, to), cos_turn);
            // Turning back on itself (a stretch's end) may read as minus half a turn.
            let turn = if n == 1 || turn < 0.0 { turn + 2.0 * std::f64::consts::PI } else { turn };
            let n_steps = (turn / STEP_RAD - 1e-9).ceil().max(1.0);
            let half = 0.5 * turn / n_steps;
            let reach = by_mm / libm::cos(half);
            // Tangent points come one from the other: turn by a whole step each time.
            let (sin, cos) = libm::sincos(half);
            let (sin_step, cos_step) = (2.0 * sin * cos, 1.0 - 2.0 * sin * sin);
            let mut d = [cos * from[0] - sin * from[1], sin * from[0] + cos * from[1]];
            for _ in 0..n_steps as usize {
                out.push([corner[0] + reach * d[0], corner[1] + reach * d[1]]);
                d = [cos_step * d[0] - sin_step * d[1], sin_step * d[0] + cos_step * d[1]];
            }
        }
        from = to;
    }
    out
}

/// A polygon of fewer corners around the given one, nowhere more than `tolerance_mm` larger: some
/// edges go and their neighbours are drawn out until they meet.
pub fn simplified_outward(polygon: &[P2], tolerance_mm: f64) -> Vec<P2> {
    let n = polygon.len();
    if n < 5 {
        return polygon.to_vec();
    }
    let corner = |i: usize| polygon[i % n];
    // Where edges `i` and `j` meet when drawn out, if that is close enough to the edges between.
    let tip = |i: usize, j: usize| {
        let (a, b, c, d) = (corner(i), corner(i + 1), corner(j), corner(j + 1));
        let (u, v) = (sub(b, a), sub(d, c));
        let turn = cross(u, v);
        if turn <= 1e-9 * length(u) * length(v) {
            return None;
        }
        let t = cross(sub(c, b), v) / turn;
        let tip = [b[0] + t * u[0], b[1] + t * u[1]];
        let near = (i + 1..j).any(|k| distance_to_stretch(tip, corner(k), corner(k + 1)) <= tolerance_mm);
        near.then_some(tip)
    };
    // Keep edge 0, then each time the farthest edge still meeting the kept one closely enough.
    let mut out = Vec::new();
    let mut kept = 0;
    while kept < n {
        let mut next = (kept + 1, corner(kept + 1));
        while next.0 < n
            && let Some(tip) = tip(kept, next.0 + 1)
        {
            next = (next.0 + 1, tip);
        }
        out.push(next.1);
        kept = next.0;
    }
    out
}

fn lowest(polygon: &[P2]) -> usize {
    let order = |&i: &usize, &j: &usize| {
        (polygon[i][1].total_cmp(&polygon[j][1])).then(polygon[i][0].total_cmp(&polygon[j][0]))
    };
    (0..polygon.len()).min_by(order).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::convex2d::tests::{disc, drawn_points};
    use crate::convex2d::{area_mm2, bounds, edges, holds_point, hull, moved, separation_mm};

    #[test]
    fn a_sum_equals_the_hull_of_all_pairwise_sums() {
        arbtest::arbtest(|u| {
            let (a, b) = (hull(&drawn_points(u, 10)?), hull(&drawn_points(u, 10)?));
            let summed = sum(&a, &b);
            let all: Vec<P2> =
                a.iter().flat_map(|&p| b.iter().map(move |&q| [p[0] + q[0], p[1] + q[1]])).collect();
            assert!((area_mm2(&summed) - area_mm2(&hull(&all))).abs() < 1e-5);
            assert_eq!(bounds(&summed), bounds(&all));
            Ok(())
        })
        .budget_ms(300);
    }

    #[test]
    fn outside_the_no_fit_polygon_and_only_there_two_polygons_are_apart() {
        arbtest::arbtest(|u| {
            let (fixed, moving) = (hull(&drawn_points(u, 10)?), hull(&drawn_points(u, 10)?));
            let step = drawn_points(u, 1)?[0];
            let forbidden = no_fit(&fixed, &moving);
            let apart = separation_mm(&fixed, &moved(&moving, step));
            if holds_point(&forbidden, step, 1e-6) {
                assert!(apart < 0.0, "inside, yet {apart} apart");
            } else if !holds_point(&forbidden, step, -1e-6)
                && forbidden.len() > 2
                && area_mm2(&forbidden) > 1.0
            {
                assert!(apart > 0.0, "outside, yet {apart}");
            }
            Ok(())
        })
        .budget_ms(300);
    }

    #[test]
    fn a_grown_polygon_holds_the_exact_band_and_little_more() {
        arbtest::arbtest(|u| {
            let polygon = hull(&drawn_points(u, 10)?);
            let by_mm = 5.0;
            let grown = grown(&polygon, by_mm);
            for (p, q) in edges(&grown) {
                for t in [0.0, 0.5] {
                    let x = [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])];
                    let distance = separation_mm(&polygon, &[x]);
                    assert!(distance > by_mm - 1e-9 && distance < 1.0197 * by_mm, "{distance}");
                }
            }
            Ok(())
        })
        .budget_ms(300);
    }

    #[test]
    fn an_outward_simplified_polygon_holds_the_given_one_and_stays_within_tolerance() {
        arbtest::arbtest(|u| {
            let polygon = hull(&drawn_points(u, 40)?);
            let fewer = simplified_outward(&polygon, 0.5);
            assert!(fewer.len() <= polygon.len());
            if polygon.len() > 2 {
                assert!(polygon.iter().all(|&p| holds_point(&fewer, p, -1e-7)));
                assert!(fewer.iter().all(|&p| separation_mm(&polygon, &[p]) <= 0.5 + 1e-9));
            }
            Ok(())
        })
        .budget_ms(300);
        assert!(simplified_outward(&disc(720, 100.0), 0.1).len() < 80);
    }
}
