//! Small plane geometry for the audit: hull, enclosing circle, distances.
//!
//! Units: mm in the plane of the bed or of a seam.
//! Sources: hull by "Another efficient algorithm for convex hulls in two dimensions" (1979);
//! circle by "Smallest enclosing disks (balls and ellipsoids)" (1991), without its shuffling, on
//! hull points only (both from memory).

/// A point in a plane.
pub(super) type P2 = [f64; 2];

/// Twice the signed area of a triangle; positive counter-clockwise.
pub(super) fn turn(a: P2, b: P2, c: P2) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Convex hull, counter-clockwise, without points on its sides.
pub(super) fn hull(points: impl Iterator<Item = P2>) -> Vec<P2> {
    let mut sorted: Vec<P2> = points.collect();
    sorted.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut chain: Vec<P2> = Vec::new();
    let mut extend = |points: &mut dyn Iterator<Item = P2>| {
        let start = chain.len();
        for p in points {
            while chain.len() >= start + 2 && turn(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0 {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
    };
    extend(&mut sorted.iter().copied());
    extend(&mut sorted.iter().rev().copied());
    chain
}

/// Diameter of the smallest circle around the points.
pub(super) fn enclosing_diameter(points: &[P2]) -> f64 {
    let inside = |(c, r2): (P2, f64), p: P2| dist2(c, p) <= r2 * (1.0 + 1e-12) + 1e-18;
    let Some(&first) = points.first() else { return 0.0 };
    let mut circle = (first, 0.0);
    for i in 1..points.len() {
        if inside(circle, points[i]) {
            continue;
        }
        circle = (points[i], 0.0);
        for j in 0..i {
            if inside(circle, points[j]) {
                continue;
            }
            circle = on_two(points[i], points[j]);
            for k in 0..j {
                if !inside(circle, points[k]) {
                    circle = on_three(points[i], points[j], points[k]);
                }
            }
        }
    }
    2.0 * circle.1.sqrt()
}

fn on_two(a: P2, b: P2) -> (P2, f64) {
    let c = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    (c, dist2(a, c))
}

fn on_three(a: P2, b: P2, c: P2) -> (P2, f64) {
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]]);
    let (uu, vv) = (u[0] * u[0] + u[1] * u[1], v[0] * v[0] + v[1] * v[1]);
    let d = 2.0 * (u[0] * v[1] - u[1] * v[0]);
    if d == 0.0 {
        // In line: the two farthest apart decide.
        return [on_two(a, b), on_two(a, c), on_two(b, c)]
            .into_iter()
            .fold(on_two(a, b), |best, next| if next.1 > best.1 { next } else { best });
    }
    let centre = [a[0] + (v[1] * uu - u[1] * vv) / d, a[1] + (u[0] * vv - v[0] * uu) / d];
    (centre, dist2(a, centre))
}

/// Squared distance of two points.
pub(super) fn dist2(a: P2, b: P2) -> f64 {
    let d = [a[0] - b[0], a[1] - b[1]];
    d[0] * d[0] + d[1] * d[1]
}

/// Distance from a point to a segment, and where along it (0 to 1).
pub(super) fn to_segment(p: P2, a: P2, b: P2) -> (f64, f64) {
    let d = [b[0] - a[0], b[1] - a[1]];
    let length2 = d[0] * d[0] + d[1] * d[1];
    let t = if length2 == 0.0 { 0.0 } else { ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / length2 };
    let t = t.clamp(0.0, 1.0);
    (dist2(p, [a[0] + t * d[0], a[1] + t * d[1]]).sqrt(), t)
}

/// Whether two segments cross inside both.
pub(super) fn cross_inside(a: P2, b: P2, c: P2, d: P2) -> bool {
    turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
}

/// Distance between two segments.
pub(super) fn between_segments(a: P2, b: P2, c: P2, d: P2) -> f64 {
    if cross_inside(a, b, c, d) {
        return 0.0;
    }
    to_segment(a, c, d).0.min(to_segment(b, c, d).0).min(to_segment(c, a, b).0).min(to_segment(d, a, b).0)
}

/// How far a point lies inside a counter-clockwise convex polygon; negative outside.
pub(super) fn depth_in_hull(p: P2, hull: &[P2]) -> f64 {
    if hull.len() < 3 {
        return f64::NEG_INFINITY;
    }
    (0..hull.len())
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
            turn(a, b, p) / dist2(a, b).sqrt()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Area of a polygon, positive counter-clockwise.
pub(super) fn polygon_area(polygon: &[P2]) -> f64 {
    (0..polygon.len()).map(|i| 0.5 * turn([0.0, 0.0], polygon[i], polygon[(i + 1) % polygon.len()])).sum()
}

/// Whether a point lies inside a polygon (even-odd).
pub(super) fn in_polygon(p: P2, polygon: &[P2]) -> bool {
    (0..polygon.len()).fold(false, |inside, i| {
        let (a, b) = (polygon[i], polygon[(i + 1) % polygon.len()]);
        let crosses =
            (a[1] <= p[1]) != (b[1] <= p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
        inside ^ crosses
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_circle_around_a_square_has_its_diagonal() {
        let square = hull([[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [0.0, 3.0], [1.0, 2.0]].into_iter());
        assert_eq!(square.len(), 4);
        assert!((enclosing_diameter(&square) - 18f64.sqrt()).abs() < 1e-12);
        assert!((depth_in_hull([1.0, 2.0], &square) - 1.0).abs() < 1e-12);
        assert!((polygon_area(&square) - 9.0).abs() < 1e-12);
    }

    /// A 3-4-5 triangle is right-angled: its circle has the hypotenuse as diameter; an equilateral
    /// triangle of side a has 2a/sqrt(3).
    #[test]
    fn the_circle_around_known_triangles_is_the_known_one() {
        assert!((enclosing_diameter(&[[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]) - 5.0).abs() < 1e-12);
        let equilateral = [[0.0, 0.0], [2.0, 0.0], [1.0, 3f64.sqrt()]];
        assert!((enclosing_diameter(&equilateral) - 4.0 / 3f64.sqrt()).abs() < 1e-12);
    }
}
