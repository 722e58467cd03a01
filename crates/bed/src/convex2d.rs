//! Convex polygons in the plane: hull, circle around, width and distances.
//!
//! How: a polygon is a slice of corners, counter-clockwise, without repeats and without corners on
//! a straight line; [`hull`] makes that form and the rest keeps it. One corner (a point) and two
//! (a stretch) are allowed everywhere, so a piece standing on edge is no special case.
//! Units and frame: millimetres, x right, y up.
//! Cost: hull O(n log n), distances O(n m).
//! Source: hull after "Another efficient algorithm for convex hulls in two dimensions" (1979);
//! the smallest circle is a farthest-point pivot, our own wording of the method in "Fast and robust
//! smallest enclosing balls" (1999) (titles from memory).
//! Not here: sums and bands (`convex_sum.rs`), outlines that are not convex (`room.rs`), where to put
//! a polygon (`place.rs`), anything with height (`fit.rs`).

pub use crate::convex_sum::{grown, no_fit, simplified_outward, sum};

/// A point or step in the plane, mm.
pub type P2 = [f64; 2];

/// A corner closer than this to the line through its neighbours is no corner. A hundredth of a
/// micrometre: far above rounding of coordinates of a few hundred mm (1e-13), far below any printer.
pub const STRAIGHT_MM: f64 = 1e-8;

pub(crate) fn sub(a: P2, b: P2) -> P2 {
    [a[0] - b[0], a[1] - b[1]]
}

pub(crate) fn cross(a: P2, b: P2) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

pub(crate) fn dot(a: P2, b: P2) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

pub(crate) fn length(a: P2) -> f64 {
    dot(a, a).sqrt()
}

/// Convex hull, counter-clockwise from the lowest of the leftmost corners. Repeated points and
/// points on a straight line are dropped, so the result may have two corners, one, or none. No
/// point lies farther outside it than [`STRAIGHT_MM`].
pub fn hull(points: &[P2]) -> Vec<P2> {
    // Adding zero turns -0 into 0, which total order would otherwise tell apart.
    let mut sorted: Vec<P2> = points.iter().map(|p| [p[0] + 0.0, p[1] + 0.0]).collect();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut corners = half_hull(sorted.iter().copied());
    let upper = half_hull(sorted.iter().rev().copied());
    corners.pop();
    corners.extend(&upper[..upper.len() - 1]);
    without_straight_corners(corners)
}

/// Without any tolerance: points of an upright side come sorted by the rounding of their x, so the
/// next one may lie before the last on the same line, and the last would be lost with all its reach.
fn half_hull(points: impl Iterator<Item = P2>) -> Vec<P2> {
    let mut chain: Vec<P2> = Vec::new();
    for p in points {
        while let [.., a, b] = chain[..] {
            if cross(sub(b, a), sub(p, b)) > 0.0 {
                break;
            }
            chain.pop();
        }
        chain.push(p);
    }
    chain
}

/// Drops corners that lie on the stretch between their neighbours, within [`STRAIGHT_MM`] of it
/// counted from the first outline on, however many go one after another.
fn without_straight_corners(corners: Vec<P2>) -> Vec<P2> {
    // With each corner goes how far dropped ones may stand out over the edge that starts at it.
    let mut ring: Vec<(P2, f64)> = corners.into_iter().map(|corner| (corner, 0.0)).collect();
    // `n_kept` corners before position `i` are known to stay as things are.
    let (mut i, mut n_kept) = (0, 0);
    while ring.len() > 2 && n_kept < ring.len() {
        let n = ring.len();
        i %= n;
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        let height = distance_to_stretch(ring[i].0, ring[before].0, ring[after].0);
        let stands_out = height + ring[before].1.max(ring[i].1);
        if stands_out > STRAIGHT_MM {
            (i, n_kept) = (after, n_kept + 1);
            continue;
        }
        ring[before].1 = stands_out;
        ring.remove(i);
        // Both neighbours have to be asked again.
        i = if before > i { before - 1 } else { before };
        n_kept = n_kept.saturating_sub(2);
    }
    let mut corners: Vec<P2> = ring.into_iter().map(|(corner, _)| corner).collect();
    let first = (0..corners.len()).min_by(|&i, &j| {
        corners[i][0].total_cmp(&corners[j][0]).then(corners[i][1].total_cmp(&corners[j][1]))
    });
    corners.rotate_left(first.unwrap_or(0));
    corners
}

