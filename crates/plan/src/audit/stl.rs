//! The audit's own reading of a binary STL, and what can be measured on it.
//!
//! How: 84 bytes of header and count, 50 bytes a triangle; corners with equal f32 coordinates are
//! one point. Normals in the file are ignored.
//! Units and frame: mm, counter-clockwise from outside.
//! Not shared with the reader or writer in crate `mesh`: an audit that reads with the writer's code
//! repeats its mistakes.

use std::collections::HashMap;

/// Bytes before the first triangle.
const HEADER_BYTES: usize = 84;
/// Bytes of one triangle.
const TRIANGLE_BYTES: usize = 50;

/// A triangle mesh with joined points.
pub(super) struct Mesh {
    /// In order of first use.
    pub points: Vec<[f64; 3]>,
    /// In file order.
    pub triangles: Vec<[u32; 3]>,
}

/// What is wrong with the edges of a mesh, and which triangles hang together.
pub(super) struct Edges {
    /// Edges not used equally often both ways.
    pub open: usize,
    /// Edges used by more than two triangles.
    pub nonmanifold: usize,
    /// Middle of the first open edge, or else of the first shared by too many.
    pub first_bad_mm: Option<[f64; 3]>,
    /// Per triangle the number of its body, counted from 0 in order of first triangle.
    pub body: Vec<u32>,
    /// How many bodies.
    pub n_bodies: usize,
    /// How many there are if bodies that touch in a point count as one.
    pub n_point_bodies: usize,
}

/// The bits that decide whether two corners are one point; minus zero is zero.
pub(super) fn point_key(p: [f64; 3]) -> [u32; 3] {
    p.map(|c| (c as f32 + 0.0).to_bits())
}

/// Reads a binary STL.
pub(super) fn parse(bytes: &[u8]) -> Result<Mesh, String> {
    let count = bytes
        .get(80..HEADER_BYTES)
        .and_then(|b| b.try_into().ok())
        .map(u32::from_le_bytes)
        .ok_or_else(|| format!("{} bytes are too few for a binary STL", bytes.len()))?
        as usize;
    if bytes.len() != HEADER_BYTES + TRIANGLE_BYTES * count {
        return Err(format!("{} bytes do not hold the {count} triangles announced", bytes.len()));
    }
    let mut mesh = Mesh { points: Vec::new(), triangles: Vec::with_capacity(count) };
    let mut seen: HashMap<[u32; 3], u32> = HashMap::with_capacity(count / 2 + 8);
    for (index, record) in bytes[HEADER_BYTES..].chunks_exact(TRIANGLE_BYTES).enumerate() {
        let mut triangle = [0; 3];
        for (corner, slot) in triangle.iter_mut().enumerate() {
            let p: [f64; 3] = std::array::from_fn(|axis| {
                let at = 12 + 12 * corner + 4 * axis;
                f64::from(f32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]]))
            });
            if !p.iter().all(|c| c.is_finite()) {
                return Err(format!("triangle {index} has a coordinate that is not a number"));
            }
            *slot = *seen.entry(point_key(p)).or_insert_with(|| {
                mesh.points.push(p);
                (mesh.points.len() - 1) as u32
            });
        }
        mesh.triangles.push(triangle);
    }
    Ok(mesh)
}

impl Mesh {
    /// The corners of a triangle.
    pub fn corners(&self, triangle: [u32; 3]) -> [[f64; 3]; 3] {
        triangle.map(|i| self.points[i as usize])
    }

    /// Lowest and highest coordinate on each axis.
    pub fn box_mm(&self) -> ([f64; 3], [f64; 3]) {
        box_of(&self.points)
    }

    /// Signed volume.
    pub fn volume_mm3(&self) -> f64 {
        self.mass().0
    }

    /// Signed volume and the mass centre of a homogeneous solid.
    pub fn mass(&self) -> (f64, [f64; 3]) {
        // About the middle of the box, so that sums stay small; compensated, so that a million
        // triangles lose no digit.
        let (low, high) = self.box_mm();
        let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        let (mut volume, mut moment) = (Sum::default(), [Sum::default(); 3]);
        for &triangle in &self.triangles {
            let [a, b, c] = self.corners(triangle).map(|p| sub(p, middle));
            let six = dot(a, cross(b, c));
            volume.add(six);
            for k in 0..3 {
                moment[k].add(six * (a[k] + b[k] + c[k]));
            }
        }
        let six = volume.total();
        let centre = std::array::from_fn(|k| middle[k] + moment[k].total() / (4.0 * six));
        (six / 6.0, centre)
    }

