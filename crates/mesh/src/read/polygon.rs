//! Polygons of a file into triangles: convex ones as a fan, others by clipping ears.
//!
//! How: project on the plane of the Newell normal; while more than three corners are left, clip
//! the corner that turns left and holds no other corner. Where none qualifies (a polygon that
//! crosses itself) the least bad corner goes, so every polygon of n corners gives n - 2 triangles
//! and its edges stay: neighbours never see a gap.
//! A hole joined to the rim by a double edge (a common way to write holes) works, because corners
//! at the ear's own points do not block it.
//! Cost: O(n) for convex polygons, O(n^2) else; a budget per file keeps hostile input short.
//! Source: "Polygons have ears" (1975), doi:10.2307/2319703 (from memory).

use crate::vec3;

/// Corner tests a file may cost: about a second, and far beyond any real export (ten million
/// concave quads cost 80 million).
const MAX_CORNER_TESTS: u64 = 300_000_000;

/// Turns polygons into triangles; remembers the work done for the whole file.
pub struct Triangulator {
    tests_left: u64,
    flat: Vec<[f64; 2]>,
    ring: Vec<u32>,
}

/// The polygons of the file are too intricate to triangulate here.
pub struct TooIntricate;

impl Triangulator {
    /// For one file.
    pub fn new() -> Self {
        Self { tests_left: MAX_CORNER_TESTS, flat: Vec::new(), ring: Vec::new() }
    }

    /// Appends the triangles of `polygon` (indices into `points`, all in range) to `triangles`.
    /// Fewer than three corners give none.
    ///
    /// # Errors
    /// [`TooIntricate`] once the file's budget is used up.
    pub fn add(
        &mut self,
        points: &[[f64; 3]],
        polygon: &[u32],
        triangles: &mut Vec<[u32; 3]>,
    ) -> Result<(), TooIntricate> {
        match *polygon {
            [] | [_] | [_, _] => return Ok(()),
            [a, b, c] => {
                triangles.push([a, b, c]);
                return Ok(());
            }
            _ => {}
        }
        if !self.project(points, polygon) || self.is_strictly_convex() {
            triangles.extend(polygon.windows(2).skip(1).map(|edge| [polygon[0], edge[0], edge[1]]));
            return Ok(());
        }
        self.clip_ears(polygon, triangles)
    }

    /// Corners in the polygon's own plane, counter-clockwise; false where it has no area.
    fn project(&mut self, points: &[[f64; 3]], polygon: &[u32]) -> bool {
        let at = |corner: usize| points[polygon[corner % polygon.len()] as usize];
        let origin = at(0);
        let mut normal = [0.0; 3];
        for corner in 0..polygon.len() {
            let (a, b) = (vec3::sub(at(corner), origin), vec3::sub(at(corner + 1), origin));
            normal = vec3::add(normal, vec3::cross(a, b));
        }
        let Some(normal) = vec3::unit(normal).filter(|n| n.iter().all(|c| c.is_finite())) else {
            return false;
        };
        let (u, v) = vec3::frame_of(normal);
        self.flat.clear();
        self.flat.extend((0..polygon.len()).map(|corner| {
            let from_origin = vec3::sub(at(corner), origin);
            [vec3::dot(from_origin, u), vec3::dot(from_origin, v)]
        }));
        true
    }

    /// Every corner turns left and they turn once around in all.
    fn is_strictly_convex(&self) -> bool {
        let n = self.flat.len();
        let mut n_x_turns = 0;
        for i in 0..n {
            let (a, b, c) = (self.flat[i], self.flat[(i + 1) % n], self.flat[(i + 2) % n]);
            // Relative to the edges, so that a corner on a straight side counts as not convex and
            // is not fanned into a triangle without area.
            let (long_a, long_b) = (distance(a, b), distance(b, c));
            if turn(a, b, c) <= 1e-9 * long_a * long_b {
                return false;
            }
            n_x_turns += usize::from((b[0] - a[0] >= 0.0) != (c[0] - b[0] >= 0.0));
        }
        n_x_turns <= 2
    }

    fn clip_ears(&mut self, polygon: &[u32], triangles: &mut Vec<[u32; 3]>) -> Result<(), TooIntricate> {
        self.ring.clear();
        self.ring.extend(0..polygon.len() as u32);
        let mut start = 0;
        while self.ring.len() > 3 {
            let n = self.ring.len();
            let mut chosen = None;
            let mut least_bad = (f64::NEG_INFINITY, start % n);
            for step in 0..n {
                if self.tests_left == 0 {
                    return Err(TooIntricate);
                }
                let corner = (start + step) % n;
                let [a, b, c] = self.ear(corner);
                let area = turn(a, b, c);
                self.tests_left = self.tests_left.saturating_sub(1);
                if area > 1e-12 * distance(a, b) * distance(b, c) && self.is_empty_ear(corner, [a, b, c]) {
                    chosen = Some(corner);
                    break;
                }
                if area > least_bad.0 {
                    least_bad = (area, corner);
                }
            }
            let corner = chosen.unwrap_or(least_bad.1);
            let [before, at, after] =
                [(corner + n - 1) % n, corner, (corner + 1) % n].map(|i| polygon[self.ring[i] as usize]);
            triangles.push([before, at, after]);
            self.ring.remove(corner);
            // Going on past the neighbour spreads the ears around instead of fanning from one corner.
            start = corner + 1;
        }
        triangles.push([0, 1, 2].map(|i| polygon[self.ring[i] as usize]));
        Ok(())
    }

