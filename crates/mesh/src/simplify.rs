//! Fewer triangles: collapses the edges that matter least to the surface, keeping it closed.
//!
//! How: every vertex carries the sum of squared distances to the planes of its triangles, weighted
//! by area; the edge whose best meeting point costs least goes first. A collapse must keep the
//! surface a manifold (the two ends share exactly the corners opposite the edge), turn no triangle
//! over and make no needle. Half meshes of mirrored shapes, open along x = 0, stay on it
//! along their rim, and no inner edge joins two rim points, so the reflected whole stays a manifold.
//! Source: "Surface simplification using quadric error metrics" (1997, from memory).
//! Same input, same result: ties go by vertex number.

use crate::edges::QuickSet;
use crate::vec3::{add, cross, dot, length, scale, sub};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Weight of edge length against plane error, so flat areas lose short edges first and stay even.
const EVENNESS: f64 = 2e-4;

/// A triangle may not become thinner than this share of its longest side: thinner ones could fold
/// when coordinates are rounded to 0.01 mm.
const THINNEST: f64 = 0.04;

/// Weight of a point that is kept, as of three planes of this area through it (ours).
const KEPT_WEIGHT_MM2: f64 = 1e4;

/// Points in mm and triangles over them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// Positions, mm.
    pub points: Vec<[f64; 3]>,
    /// Triples of indices into `points`, counter-clockwise from outside.
    pub triangles: Vec<[u32; 3]>,
}

/// Collapses edges until about `n_triangles` are left, or none can go; those that would move points of
/// `kept` go last.
pub fn simplify(mesh: Mesh, n_triangles: usize, mirrored: bool, kept: &[[f64; 3]]) -> Mesh {
    let mut state = State::new(mesh, mirrored);
    state.keep(kept);
    state.run(n_triangles);
    state.compact()
}

/// Squared distance to a set of planes: x'Ax - 2b'x + c.
#[derive(Clone, Copy, Default)]
struct Quadric {
    a: [f64; 6],
    b: [f64; 3],
    c: f64,
}

impl Quadric {
    fn add_plane(&mut self, normal: [f64; 3], offset: f64, weight: f64) {
        let [x, y, z] = normal;
        for (slot, product) in self.a.iter_mut().zip([x * x, x * y, x * z, y * y, y * z, z * z]) {
            *slot += weight * product;
        }
        for (slot, n) in self.b.iter_mut().zip(normal) {
            *slot += weight * n * offset;
        }
        self.c += weight * offset * offset;
    }

    fn plus(&self, other: &Self) -> Self {
        Self {
            a: std::array::from_fn(|i| self.a[i] + other.a[i]),
            b: add(self.b, other.b),
            c: self.c + other.c,
        }
    }

    fn times(&self, p: [f64; 3]) -> [f64; 3] {
        let a = &self.a;
        [
            a[0] * p[0] + a[1] * p[1] + a[2] * p[2],
            a[1] * p[0] + a[3] * p[1] + a[4] * p[2],
            a[2] * p[0] + a[4] * p[1] + a[5] * p[2],
        ]
    }

    fn cost(&self, p: [f64; 3]) -> f64 {
        (dot(p, self.times(p)) - 2.0 * dot(self.b, p) + self.c).max(0.0)
    }

    /// The point of least cost near `start`; `None` where the planes do not fix one.
    fn best(&self, start: [f64; 3], pull: f64) -> Option<[f64; 3]> {
        // Solved about `start`, with a slight pull to it, so flat areas stay well posed.
        let right = sub(self.b, self.times(start));
        let a = &self.a;
        let rows = [[a[0] + pull, a[1], a[2]], [a[1], a[3] + pull, a[4]], [a[2], a[4], a[5] + pull]];
        let determinant = dot(rows[0], cross(rows[1], rows[2]));
        if determinant.abs() < 1e-30 {
            return None;
        }
        let inverse = 1.0 / determinant;
        let solved = [
            dot(right, cross(rows[1], rows[2])) * inverse,
            dot(right, cross(rows[2], rows[0])) * inverse,
            dot(right, cross(rows[0], rows[1])) * inverse,
        ];
        Some(add(start, solved))
    }
}

/// An edge in the queue; stale where one of its ends has changed since.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Entry {
    /// Bits of the cost: costs are not negative, so their bits order as they do.
    cost_bits: u64,
    ends: [u32; 2],
    stamps: [u32; 2],
}

struct State {
    points: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    alive: Vec<bool>,
    n_alive: usize,
    around: Vec<Vec<u32>>,
    quadrics: Vec<Quadric>,
    stamps: Vec<u32>,
    /// Points of the open rim at x = 0.
    on_rim: Vec<bool>,
    queue: BinaryHeap<Reverse<Entry>>,
}

