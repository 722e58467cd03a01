//! The true shadow of a posed thing on the bed, and how near two shadows come.
//!
//! How: the rim of a shadow is part of the projection of those edges whose one triangle faces up
//! and whose other does not. Two shadows overlap if such lines cross or one holds a point of
//! the other. Lines of that kind inside a shadow do no harm: where they are near, so is the shadow.
//! Hulls are asked first: where they stand apart, as in most lays, nothing else is looked at.
//! Units: mm on the bed.

use std::cell::OnceCell;

use super::flat::{P2, between_segments, cross_inside, depth_in_hull, dist2, in_polygon, to_segment, turn};
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

    /// Whether the shadow holds a point.
    fn holds(&self, p: P2) -> bool {
        depth_in_hull(p, &self.hull) >= 0.0
            && self.triangles.iter().any(|t| {
                let [a, b, c] = t.map(|i| self.points[i as usize]);
                turn(a, b, c) > 0.0 && turn(a, b, p) > 0.0 && turn(b, c, p) > 0.0 && turn(c, a, p) > 0.0
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

    /// Whether the shadow meets a polygon by more than a touch.
    pub fn meets_polygon(&self, polygon: &[P2]) -> bool {
        if polygon.len() < 3 {
            return false;
        }
        let crossed =
            self.rim().iter().any(|&(a, b)| ring(polygon).iter().any(|&(c, d)| cross_deeply(a, b, c, d)));
        let clear = |p: P2, lines: &[(P2, P2)]| lines.iter().all(|&(a, b)| to_segment(p, a, b).0 > TOUCH_MM);
        let held = |p: P2| self.holds(p) && clear(p, self.rim());
        let inside = |p: P2| in_polygon(p, polygon) && clear(p, &ring(polygon));
        crossed
            || self.rim().first().is_some_and(|line| inside(line.0))
            || polygon.iter().any(|&p| held(p))
            || held(middle(polygon))
    }
}

/// Whether two lines cross, each with both ends more than a touch away from the other.
fn cross_deeply(a: P2, b: P2, c: P2, d: P2) -> bool {
    let far = |from: P2, to: P2, p: P2| turn(from, to, p).abs() > TOUCH_MM * dist2(from, to).sqrt();
    cross_inside(a, b, c, d) && far(a, b, c) && far(a, b, d) && far(c, d, a) && far(c, d, b)
}

fn middle(polygon: &[P2]) -> P2 {
    let n = polygon.len() as f64;
    [polygon.iter().map(|p| p[0]).sum::<f64>() / n, polygon.iter().map(|p| p[1]).sum::<f64>() / n]
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