    fn ear(&self, corner: usize) -> [[f64; 2]; 3] {
        let n = self.ring.len();
        [(corner + n - 1) % n, corner, (corner + 1) % n].map(|i| self.flat[self.ring[i] as usize])
    }

    /// No other corner lies in the triangle or on it; corners at its own points do not count.
    fn is_empty_ear(&mut self, corner: usize, [a, b, c]: [[f64; 2]; 3]) -> bool {
        let n = self.ring.len();
        self.tests_left = self.tests_left.saturating_sub(n as u64);
        !(0..n).filter(|&i| i != corner).any(|i| {
            let p = self.flat[self.ring[i] as usize];
            p != a && p != b && p != c && turn(a, b, p) >= 0.0 && turn(b, c, p) >= 0.0 && turn(c, a, p) >= 0.0
        })
    }
}

/// Twice the area of the triangle; positive where `a -> b -> c` turns left.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    ((b[0] - a[0]) * (b[0] - a[0]) + (b[1] - a[1]) * (b[1] - a[1])).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn areas(points: &[[f64; 3]], polygon: &[u32]) -> Vec<f64> {
        let mut triangles = Vec::new();
        assert!(Triangulator::new().add(points, polygon, &mut triangles).is_ok());
        assert_eq!(triangles.len(), polygon.len() - 2);
        triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| points[i as usize]);
                0.5 * vec3::cross(vec3::sub(b, a), vec3::sub(c, a))[2]
            })
            .collect()
    }

    #[test]
    fn a_concave_polygon_keeps_its_area_with_no_triangle_turned_over() {
        // An L of 3 squares, its reflex corner at (1, 1); seen from +Z counter-clockwise.
        let points = [[0., 0., 0.], [2., 0., 0.], [2., 1., 0.], [1., 1., 0.], [1., 2., 0.], [0., 2., 0.]];
        for turn in 0..6u32 {
            let polygon: Vec<u32> = (0..6).map(|i| (i + turn) % 6).collect();
            let areas = areas(&points, &polygon);
            assert!(areas.iter().all(|&a| a > 0.0), "{areas:?}");
            assert!((areas.iter().sum::<f64>() - 3.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_hole_joined_by_a_double_edge_stays_a_hole() {
        let points = [
            [0., 0., 0.],
            [4., 0., 0.],
            [4., 4., 0.],
            [0., 4., 0.],
            [1., 1., 0.],
            [1., 3., 0.],
            [3., 3., 0.],
            [3., 1., 0.],
        ];
        let areas = areas(&points, &[0, 1, 2, 3, 0, 4, 5, 6, 7, 4]);
        assert!(areas.iter().all(|&a| a >= 0.0), "{areas:?}");
        assert!((areas.iter().sum::<f64>() - 12.0).abs() < 1e-12);
    }

    #[test]
    fn a_corner_on_a_straight_side_is_used_and_gives_no_flat_triangle() {
        let points = [[0., 0., 0.], [1., 0., 0.], [2., 0., 0.], [2., 2., 0.], [0., 2., 0.]];
        let areas = areas(&points, &[0, 1, 2, 3, 4]);
        assert!(areas.iter().all(|&a| a > 0.1), "{areas:?}");
        assert!((areas.iter().sum::<f64>() - 4.0).abs() < 1e-12);
    }

    #[test]
    fn a_polygon_with_too_many_corners_to_clip_is_refused_in_bounded_time() {
        // A comb: every second corner reflex and no ear where the clipping looks first.
        let n = 200_000u32;
        let points: Vec<[f64; 3]> = (0..n)
            .map(|i| [f64::from(i), if i % 2 == 0 { 0.0 } else { 1e-3 * f64::from(i * 7919 % 1000) }, 0.0])
            .collect();
        let polygon: Vec<u32> = (0..n).collect();
        let mut triangles = Vec::new();
        // 200,000 ears of 200,000 tests each are beyond the budget of 3e8.
        assert!(Triangulator::new().add(&points, &polygon, &mut triangles).is_err());
        assert!(triangles.len() < 10_000);
    }
}