impl State {
    fn new(mesh: Mesh, mirrored: bool) -> Self {
        let n = mesh.points.len();
        let on_rim: Vec<bool> = mesh.points.iter().map(|p| mirrored && p[0] == 0.0).collect();
        let mut around = vec![Vec::new(); n];
        let mut quadrics = vec![Quadric::default(); n];
        for (index, triangle) in mesh.triangles.iter().enumerate() {
            let [p, q, r] = triangle.map(|i| mesh.points[i as usize]);
            let area2 = cross(sub(q, p), sub(r, p));
            let twice_area = length(area2);
            for &corner in triangle {
                around[corner as usize].push(index as u32);
                if twice_area > 0.0 {
                    let normal = scale(area2, 1.0 / twice_area);
                    let (quadric, offset) = (&mut quadrics[corner as usize], dot(normal, p));
                    quadric.add_plane(normal, offset, twice_area / 6.0);
                    if on_rim[corner as usize] {
                        quadric.add_plane([-normal[0], normal[1], normal[2]], offset, twice_area / 6.0);
                    }
                }
            }
        }
        Self {
            alive: vec![true; mesh.triangles.len()],
            n_alive: mesh.triangles.len(),
            points: mesh.points,
            triangles: mesh.triangles,
            around,
            quadrics,
            stamps: vec![0; n],
            on_rim,
            queue: BinaryHeap::new(),
        }
    }

    /// Makes it dear to move these points.
    fn keep(&mut self, kept: &[[f64; 3]]) {
        let kept: QuickSet<[u64; 3]> = kept.iter().map(|p| p.map(f64::to_bits)).collect();
        for (p, quadric) in self.points.iter().zip(&mut self.quadrics) {
            if kept.contains(&p.map(f64::to_bits)) {
                for (axis, &at_mm) in p.iter().enumerate() {
                    let normal = std::array::from_fn(|k| if k == axis { 1.0 } else { 0.0 });
                    quadric.add_plane(normal, at_mm, KEPT_WEIGHT_MM2);
                }
            }
        }
    }

    fn run(&mut self, n_triangles: usize) {
        for index in 0..self.triangles.len() {
            let [a, b, c] = self.triangles[index];
            for (from, to) in [(a, b), (b, c), (c, a)] {
                if from < to || (self.on_rim[from as usize] && self.on_rim[to as usize]) {
                    self.enqueue(from, to);
                }
            }
        }
        while self.n_alive > n_triangles {
            let Some(Reverse(entry)) = self.queue.pop() else { break };
            let [a, b] = entry.ends;
            if self.stamps[a as usize] == entry.stamps[0] && self.stamps[b as usize] == entry.stamps[1] {
                self.collapse(a, b);
            }
        }
    }

    fn enqueue(&mut self, a: u32, b: u32) {
        let (a, b) = (a.min(b), a.max(b));
        if let Some((_, cost)) = self.meeting_point(a, b) {
            let stamps = [self.stamps[a as usize], self.stamps[b as usize]];
            self.queue.push(Reverse(Entry { cost_bits: cost.to_bits(), ends: [a, b], stamps }));
        }
    }

    /// Where the edge would shrink to, and what that costs.
    fn meeting_point(&self, a: u32, b: u32) -> Option<([f64; 3], f64)> {
        let (p, q) = (self.points[a as usize], self.points[b as usize]);
        let rims = [self.on_rim[a as usize], self.on_rim[b as usize]];
        let quadric = self.quadrics[a as usize].plus(&self.quadrics[b as usize]);
        let middle = match rims {
            [true, false] => p,
            [false, true] => q,
            _ => scale(add(p, q), 0.5),
        };
        let edge = sub(p, q);
        let long2 = dot(edge, edge);
        let mut point = match quadric.best(middle, 1e-3 * quadric.a[0].max(quadric.a[3]).max(quadric.a[5])) {
            Some(best) if dot(sub(best, middle), sub(best, middle)) <= 4.0 * long2 => best,
            _ => middle,
        };
        if rims[0] || rims[1] {
            point[0] = 0.0;
        } else if (p[0] > 0.0) == (q[0] > 0.0) && point[0] * p[0] <= 0.0 {
            point = middle;
        }
        Some((point, quadric.cost(point) + EVENNESS * long2 * long2))
    }