/// Area inside, mm²; 0 for fewer than three corners.
pub fn area_mm2(polygon: &[P2]) -> f64 {
    let Some(&first) = polygon.first() else { return 0.0 };
    polygon.windows(2).map(|w| 0.5 * cross(sub(w[0], first), sub(w[1], first))).sum()
}

/// Length of the outline, mm; a stretch counts there and back.
pub fn girth_mm(polygon: &[P2]) -> f64 {
    edges(polygon).map(|(a, b)| length(sub(b, a))).sum()
}

/// Middle of the area; of the corners where there is no area.
pub fn centre(polygon: &[P2]) -> P2 {
    let Some(&first) = polygon.first() else { return [0.0; 2] };
    let (mut sum, mut weight) = ([0.0; 2], 0.0);
    for w in polygon.windows(2) {
        let (a, b) = (sub(w[0], first), sub(w[1], first));
        let twice = cross(a, b);
        sum = [sum[0] + twice * (a[0] + b[0]), sum[1] + twice * (a[1] + b[1])];
        weight += 3.0 * twice;
    }
    if weight > STRAIGHT_MM * STRAIGHT_MM {
        return [first[0] + sum[0] / weight, first[1] + sum[1] / weight];
    }
    let n = polygon.len() as f64;
    [polygon.iter().map(|p| p[0]).sum::<f64>() / n, polygon.iter().map(|p| p[1]).sum::<f64>() / n]
}

/// Least and greatest x and y: `(low, high)`; zeros for no points.
pub fn bounds(points: &[P2]) -> (P2, P2) {
    let Some(&first) = points.first() else { return ([0.0; 2], [0.0; 2]) };
    points.iter().fold((first, first), |(low, high), p| {
        ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
    })
}

/// The points moved by `step`.
pub fn moved(points: &[P2], step: P2) -> Vec<P2> {
    points.iter().map(|p| [p[0] + step[0], p[1] + step[1]]).collect()
}

/// The points turned about the origin, counter-clockwise.
pub fn turned(points: &[P2], angle_rad: f64) -> Vec<P2> {
    let (sin, cos) = libm::sincos(angle_rad);
    points.iter().map(|p| [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]]).collect()
}

/// Least distance between two parallel lines with the polygon between them, and the direction
/// (unit, along the lines) in which it is reached. `(0, [1, 0])` for fewer than two corners.
pub fn width_mm(polygon: &[P2]) -> (f64, P2) {
    let mut best = (f64::INFINITY, [1.0, 0.0]);
    for (a, b) in edges(polygon) {
        let along = sub(b, a);
        let size = length(along);
        if size > 0.0 {
            let reach = polygon.iter().map(|&p| cross(along, sub(p, a))).fold(0.0, f64::max) / size;
            if reach < best.0 {
                best = (reach, [along[0] / size, along[1] / size]);
            }
        }
    }
    if best.0.is_finite() { best } else { (0.0, [1.0, 0.0]) }
}

/// Smallest circle around the points: `(centre, radius)`; radius 0 for one point or none.
pub fn smallest_circle(points: &[P2]) -> (P2, f64) {
    let Some(&first) = points.first() else { return ([0.0; 2], 0.0) };
    let mut carrying = vec![first];
    let mut circle = (first, 0.0);
    loop {
        // The farthest point outside joins; the circle of the few that carry it grows each round,
        // so no set of carriers comes twice and the loop ends.
        let farthest = points
            .iter()
            .copied()
            .max_by(|&p, &q| length(sub(p, circle.0)).total_cmp(&length(sub(q, circle.0))))
            .unwrap_or(first);
        if length(sub(farthest, circle.0)) <= circle.1 {
            return circle;
        }
        let Some((next_carrying, next)) = circle_with(&carrying, farthest) else { return circle };
        if next.1 <= circle.1 {
            // Only rounding is left: widen to hold everything and stop.
            return (circle.0, length(sub(farthest, circle.0)));
        }
        (carrying, circle) = (next_carrying, next);
    }
}