    /// Signed volume of each body.
    pub fn body_volumes(&self, edges: &Edges) -> Vec<f64> {
        let (low, high) = self.box_mm();
        let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        let mut volumes = vec![Sum::default(); edges.n_bodies];
        for (&triangle, &body) in self.triangles.iter().zip(&edges.body) {
            let [a, b, c] = self.corners(triangle).map(|p| sub(p, middle));
            volumes[body as usize].add(dot(a, cross(b, c)) / 6.0);
        }
        volumes.iter().map(Sum::total).collect()
    }

    /// Surface area.
    pub fn area_mm2(&self) -> f64 {
        let mut area = Sum::default();
        for &triangle in &self.triangles {
            area.add(triangle_area(self.corners(triangle)));
        }
        area.total()
    }

    /// Counts the uses of every edge and finds the bodies (triangles joined through edges).
    pub fn edges(&self) -> Edges {
        // (undirected edge, triangle, forward?) sorted: uses of one edge stand together.
        let mut uses: Vec<(u64, u32, bool)> = Vec::with_capacity(3 * self.triangles.len());
        for (index, t) in self.triangles.iter().enumerate() {
            for k in 0..3 {
                let (from, to) = (t[k], t[(k + 1) % 3]);
                if from != to {
                    let key = (u64::from(from.min(to)) << 32) | u64::from(from.max(to));
                    uses.push((key, index as u32, from < to));
                }
            }
        }
        uses.sort_unstable();
        let mut sets = Sets::new(self.triangles.len());
        let (mut open, mut nonmanifold, mut first_open, mut first_crowded) = (0, 0, None, None);
        for group in uses.chunk_by(|a, b| a.0 == b.0) {
            let forward = group.iter().filter(|u| u.2).count();
            let middle = || {
                let (p, q) =
                    (self.points[(group[0].0 >> 32) as usize], self.points[group[0].0 as u32 as usize]);
                std::array::from_fn(|k| 0.5 * (p[k] + q[k]))
            };
            if 2 * forward != group.len() {
                open += 1;
                first_open.get_or_insert_with(middle);
            }
            if group.len() > 2 {
                nonmanifold += 1;
                first_crowded.get_or_insert_with(middle);
            }
            for pair in group.windows(2) {
                sets.join(pair[0].1, pair[1].1);
            }
        }
        let (body, n_bodies) = sets.numbered();
        let mut points = Sets::new(self.points.len());
        for t in &self.triangles {
            points.join(t[0], t[1]);
            points.join(t[0], t[2]);
        }
        let n_point_bodies = points.numbered().1;
        Edges {
            open,
            nonmanifold,
            first_bad_mm: first_open.or(first_crowded),
            body,
            n_bodies,
            n_point_bodies,
        }
    }
}

/// Lowest and highest coordinate on each axis; upside down for no points.
pub(super) fn box_of(points: &[[f64; 3]]) -> ([f64; 3], [f64; 3]) {
    let mut bounds = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for p in points {
        for (k, &c) in p.iter().enumerate() {
            bounds.0[k] = bounds.0[k].min(c);
            bounds.1[k] = bounds.1[k].max(c);
        }
    }
    bounds
}

/// Area of one triangle.
pub(super) fn triangle_area([a, b, c]: [[f64; 3]; 3]) -> f64 {
    let n = cross(sub(b, a), sub(c, a));
    0.5 * dot(n, n).sqrt()
}

pub(super) fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(super) fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// A sum that keeps what rounding drops (Neumaier's form of compensated summation).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sum {
    sum: f64,
    lost: f64,
}

impl Sum {
    pub fn add(&mut self, x: f64) {
        let t = self.sum + x;
        self.lost += if self.sum.abs() >= x.abs() { (self.sum - t) + x } else { (x - t) + self.sum };
        self.sum = t;
    }

    pub fn total(&self) -> f64 {
        self.sum + self.lost
    }
}

/// Disjoint sets over `0..n`.
pub(super) struct Sets(Vec<u32>);

impl Sets {
    pub fn new(n: usize) -> Self {
        Self((0..n as u32).collect())
    }

    pub fn find(&mut self, mut x: u32) -> u32 {
        while self.0[x as usize] != x {
            self.0[x as usize] = self.0[self.0[x as usize] as usize];
            x = self.0[x as usize];
        }
        x
    }

    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b) as usize] = a.min(b);
    }

    /// Per member the number of its set, in order of first member, and how many sets there are.
    pub fn numbered(&mut self) -> (Vec<u32>, usize) {
        let n = self.0.len();
        let (mut number, mut count) = (vec![0; n], 0);
        for x in 0..n {
            let root = self.find(x as u32) as usize;
            if root == x {
                number[x] = count;
                count += 1;
            } else {
                number[x] = number[root];
            }
        }
        (number, count as usize)
    }
}
