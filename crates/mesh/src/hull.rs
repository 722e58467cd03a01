//! Convex hulls of points in space, exact.
//!
//! How: a tetrahedron of far points grows by the point farthest from one of its faces. The faces
//! that point sees go, and new ones join it to their rim. Each face keeps the points that see it,
//! so a point is looked at again only where the hull changed near it.
//! Exact: which side of a face a point is on is decided by a plain product where rounding cannot
//! turn it, else by an exact predicate; a point in a face's plane does not see it. So faces that lie
//! in one plane, repeated points and rounded rims need no tolerance, and no point is left outside.
//! Units: millimetres, any unit in fact.
//! Cost: O(n log n) for points as they come from meshes.
//! Source: the growing hull after "The quickhull algorithm for convex hulls" (1996),
//! doi:10.1145/235815.235821 (DOI from memory); the predicate of the crate `robust`.

use crate::vec3;
use robust::{Coord3D, orient3d};

/// A convex hull: closed, outward.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hull {
    /// Corners, a subset of the input in its order; a few may lie on an edge or in a face.
    pub points_mm: Vec<[f64; 3]>,
    /// Faces, empty where the input is flat.
    pub triangles: Vec<[u32; 3]>,
}

/// The convex hull of `points_mm`. Where the points lie in a plane all of them come back without
/// faces: extents over them stay right.
pub fn convex_hull(points_mm: &[[f64; 3]]) -> Hull {
    match first_four(points_mm) {
        Some(first) => Growing::new(points_mm, first).grow(),
        None => Hull { points_mm: points_mm.to_vec(), triangles: Vec::new() },
    }
}

/// Rounding of a face's product, as a share of the lengths multiplied: six products of three
/// differences each, and the sums between them, at 1.1e-16 a step, are below 1e-14.
const ROUNDING: f64 = 1e-13;

/// No face, no vertex.
const NONE: u32 = u32::MAX;

struct Face {
    corners: [u32; 3],
    /// The face across each edge; edge `i` runs from corner `i` to the next.
    across: [u32; 3],
    /// Outward, as long as twice the area.
    normal: [f64; 3],
    /// Products at most this far from zero are decided exactly.
    unsure: f64,
    /// Points that see it, each kept by one face only.
    seen_by: Vec<u32>,
    /// The farthest of them, and its product.
    farthest: (f64, u32),
    alive: bool,
    /// Serial number of the point that was last asked whether it sees the face, and its answer.
    asked: (u32, bool),
}

/// An edge between a face that is seen and one that is not.
struct Rim {
    from: u32,
    to: u32,
    /// The face that is not seen, and the number of the edge there.
    beyond: u32,
    edge: usize,
}

struct Growing<'a> {
    points: &'a [[f64; 3]],
    longest_mm: f64,
    faces: Vec<Face>,
}

/// Four points that span space: far apart, the last to the inner side of the others' plane.
fn first_four(points: &[[f64; 3]]) -> Option<[u32; 4]> {
    // Ties go to the first; equal points never win over an earlier one.
    let most = |value: &dyn Fn([f64; 3]) -> f64| {
        let mut best = (f64::NEG_INFINITY, 0);
        for (index, &p) in points.iter().enumerate() {
            let v = value(p);
            if v > best.0 {
                best = (v, index);
            }
        }
        best.1
    };
    if points.len() < 4 {
        return None;
    }
    let a = most(&|p| -p[0]);
    let from_a = |p| vec3::sub(p, points[a]);
    let b = most(&|p| vec3::dot(from_a(p), from_a(p)));
    let along = from_a(points[b]);
    let off = |p| vec3::cross(along, from_a(p));
    let c = most(&|p| vec3::dot(off(p), off(p)));
    let normal = off(points[c]);
    let d = most(&|p| vec3::dot(normal, from_a(p)).abs());
    let side = sees(points, [a as u32, b as u32, c as u32], points[d]);
    match side {
        Side::Outside => Some([a as u32, c as u32, b as u32, d as u32]),
        Side::Inside => Some([a as u32, b as u32, c as u32, d as u32]),
        Side::On => None,
    }
}

#[derive(PartialEq)]
enum Side {
    Outside,
    On,
    Inside,
}

/// Where `p` is, exactly.
fn sees(points: &[[f64; 3]], corners: [u32; 3], p: [f64; 3]) -> Side {
    let coord = |[x, y, z]: [f64; 3]| Coord3D { x, y, z };
    let [a, b, c] = corners.map(|i| coord(points[i as usize]));
    // Positive where `p` is below the plane, from where a, b, c run clockwise.
    let below = orient3d(a, b, c, coord(p));
    if below < 0.0 {
        Side::Outside
    } else if below > 0.0 {
        Side::Inside
    } else {
        Side::On
    }
}