/// Smallest circle around `carrying` (at most three) and `p`, with `p` on it.
fn circle_with(carrying: &[P2], p: P2) -> Option<(Vec<P2>, (P2, f64))> {
    let mut best: Option<(Vec<P2>, (P2, f64))> = None;
    let mut offer = |chosen: Vec<P2>, circle: (P2, f64)| {
        let slack = 1e-12 * (1.0 + circle.1);
        let holds = carrying.iter().all(|&q| length(sub(q, circle.0)) <= circle.1 + slack);
        if holds && best.as_ref().is_none_or(|(_, b)| circle.1 < b.1) {
            best = Some((chosen, circle));
        }
    };
    for (i, &a) in carrying.iter().enumerate() {
        let middle = [0.5 * (a[0] + p[0]), 0.5 * (a[1] + p[1])];
        offer(vec![a, p], (middle, length(sub(a, middle)).max(length(sub(p, middle)))));
        for &b in &carrying[..i] {
            if let Some(circle) = circle_through(a, b, p) {
                offer(vec![a, b, p], circle);
            }
        }
    }
    best
}

fn circle_through(a: P2, b: P2, c: P2) -> Option<(P2, f64)> {
    let (u, v) = (sub(a, c), sub(b, c));
    let twice = 2.0 * cross(u, v);
    if twice.abs() < 1e-300 {
        return None;
    }
    let (uu, vv) = (dot(u, u), dot(v, v));
    let centre = [c[0] + (v[1] * uu - u[1] * vv) / twice, c[1] + (u[0] * vv - v[0] * uu) / twice];
    let radius = length(sub(a, centre)).max(length(sub(b, centre))).max(length(sub(c, centre)));
    Some((centre, radius))
}

/// How far two convex polygons are apart: their distance, mm; where they overlap minus the length
/// of the shortest move along an edge normal that parts them.
pub fn separation_mm(a: &[P2], b: &[P2]) -> f64 {
    let apart = edge_separation(a, b).max(edge_separation(b, a));
    // Two points have no edges to part them; they cannot overlap either.
    if apart < 0.0 && apart.is_finite() {
        return apart;
    }
    let one_way = |from: &[P2], to: &[P2]| {
        edges(to)
            .flat_map(|(p, q)| from.iter().map(move |&x| distance_to_stretch(x, p, q)))
            .fold(f64::INFINITY, f64::min)
    };
    one_way(a, b).min(one_way(b, a))
}

/// Largest gap between the polygons along an outward edge normal of `a` (for a stretch also along
/// it); never more than their distance.
fn edge_separation(a: &[P2], b: &[P2]) -> f64 {
    let mut best = f64::NEG_INFINITY;
    for (p, q) in edges(a) {
        let along = sub(q, p);
        let size = length(along);
        if size > 0.0 {
            let gap = b.iter().map(|&x| cross(sub(x, p), along)).fold(f64::INFINITY, f64::min) / size;
            best = f64::max(best, gap);
            if a.len() == 2 {
                let past = b.iter().map(|&x| dot(sub(x, q), along)).fold(f64::INFINITY, f64::min) / size;
                best = f64::max(best, past);
            }
        }
    }
    best
}

pub(crate) fn distance_to_stretch(x: P2, p: P2, q: P2) -> f64 {
    let along = sub(q, p);
    let square = dot(along, along);
    let t = if square > 0.0 { (dot(sub(x, p), along) / square).clamp(0.0, 1.0) } else { 0.0 };
    length(sub(x, [p[0] + t * along[0], p[1] + t * along[1]]))
}

/// Whether `x` lies inside the polygon by more than `by_mm`.
pub fn holds_point(polygon: &[P2], x: P2, by_mm: f64) -> bool {
    polygon.len() > 2
        && edges(polygon).all(|(p, q)| {
            let along = sub(q, p);
            cross(along, sub(x, p)) > by_mm * length(along)
        })
}