    fn neighbours(&self, v: u32) -> Vec<u32> {
        let mut found: Vec<u32> = self.around[v as usize]
            .iter()
            .flat_map(|&t| self.triangles[t as usize])
            .filter(|&w| w != v)
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    fn collapse(&mut self, a: u32, b: u32) {
        let Some((point, _)) = self.meeting_point(a, b) else { return };
        let shared: Vec<u32> =
            self.around[a as usize].iter().copied().filter(|t| self.around[b as usize].contains(t)).collect();
        let (near_a, near_b) = (self.neighbours(a), self.neighbours(b));
        let n_common = near_a.iter().filter(|v| near_b.contains(v)).count();
        let rims = [self.on_rim[a as usize], self.on_rim[b as usize]];
        if n_common != shared.len()
            || shared.is_empty()
            || self.around[a as usize].len() + self.around[b as usize].len() < 8
        {
            return;
        }
        match (rims, shared.len()) {
            ([true, true], 1) | ([false, false], 2) => {}
            ([true, false], 2) if !near_b.iter().any(|&v| v != a && self.on_rim[v as usize]) => {}
            ([false, true], 2) if !near_a.iter().any(|&v| v != b && self.on_rim[v as usize]) => {}
            _ => return,
        }
        let keeps = |from: u32, to: u32| {
            self.around[from as usize].iter().filter(|t| !shared.contains(t)).all(|&t| {
                let old = self.triangles[t as usize].map(|i| self.points[i as usize]);
                let mut new = old;
                for (slot, &corner) in self.triangles[t as usize].iter().enumerate() {
                    if corner == from || corner == to {
                        new[slot] = point;
                    }
                }
                stays_sound(old, new)
            })
        };
        if !keeps(a, b) || !keeps(b, a) {
            return;
        }
        // Two rim points may only be joined along the rim.
        if (rims[0] || rims[1])
            && near_a.iter().chain(&near_b).any(|&v| {
                v != a && v != b && self.on_rim[v as usize] && {
                    let n_edge = self.around[v as usize]
                        .iter()
                        .filter(|&&t| !shared.contains(&t))
                        .filter(|&&t| self.triangles[t as usize].iter().any(|c| *c == a || *c == b))
                        .count();
                    n_edge > 1
                }
            })
        {
            return;
        }
        self.merge(a, b, point, &shared);
    }

    fn merge(&mut self, a: u32, b: u32, point: [f64; 3], shared: &[u32]) {
        self.points[a as usize] = point;
        self.on_rim[a as usize] |= self.on_rim[b as usize];
        self.quadrics[a as usize] = self.quadrics[a as usize].plus(&self.quadrics[b as usize]);
        for &t in shared {
            self.alive[t as usize] = false;
            self.n_alive -= 1;
            for corner in self.triangles[t as usize] {
                self.around[corner as usize].retain(|&other| other != t);
            }
        }
        let moved = std::mem::take(&mut self.around[b as usize]);
        for &t in &moved {
            for corner in &mut self.triangles[t as usize] {
                if *corner == b {
                    *corner = a;
                }
            }
        }
        self.around[a as usize].extend(moved);
        self.stamps[a as usize] += 1;
        self.stamps[b as usize] += 1;
        for v in self.neighbours(a) {
            self.enqueue(a, v);
        }
    }

    /// The living triangles in their order, points in the order of first use.
    fn compact(self) -> Mesh {
        let mut new_index = vec![u32::MAX; self.points.len()];
        let mut mesh = Mesh::default();
        for (index, triangle) in self.triangles.iter().enumerate() {
            if !self.alive[index] {
                continue;
            }
            mesh.triangles.push(triangle.map(|old| {
                if new_index[old as usize] == u32::MAX {
                    new_index[old as usize] = mesh.points.len() as u32;
                    mesh.points.push(self.points[old as usize]);
                }
                new_index[old as usize]
            }));
        }
        mesh
    }
}

/// The triangle keeps its side, turns by less than about 50 degrees and becomes no needle.
fn stays_sound(old: [[f64; 3]; 3], new: [[f64; 3]; 3]) -> bool {
    let area2 = |t: [[f64; 3]; 3]| cross(sub(t[1], t[0]), sub(t[2], t[0]));
    let longest2 =
        |t: [[f64; 3]; 3]| (0..3).map(|i| sub(t[i], t[(i + 1) % 3])).map(|e| dot(e, e)).fold(0.0, f64::max);
    let (before, after) = (area2(old), area2(new));
    let (size_before, size_after) = (length(before), length(after));
    let thin_before = size_before / longest2(old).max(1e-12);
    let thin_after = size_after / longest2(new).max(1e-12);
    (thin_after > THINNEST || thin_after > thin_before)
        && (size_before < 1e-6 || dot(before, after) > 0.65 * size_before * size_after)
}