impl<'a> Growing<'a> {
    fn new(points: &'a [[f64; 3]], [a, b, c, d]: [u32; 4]) -> Self {
        let (mut low, mut high) = (points[0], points[0]);
        for p in points {
            low = std::array::from_fn(|k| low[k].min(p[k]));
            high = std::array::from_fn(|k| high[k].max(p[k]));
        }
        let longest_mm = (0..3).map(|k| high[k] - low[k]).fold(0.0, f64::max);
        let mut hull = Self { points, longest_mm, faces: Vec::new() };
        // `d` is inside of a, b, c: the other three faces run the edges backward.
        hull.add([a, b, c], [1, 2, 3]);
        hull.add([b, a, d], [0, 3, 2]);
        hull.add([c, b, d], [0, 1, 3]);
        hull.add([a, c, d], [0, 2, 1]);
        let all: Vec<u32> = (0..points.len() as u32).filter(|i| ![a, b, c, d].contains(i)).collect();
        hull.hand_out(&all, 0);
        hull
    }

    fn add(&mut self, corners: [u32; 3], across: [u32; 3]) {
        let [a, b, c] = corners.map(|i| self.points[i as usize]);
        let (u, v) = (vec3::sub(b, a), vec3::sub(c, a));
        let size = |d: [f64; 3]| d[0].abs().max(d[1].abs()).max(d[2].abs());
        self.faces.push(Face {
            corners,
            across,
            normal: vec3::cross(u, v),
            unsure: ROUNDING * size(u) * size(v) * self.longest_mm,
            seen_by: Vec::new(),
            farthest: (0.0, NONE),
            alive: true,
            asked: (NONE, false),
        });
    }

    /// The product of face and point, positive where the point sees the face.
    fn product(&self, face: usize, point: u32) -> f64 {
        let Face { corners, normal, .. } = &self.faces[face];
        let from = self.points[corners[0] as usize];
        vec3::dot(*normal, vec3::sub(self.points[point as usize], from))
    }

    fn is_seen(&self, face: usize, point: u32, product: f64) -> bool {
        let unsure = self.faces[face].unsure;
        product > unsure
            || (product >= -unsure
                && sees(self.points, self.faces[face].corners, self.points[point as usize]) == Side::Outside)
    }

    /// Gives each point to the first face from `first` on that it sees; the others are inside.
    fn hand_out(&mut self, points: &[u32], first: usize) {
        for &point in points {
            for face in first..self.faces.len() {
                let product = self.product(face, point);
                if self.is_seen(face, point, product) {
                    let face = &mut self.faces[face];
                    if face.seen_by.is_empty() || product > face.farthest.0 {
                        face.farthest = (product, point);
                    }
                    face.seen_by.push(point);
                    break;
                }
            }
        }
    }

    fn grow(mut self) -> Hull {
        // The new face whose rim edge starts at a vertex; only entries of the current rim are read.
        let mut starting_at = vec![NONE; self.points.len()];
        let mut next = 0;
        // Faces are only added, and each one loses its points for good when it is done.
        while next < self.faces.len() {
            if !self.faces[next].alive || self.faces[next].seen_by.is_empty() {
                next += 1;
                continue;
            }
            let point = self.faces[next].farthest.1;
            let (seen, rim) = self.seen_from(next, point);
            let first = self.faces.len();
            for &Rim { from, to, beyond, edge } in &rim {
                let made = self.faces.len() as u32;
                starting_at[from as usize] = made;
                self.faces[beyond as usize].across[edge] = made;
                self.add([from, to, point], [beyond, NONE, NONE]);
            }
            for made in first..self.faces.len() {
                // The rim is one loop: where this edge ends another starts.
                let after = starting_at[self.faces[made].corners[1] as usize];
                self.faces[made].across[1] = after;
                self.faces[after as usize].across[2] = made as u32;
            }
            for face in seen {
                let face = &mut self.faces[face];
                face.alive = false;
                let mut waiting = std::mem::take(&mut face.seen_by);
                waiting.retain(|&p| p != point);
                // A point that saw a face now gone and is still outside sees one of the new ones.
                self.hand_out(&waiting, first);
            }
        }
        self.finished()
    }

    /// The faces `point` sees, found outward from `start`, and the edges around them.
    fn seen_from(&mut self, start: usize, point: u32) -> (Vec<usize>, Vec<Rim>) {
        self.faces[start].asked = (point, true);
        let mut seen = vec![start];
        let mut rim = Vec::new();
        let mut done = 0;
        while done < seen.len() {
            let face = seen[done];
            done += 1;
            for edge in 0..3 {
                let beyond = self.faces[face].across[edge] as usize;
                if self.faces[beyond].asked.0 != point {
                    let answer = self.is_seen(beyond, point, self.product(beyond, point));
                    self.faces[beyond].asked = (point, answer);
                    if answer {
                        seen.push(beyond);
                    }
                }
                if !self.faces[beyond].asked.1 {
                    let corners = self.faces[face].corners;
                    let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
                    // Neighbours run their edge opposite ways, so one of its corners is `to`.
                    let edge = (0..3).find(|&k| self.faces[beyond].corners[k] == to).unwrap_or(0);
                    rim.push(Rim { from, to, beyond: beyond as u32, edge });
                }
            }
        }
        (seen, rim)
    }