/// Edges `(from, to)` around the polygon; a stretch has two, a point one of length 0.
pub fn edges(polygon: &[P2]) -> impl Iterator<Item = (P2, P2)> + '_ {
    let n = polygon.len();
    (0..n).map(move |i| (polygon[i], polygon[(i + 1) % n]))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use arbtest::arbitrary::{Result as Drawn, Unstructured};

    pub(crate) fn drawn_points(u: &mut Unstructured<'_>, at_most: usize) -> Drawn<Vec<P2>> {
        let n = u.int_in_range(1..=at_most)?;
        (0..n)
            .map(|_| {
                Ok([
                    f64::from(u.int_in_range(-80_000i32..=80_000)?) / 1024.0,
                    f64::from(u.int_in_range(-80_000i32..=80_000)?) / 1024.0,
                ])
            })
            .collect()
    }

    pub(crate) fn disc(n: usize, radius: f64) -> Vec<P2> {
        let step = 2.0 * std::f64::consts::PI / n as f64;
        (0..n).map(|k| [radius * libm::cos(step * k as f64), radius * libm::sin(step * k as f64)]).collect()
    }

    #[test]
    fn a_hull_drops_repeats_inner_points_and_points_on_edges() {
        let points =
            [[0., 0.], [4., 0.], [2., 0.], [4., 4.], [0., 4.], [0., 0.], [1., 2.], [4., 2.], [-0., 2.]];
        assert_eq!(hull(&points), vec![[0., 0.], [4., 0.], [4., 4.], [0., 4.]]);
        assert_eq!(hull(&[[1., 1.], [3., 3.], [2., 2.]]), vec![[1., 1.], [3., 3.]]);
        assert_eq!(hull(&[[1., 1.], [1., 1.]]), vec![[1., 1.]]);
        assert!(hull(&[]).is_empty());
    }

    #[test]
    fn a_hull_holds_its_points_and_turns_left_at_every_corner() {
        arbtest::arbtest(|u| {
            let points = drawn_points(u, 30)?;
            let corners = hull(&points);
            let n = corners.len();
            if n > 2 {
                for i in 0..n {
                    let [a, b, c] = [0, 1, 2].map(|k| corners[(i + k) % n]);
                    assert!(cross(sub(b, a), sub(c, b)) > 0.0);
                }
                assert!(points.iter().all(|&p| holds_point(&corners, p, -2.0 * STRAIGHT_MM)));
            }
            assert_eq!(hull(&corners), corners);
            Ok(())
        })
        .budget_ms(300);
    }

    /// Points of an upright side, whose x differ by rounding only, come in any order along it. The
    /// outermost used to be taken for one on a straight line: 0.14 mm of a footprint were lost.
    #[test]
    fn an_upright_side_with_rounded_points_keeps_its_ends() {
        let ulp = 1e-14;
        let side = [[42.0, 201.8], [42.0 + ulp, 193.9], [42.0 + 2.0 * ulp, 181.0], [42.0 - ulp, 150.9]];
        let points = [&side[..], &[[15.6, 172.0], [41.9, 201.6]]].concat();
        for quarter in 0..4 {
            let angle = std::f64::consts::FRAC_PI_2 * f64::from(quarter);
            let turned_points = turned(&points, angle);
            let corners = hull(&turned_points);
            assert!(turned_points.iter().all(|&p| holds_point(&corners, p, -2.0 * STRAIGHT_MM)), "{quarter}");
        }
    }

    #[test]
    fn a_hull_at_any_turn_holds_points_of_straight_sides_and_keeps_only_true_corners() {
        arbtest::arbtest(|u| {
            let mut corner =
                || Ok([f64::from(u.int_in_range(-99i32..=99)?), f64::from(u.int_in_range(-99i32..=99)?)]);
            let outline: Drawn<Vec<P2>> = (0..5).map(|_| corner()).collect();
            let outline = hull(&outline?);
            let along =
                |k: u32| move |(a, b): (P2, P2)| [0, 1].map(|c| a[c] + f64::from(k) / 7.0 * (b[c] - a[c]));
            let points: Vec<P2> =
                (0..7).flat_map(|k| edges(&outline).map(along(k)).collect::<Vec<_>>()).collect();
            // Turned until a side stands upright, and moved as a lay does.
            for (a, b) in edges(&outline) {
                let d = sub(b, a);
                let points = moved(&turned(&points, libm::atan2(d[0], d[1])), [217.3, 148.9]);
                let corners = hull(&points);
                assert_eq!(corners.len(), outline.len());
                if corners.len() > 2 {
                    assert!(points.iter().all(|&p| holds_point(&corners, p, -2.0 * STRAIGHT_MM)));
                }
            }
            Ok(())
        })
        .budget_ms(300);
    }

    #[test]
    fn corners_so_near_each_other_that_each_seems_straight_do_not_wear_the_hull_away() {
        // Chords of 0.21 um on a circle of 10 mm: each corner stands out by 2.2e-9 mm.
        let step = 2.0 * std::f64::consts::PI / 300_000.0;
        let arc: Vec<P2> = (0..=6000)
            .map(|k| [10.0 * libm::cos(step * f64::from(k)), 10.0 * libm::sin(step * f64::from(k))])
            .collect();
        let corners = hull(&arc);
        assert!(corners.len() > 2 && corners.len() < arc.len());
        assert!(arc.iter().all(|&p| holds_point(&corners, p, -1.01 * STRAIGHT_MM)));
    }

    #[test]
    fn areas_of_a_square_and_a_regular_polygon_equal_their_closed_forms() {
        assert_eq!(area_mm2(&[[0., 0.], [3., 0.], [3., 3.], [0., 3.]]), 9.0);
        // Regular n-gon in a circle of radius r: n/2 r² sin(2 pi / n).
        let expected = 6.0 * 100.0 * libm::sin(std::f64::consts::PI / 6.0);
        assert!((area_mm2(&disc(12, 10.0)) - expected).abs() < 1e-11);
    }

    #[test]
    fn the_smallest_circle_equals_the_best_of_all_pairs_and_triples() {
        arbtest::arbtest(|u| {
            let points = drawn_points(u, 9)?;
            let (centre, radius) = smallest_circle(&points);
            assert!(points.iter().all(|&p| length(sub(p, centre)) <= radius * (1.0 + 1e-12) + 1e-12));
            // The smallest circle is carried by two or three of the points.
            let mut best = if points.iter().all(|p| *p == points[0]) { 0.0 } else { f64::INFINITY };
            let mut offer = |c: P2, r: f64| {
                if points.iter().all(|&p| length(sub(p, c)) <= r * (1.0 + 1e-9) + 1e-9) {
                    best = f64::min(best, r);
                }
            };
            for &a in &points {
                for &b in &points {
                    let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
                    offer(middle, length(sub(a, middle)));
                    for &c in &points {
                        if let Some((centre, radius)) = circle_through(a, b, c) {
                            offer(centre, radius);
                        }
                    }
                }
            }
            assert!((radius - best).abs() <= 1e-7 * (1.0 + best), "{radius} against {best}");
            Ok(())
        })
        .budget_ms(400);
    }

    #[test]
    fn the_width_of_a_turned_rectangle_is_its_shorter_side() {
        for k in 0..20 {
            let (width, along) = width_mm(&turned(&[[0., 0.], [7., 0.], [7., 2.], [0., 2.]], 0.3 * k as f64));
            assert!((width - 2.0).abs() < 1e-13 && (length(along) - 1.0).abs() < 1e-15);
        }
        // Regular triangle of side 1: height sqrt(3)/2.
        let (width, _) = width_mm(&[[0., 0.], [1., 0.], [0.5, 0.75f64.sqrt()]]);
        assert!((width - 0.75f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn distances_equal_known_ones_and_overlap_reads_negative() {
        let square = vec![[0., 0.], [2., 0.], [2., 2.], [0., 2.]];
        assert_eq!(separation_mm(&square, &moved(&square, [5., 0.5])), 3.0);
        assert!((separation_mm(&square, &moved(&square, [5., 6.])) - 5.0).abs() < 1e-15);
        assert_eq!(separation_mm(&square, &moved(&square, [1.5, 0.])), -0.5);
        assert_eq!(separation_mm(&square, &moved(&square, [2., 0.])), 0.0);
        assert_eq!(separation_mm(&[[5., 1.]], &square), 3.0);
    }
}
