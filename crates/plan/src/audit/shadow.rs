//! The true shadow of a posed thing on the bed, and how near two shadows come.
//!
//! How: the rim of a shadow is part of the projection of those edges whose one triangle faces up
//! and whose other does not. Two shadows overlap if such lines cross or one holds a point of
//! the other. Lines of that kind inside a shadow do no harm: where they are near, so is the shadow.
//! Hulls are asked first: where they stand apart, as in most lays, nothing else is looked at.
//! Units: mm on the bed.

use std::cell::OnceCell;

use super::flat::{P2, between_segments, depth_in_hull, dist2, polygon_area, turn};
use super::stl::Mesh;

/// What lies against an area, as a lay puts it, is a rounding inside or outside: as for fits.
const TOUCH_MM: f64 = 1e-6;

/// A posed mesh seen from above.
pub(super) struct Shadow {
    points: Vec<P2>,
    triangles: Vec<[u32; 3]>,
    hull: Vec<P2>,
    rim: OnceCell<Vec<(P2, P2)>>,
}

impl Shadow {
    pub fn new(posed: &[[f64; 3]], mesh: &Mesh) -> Self {
        let points: Vec<P2> = posed.iter().map(|p| [p[0], p[1]]).collect();
        let hull = super::flat::hull(points.iter().copied());
        Self { points, triangles: mesh.triangles.clone(), hull, rim: OnceCell::new() }
    }

    /// Convex hull, counter-clockwise.
    pub fn hull(&self) -> &[P2] {
        &self.hull
    }

    fn rim(&self) -> &[(P2, P2)] {
        self.rim.get_or_init(|| {
            let faces_up = |t: &[u32; 3]| {
                let [a, b, c] = t.map(|i| self.points[i as usize]);
                turn(a, b, c) > 0.0
            };
            let mut uses: Vec<(u32, u32, bool)> = Vec::with_capacity(3 * self.triangles.len());
            for t in &self.triangles {
                let up = faces_up(t);
                uses.extend((0..3).map(|k| {
                    let (a, b) = (t[k], t[(k + 1) % 3]);
                    (a.min(b), a.max(b), up)
                }));
            }
            uses.sort_unstable();
            uses.chunk_by(|x, y| (x.0, x.1) == (y.0, y.1))
                .filter(|group| group.iter().any(|u| u.2) && !group.iter().all(|u| u.2))
                .map(|group| (self.points[group[0].0 as usize], self.points[group[0].1 as usize]))
                .collect()
        })
    }

    /// Whether the shadow holds a point, be it on a line between two of its triangles.
    fn holds(&self, p: P2) -> bool {
        depth_in_hull(p, &self.hull) >= 0.0
            && self.triangles.iter().any(|t| {
                let [a, b, c] = t.map(|i| self.points[i as usize]);
                turn(a, b, c) > 0.0 && turn(a, b, p) >= 0.0 && turn(b, c, p) >= 0.0 && turn(c, a, p) >= 0.0
            })
    }

    /// Distance to another shadow as far as it is below `reach_mm` (else anything larger).
    pub fn distance_mm(&self, other: &Self, reach_mm: f64) -> f64 {
        let apart = hulls_apart_mm(&self.hull, &other.hull);
        if apart >= reach_mm {
            return apart;
        }
        let lines = distance_of_lines(self.rim(), other.rim(), reach_mm);
        let nested = || {
            let one_of = |rim: &[(P2, P2)]| rim.first().map(|line| line.0);
            one_of(other.rim()).is_some_and(|p| self.holds(p))
                || one_of(self.rim()).is_some_and(|p| other.holds(p))
        };
        if apart <= 0.0 && lines > 0.0 && nested() { 0.0 } else { lines }
    }

    /// The widest gap between the hulls across a side of either; negative where they overlap.
    pub fn hulls_apart_mm(&self, other: &Self) -> f64 {
        hulls_apart_mm(&self.hull, &other.hull)
    }

    /// Whether the shadow meets a polygon by more than a touch: whether what any triangle that faces
    /// up and the polygon share is wider, in the middle, than a touch.
    pub fn meets_polygon(&self, polygon: &[P2]) -> bool {
        self.triangles.iter().any(|t| {
            let corners = t.map(|i| self.points[i as usize]);
            let [a, b, c] = corners;
            if turn(a, b, c) <= 0.0 || apart_in_boxes(&corners, polygon) {
                return false;
            }
            let half_girth = 0.5 * (dist2(a, b).sqrt() + dist2(b, c).sqrt() + dist2(c, a).sqrt());
            polygon_area(&clipped(polygon, &corners)).abs() > TOUCH_MM * half_girth
        })
    }
}

fn apart_in_boxes(a: &[P2], b: &[P2]) -> bool {
    let span = |points: &[P2], k: usize| {
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (p[k].min(l), p[k].max(h)))
    };
    (0..2).any(|k| span(a, k).1 <= span(b, k).0 || span(b, k).1 <= span(a, k).0)
}

/// The part of a polygon inside a triangle, counter-clockwise. Parts that come apart hang together
/// by lines of no width, which do not count in its area.
/// Source: "Reentrant polygon clipping" (1974), from memory.
fn clipped(polygon: &[P2], triangle: &[P2; 3]) -> Vec<P2> {
    let mut left = polygon.to_vec();
    for (from, to) in ring(triangle) {
        let mut kept = Vec::with_capacity(left.len() + 2);
        for (p, q) in ring(&left) {
            let (at_p, at_q) = (turn(from, to, p), turn(from, to, q));
            if at_p >= 0.0 {
                kept.push(p);
            }
            if (at_p >= 0.0) != (at_q >= 0.0) {
                let s = at_p / (at_p - at_q);
                kept.push([p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1])]);
            }
        }
        left = kept;
    }
    left
}