    fn finished(self) -> Hull {
        let mut name = vec![NONE; self.points.len()];
        for face in self.faces.iter().filter(|face| face.alive) {
            face.corners.iter().for_each(|&i| name[i as usize] = 0);
        }
        let mut points_mm = Vec::new();
        for (index, name) in name.iter_mut().enumerate().filter(|(_, name)| **name == 0) {
            *name = points_mm.len() as u32;
            points_mm.push(self.points[index]);
        }
        let kept = self.faces.iter().filter(|face| face.alive);
        let triangles = kept.map(|face| face.corners.map(|i| name[i as usize])).collect();
        Hull { points_mm, triangles }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    /// What every hull promises: closed, convex, and no point outside; all exactly.
    fn check(points: &[[f64; 3]]) -> Hull {
        let hull = convex_hull(points);
        let mut edges = HashSet::new();
        for &corners in &hull.triangles {
            for i in 0..3 {
                assert!(edges.insert((corners[i], corners[(i + 1) % 3])), "an edge used twice one way");
            }
            for &p in points {
                assert!(sees(&hull.points_mm, corners, p) != Side::Outside, "{p:?} is outside");
            }
        }
        assert!(edges.iter().all(|&(a, b)| edges.contains(&(b, a))), "open");
        if !hull.triangles.is_empty() {
            assert_eq!(hull.triangles.len(), 2 * hull.points_mm.len() - 4, "Euler");
        }
        assert!(hull.points_mm.iter().all(|p| points.contains(p)));
        hull
    }

    fn volume_mm3(hull: &Hull) -> f64 {
        let from = |t: &[u32; 3]| t.map(|i| vec3::sub(hull.points_mm[i as usize], hull.points_mm[0]));
        let tetrahedra = hull.triangles.iter().map(from);
        tetrahedra.map(|[a, b, c]| vec3::dot(a, vec3::cross(b, c))).sum::<f64>() / 6.0
    }

    #[test]
    fn a_cube_of_many_points_has_eight_corners_and_its_volume() {
        let at = |i: usize| [(i % 5) as f64, (i / 5 % 5) as f64, (i / 25) as f64];
        let points: Vec<[f64; 3]> = (0..125).map(at).chain((0..125).map(at)).collect();
        let hull = check(&points);
        assert_eq!(volume_mm3(&hull), 64.0);
        let corner = |p: &[f64; 3]| p.iter().all(|&c| c == 0.0 || c == 4.0);
        assert_eq!(hull.points_mm.iter().filter(|p| corner(p)).count(), 8);
    }

    #[test]
    fn every_point_of_a_sphere_is_a_corner() {
        let n = 700;
        let points: Vec<[f64; 3]> = (0..n)
            .map(|i| {
                let z = 1.0 - (2.0 * f64::from(i) + 1.0) / f64::from(n);
                let r = (1.0 - z * z).sqrt();
                [50.0 * r * libm::cos(2.4 * f64::from(i)), 50.0 * r * libm::sin(2.4 * f64::from(i)), 50.0 * z]
            })
            .collect();
        let hull = check(&points);
        assert_eq!(hull.points_mm, points);
        // A polyhedron in a ball of 50 mm whose faces are about 4.5 mm wide.
        let ball = 4.0 / 3.0 * std::f64::consts::PI * 125_000.0;
        assert!(volume_mm3(&hull) < ball && volume_mm3(&hull) > 0.98 * ball, "{}", volume_mm3(&hull));
    }

    #[test]
    fn flat_points_come_back_without_faces() {
        let grid: Vec<[f64; 3]> = (0..16).map(|i| [(i % 4) as f64, (i / 4) as f64, 7.0]).collect();
        let line: Vec<[f64; 3]> = (0..9).map(|i| [f64::from(i), 2.0 * f64::from(i), 0.0]).collect();
        for points in [grid, line, vec![[1.0, 2.0, 3.0]; 6], vec![[0.0; 3]; 2], Vec::new()] {
            assert_eq!(convex_hull(&points), Hull { points_mm: points, triangles: Vec::new() });
        }
    }

    #[test]
    fn hulls_of_points_on_few_grid_lines_are_exact_and_know_no_order() {
        arbtest::arbtest(|u| {
            // A coarse grid makes many points lie in one plane, on one line or in one place.
            let n = u.int_in_range(4..=60)?;
            let most = u.int_in_range(1..=6)?;
            let mut points = Vec::new();
            for _ in 0..n {
                let mut draw = || u.int_in_range(0..=most).map(f64::from);
                points.push([draw()?, draw()?, draw()?]);
            }
            let hull = check(&points);
            let volume = volume_mm3(&hull);
            points.reverse();
            let again = check(&points);
            // Sums of whole numbers, over six.
            assert!((volume_mm3(&again) - volume).abs() < 1e-9);
            Ok(())
        })
        .budget_ms(1_500);
    }
}