fn ring(polygon: &[P2]) -> Vec<(P2, P2)> {
    (0..polygon.len()).map(|i| (polygon[i], polygon[(i + 1) % polygon.len()])).collect()
}

/// The widest gap between two convex polygons across a side of either; at most their distance,
/// not positive where they meet.
fn hulls_apart_mm(a: &[P2], b: &[P2]) -> f64 {
    let across = |p: &[P2], q: &[P2]| {
        ring(p)
            .iter()
            .map(|&(from, to)| {
                let length = super::flat::dist2(from, to).sqrt();
                q.iter().map(|&c| -turn(from, to, c) / length).fold(f64::INFINITY, f64::min)
            })
            .fold(f64::NEG_INFINITY, f64::max)
    };
    across(a, b).max(across(b, a))
}

/// Least distance between two sets of lines, looked for up to `reach_mm`.
fn distance_of_lines(a: &[(P2, P2)], b: &[(P2, P2)], reach_mm: f64) -> f64 {
    let span = |line: &(P2, P2), k: usize| (line.0[k].min(line.1[k]), line.0[k].max(line.1[k]));
    let mut sorted: Vec<&(P2, P2)> = b.iter().collect();
    sorted.sort_by(|p, q| span(p, 0).0.total_cmp(&span(q, 0).0));
    let widest = sorted.iter().map(|line| span(line, 0).1 - span(line, 0).0).fold(0.0, f64::max);
    let mut least = f64::INFINITY;
    for line in a {
        let ((x0, x1), (y0, y1)) = (span(line, 0), span(line, 1));
        let reach = least.min(reach_mm);
        let first = sorted.partition_point(|other| span(other, 0).0 < x0 - reach - widest);
        for other in &sorted[first..] {
            let reach = least.min(reach_mm);
            if span(other, 0).0 > x1 + reach {
                break;
            }
            let (v0, v1) = span(other, 1);
            if v0 <= y1 + reach && v1 >= y0 - reach {
                least = least.min(between_segments(line.0, line.1, other.0, other.1));
            }
        }
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The shadow of a plate.
    fn plate([x, y]: P2, [w, d]: P2) -> Shadow {
        let corners = [[x, y, 0.0], [x + w, y, 0.0], [x + w, y + d, 0.0], [x, y + d, 0.0]];
        let points: Vec<[f64; 3]> =
            [1.0, 0.0].iter().flat_map(|&z| corners.map(|[x, y, _]| [x, y, z])).collect();
        let walls = (0..4u32).flat_map(|i| {
            let j = (i + 1) % 4;
            [[i, i + 4, j + 4], [i, j + 4, j]]
        });
        let triangles = [[0, 1, 2], [0, 2, 3], [4, 6, 5], [4, 7, 6]].into_iter().chain(walls).collect();
        Shadow::new(&points, &Mesh { points: points.clone(), triangles })
    }

    fn square([x, y]: P2, side: f64) -> Vec<P2> {
        vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]]
    }

    #[test]
    fn a_shadow_in_the_hollow_of_a_kept_out_area_does_not_meet_it() {
        let ell = [[0., 0.], [80., 0.], [80., 10.], [20., 10.], [20., 30.], [0., 30.]];
        // The mean of the six corners lies under this plate, outside the area.
        assert!(!plate([20., 10.], [40., 40.]).meets_polygon(&ell));
        assert!(!plate([20. - 1e-7, 10.], [40., 40.]).meets_polygon(&ell));
        assert!(plate([19.99, 10.], [40., 40.]).meets_polygon(&ell));
        let clockwise: Vec<P2> = ell.into_iter().rev().collect();
        assert!(!plate([20., 10.], [40., 40.]).meets_polygon(&clockwise));
        assert!(plate([19.99, 10.], [40., 40.]).meets_polygon(&clockwise));
    }

    #[test]
    fn a_shadow_in_line_with_a_kept_out_area_meets_it_though_no_lines_cross() {
        let area = square([0., 0.], 60.);
        assert!(plate([0., 0.], [60., 60.]).meets_polygon(&area), "equal");
        assert!(plate([0., -30.], [60., 60.]).meets_polygon(&area), "half over it, sides in line");
        assert!(plate([-9., -9.], [90., 90.]).meets_polygon(&area), "all over it");
        assert!(plate([20., 20.], [5., 5.]).meets_polygon(&area), "within it");
        assert!(!plate([0., -60.], [60., 60.]).meets_polygon(&area), "beside it");
        assert!(!plate([60., 60.], [60., 60.]).meets_polygon(&area), "corner to corner");
    }

    #[test]
    fn a_shadow_around_a_small_one_is_at_no_distance_whichever_line_it_lies_under() {
        // The first corner of the small one lies on the diagonal of the large one.
        let (large, small) = (plate([0., 0.], [60., 60.]), plate([20., 20.], [5., 5.]));
        assert_eq!(large.distance_mm(&small, 5.0), 0.0);
        assert_eq!(small.distance_mm(&large, 5.0), 0.0);
        assert!((plate([64., 0.], [9., 60.]).distance_mm(&large, 5.0) - 4.0).abs() < 1e-12);
    }
}
