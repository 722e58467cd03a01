//! Turns a signed distance field into a closed mesh whose creases stay sharp.
//!
//! How: values on a cubic grid, only near the surface (an octree skips the rest); one vertex per
//! sheet of surface in a cell, put where the tangent planes at the cell's crossings meet; one quad
//! per crossed grid edge. Faces of the grid whose four corners alternate are undone first, so
//! every edge of the result has two triangles.
//! Mirrored shapes: only x >= 0 is meshed. x = 0 runs through the middle of the first cells, whose
//! vertices get x = 0 exactly, so [`super::shape`] can reflect the half and share them.
//! Units: mm; negative inside. Triangles counter-clockwise from outside.
//! Source: "Dual Contouring of Hermite Data" (2002) for the vertices, "Dual Marching Cubes" (2004)
//! for one vertex per sheet (both from memory).
//! Not here: fewer triangles (`mesh::simplify`).

use super::field::Field;
use super::meeting::{Crossing, gradient, meeting_point, on_surface};
pub use seamwright_mesh::simplify::Mesh;
use seamwright_mesh::vec3::{add, cross, dot, scale, sub, unit};

/// How much faster than a distance a field may change. Displacements and bent coordinates stretch
/// distances, most at the steps between plates; this holds for the shapes here (a hole in the
/// result would show it).
const STEEPEST: f64 = 2.6;

/// A vertex may lie this share of a cell outside it: an acute edge often runs just past the cells
/// whose corners show it, and held inside them it would come out notched.
const REACH: f64 = 0.5;

/// Where to mesh and how finely.
#[derive(Debug, Clone, Copy)]
pub struct Sampling {
    /// Lowest corner of the box that holds the shape, mm (x is ignored where mirrored).
    pub low_mm: [f64; 3],
    /// Highest corner, mm.
    pub high_mm: [f64; 3],
    /// Edge of a cell, mm.
    pub cell_mm: f64,
    /// The field is even in x: mesh only x >= 0 and leave the mesh open along x = 0.
    pub mirrored: bool,
}

/// Meshes the zero surface of `field`.
pub fn mesh(field: Field, sampling: Sampling) -> Mesh {
    let mut grid = Grid::new(sampling);
    grid.sample(field);
    grid.undo_alternating_faces();
    let sheets = sheet_table();
    let crossings = grid.crossings(field);
    let (points, first_vertex) = grid.vertices(field, &sheets, &crossings);
    let triangles = grid.quads(field, &sheets, &points, &first_vertex);
    Mesh { points, triangles }
}

/// The two ends of the twelve edges of a cell; corner bits are x, y, z = 1, 2, 4.
const CELL_EDGES: [[usize; 2]; 12] =
    [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]];

/// A cell's crossed edges by corner signs: which sheet each belongs to, and how many sheets.
struct Sheets {
    sheet_of: [u8; 12],
    count: u8,
}

/// For each of the 256 sign patterns the sheets found by walking from face to face.
fn sheet_table() -> Vec<Sheets> {
    (0..256usize)
        .map(|signs| {
            let crossed = |edge: usize| {
                let [a, b] = CELL_EDGES[edge];
                (signs >> a) & 1 != (signs >> b) & 1
            };
            let mut group: [usize; 12] = std::array::from_fn(|edge| edge);
            for face in 0..6 {
                let (bit, side) = (1 << (face / 2), face % 2);
                let on_face: Vec<usize> = (0..12)
                    .filter(|&e| crossed(e) && CELL_EDGES[e].iter().all(|&c| (c & bit != 0) == (side == 1)))
                    .collect();
                if let [a, b] = on_face[..] {
                    let (low, high) = (group[a].min(group[b]), group[a].max(group[b]));
                    group.iter_mut().filter(|g| **g == high).for_each(|g| *g = low);
                }
            }
            let mut names: Vec<usize> = (0..12).filter(|&e| crossed(e)).map(|e| group[e]).collect();
            names.sort_unstable();
            names.dedup();
            let sheet_of = std::array::from_fn(|e| {
                names.iter().position(|&n| crossed(e) && n == group[e]).unwrap_or(0) as u8
            });
            Sheets { sheet_of, count: names.len() as u8 }
        })
        .collect()
}

struct Grid {
    sampling: Sampling,
    origin_mm: [f64; 3],
    /// Nodes along each axis.
    nodes: [usize; 3],
    /// Field at each node; NaN where it was not needed.
    value: Vec<f64>,
}

impl Grid {
    fn new(sampling: Sampling) -> Self {
        let h = sampling.cell_mm;
        let mut origin_mm = scale(sampling.low_mm, 1.0);
        if sampling.mirrored {
            origin_mm[0] = -h / 2.0;
        }
        let nodes = std::array::from_fn(|a| ((sampling.high_mm[a] - origin_mm[a]) / h).ceil() as usize + 2);
        Self { sampling, origin_mm, nodes, value: vec![f64::NAN; nodes[0] * nodes[1] * nodes[2]] }
    }

    fn node(&self, at: [usize; 3]) -> usize {
        (at[2] * self.nodes[1] + at[1]) * self.nodes[0] + at[0]
    }

    fn at_mm(&self, at: [usize; 3]) -> [f64; 3] {
        std::array::from_fn(|a| self.origin_mm[a] + at[a] as f64 * self.sampling.cell_mm)
    }

    /// Fills `value` in all cells the surface may pass through.
    fn sample(&mut self, field: Field) {
        const COARSEST: usize = 16;
        for z in (0..self.nodes[2]).step_by(COARSEST) {
            for y in (0..self.nodes[1]).step_by(COARSEST) {
                for x in (0..self.nodes[0]).step_by(COARSEST) {
                    self.sample_block(field, [x, y, z], COARSEST);
                }
            }
        }
        if self.sampling.mirrored {
            self.reflect_first_nodes();
        }
    }

    fn sample_block(&mut self, field: Field, at: [usize; 3], size: usize) {
        if (0..3).any(|a| at[a] + 1 >= self.nodes[a]) {
            return;
        }
        let half_mm = size as f64 * self.sampling.cell_mm / 2.0;
        let middle = add(self.at_mm(at), [half_mm; 3]);
        if field(middle).abs() > half_mm * 3f64.sqrt() * STEEPEST {
            return;
        }
        if size > 2 {
            for corner in 0..8 {
                let child = std::array::from_fn(|a| at[a] + ((corner >> a) & 1) * size / 2);
                self.sample_block(field, child, size / 2);
            }
            return;
        }
        for z in at[2]..=(at[2] + size).min(self.nodes[2] - 1) {
            for y in at[1]..=(at[1] + size).min(self.nodes[1] - 1) {
                for x in at[0]..=(at[0] + size).min(self.nodes[0] - 1) {
                    let node = self.node([x, y, z]);
                    if self.value[node].is_nan() {
                        self.value[node] = field(self.at_mm([x, y, z]));
                    }
                }
            }
        }
    }

    fn reflect_first_nodes(&mut self) {
        for row in 0..self.nodes[1] * self.nodes[2] {
            self.value[row * self.nodes[0]] = self.value[row * self.nodes[0] + 1];
        }
    }

    /// Fills the nearer outside corner of every grid face whose corner signs alternate, until none is
    /// left. Corners are only ever filled, so this ends.
    fn undo_alternating_faces(&mut self) {
        let step = [1, self.nodes[0], self.nodes[0] * self.nodes[1]];
        loop {
            let mut n_filled = 0;
            for node in 0..self.value.len() {
                for (u, v) in [(0, 1), (1, 2), (0, 2)] {
                    let corners = [node, node + step[u], node + step[u] + step[v], node + step[v]];
                    let Some(&last) = self.value.get(corners[2]) else { continue };
                    let values = [self.value[node], self.value[corners[1]], last, self.value[corners[3]]];
                    let inside = values.map(|v| v < 0.0);
                    let alternate =
                        inside[0] == inside[2] && inside[1] == inside[3] && inside[0] != inside[1];
                    if !alternate || values.iter().any(|v| v.is_nan()) {
                        continue;
                    }
                    let outside = if inside[0] { [1, 3] } else { [0, 2] };
                    let nearer =
                        if values[outside[0]] <= values[outside[1]] { outside[0] } else { outside[1] };
                    self.value[corners[nearer]] = -1e-6;
                    n_filled += 1;
                }
            }
            if self.sampling.mirrored {
                self.reflect_first_nodes();
            }
            if n_filled == 0 {
                break;
            }
        }
    }

    /// The crossing of each crossed grid edge, by axis and lower node.
    fn crossings(&self, field: Field) -> [Vec<(usize, Crossing)>; 3] {
        let step = [1, self.nodes[0], self.nodes[0] * self.nodes[1]];
        let mut found = [Vec::new(), Vec::new(), Vec::new()];
        self.for_each_node(|at, node| {
            for axis in 0..3 {
                if at[axis] + 1 >= self.nodes[axis] {
                    continue;
                }
                let ends = [self.value[node], self.value[node + step[axis]]];
                if ends[0].is_nan() || ends[1].is_nan() || (ends[0] < 0.0) == (ends[1] < 0.0) {
                    continue;
                }
                found[axis].push((node, self.crossing(field, at, axis, ends)));
            }
        });
        found
    }

    fn for_each_node(&self, mut act: impl FnMut([usize; 3], usize)) {
        for z in 0..self.nodes[2] {
            for y in 0..self.nodes[1] {
                for x in 0..self.nodes[0] {
                    act([x, y, z], self.node([x, y, z]));
                }
            }
        }
    }

    fn crossing(&self, field: Field, at: [usize; 3], axis: usize, ends: [f64; 2]) -> Crossing {
        let start = self.at_mm(at);
        let along = |t: f64| {
            let mut point = start;
            point[axis] += t * self.sampling.cell_mm;
            point
        };
        let (mut low, mut high) = ((0.0, ends[0]), (1.0, ends[1]));
        let mut t = 0.5;
        for _ in 0..4 {
            t = (low.0 - low.1 * (high.0 - low.0) / (high.1 - low.1)).clamp(0.01, 0.99);
            let value = field(along(t));
            if value.abs() < 1e-4 {
                break;
            }
            if (value < 0.0) == (low.1 < 0.0) { low = (t, value) } else { high = (t, value) }
        }
        let at_mm = along(t);
        let outward = if ends[0] < 0.0 { 1.0 } else { -1.0 };
        let mut fallback = [0.0; 3];
        fallback[axis] = outward;
        Crossing { at_mm, normal: unit(gradient(field, at_mm)).unwrap_or(fallback) }
    }

    fn signs(&self, node: usize) -> Option<usize> {
        let step = [1, self.nodes[0], self.nodes[0] * self.nodes[1]];
        let mut signs = 0;
        for corner in 0..8 {
            let offset: usize = (0..3).map(|a| ((corner >> a) & 1) * step[a]).sum();
            let value = *self.value.get(node + offset)?;
            if value.is_nan() {
                return None;
            }
            signs |= usize::from(value < 0.0) << corner;
        }
        Some(signs)
    }

    /// One vertex per sheet of each crossed cell, and each cell's first vertex.
    fn vertices(
        &self,
        field: Field,
        sheets: &[Sheets],
        crossings: &[Vec<(usize, Crossing)>; 3],
    ) -> (Vec<[f64; 3]>, Vec<u32>) {
        let step = [1, self.nodes[0], self.nodes[0] * self.nodes[1]];
        let mut index_of = [0, 1, 2].map(|_| vec![u32::MAX; self.value.len()]);
        for axis in 0..3 {
            for (index, &(node, _)) in crossings[axis].iter().enumerate() {
                index_of[axis][node] = index as u32;
            }
        }
        let mut points = Vec::new();
        let mut first_vertex = vec![u32::MAX; self.value.len()];
        self.for_each_node(|at, node| {
            if (0..3).any(|a| at[a] + 1 >= self.nodes[a]) {
                return;
            }
            let Some(signs) = self.signs(node) else { return };
            if signs == 0 || signs == 255 {
                return;
            }
            let on_mirror = self.sampling.mirrored && at[0] == 0;
            first_vertex[node] = points.len() as u32;
            for sheet in 0..sheets[signs].count {
                let mut found = Vec::with_capacity(8);
                for (edge, &[a, b]) in CELL_EDGES.iter().enumerate() {
                    let crossed = (signs >> a) & 1 != (signs >> b) & 1;
                    // On the mirror the left half of the crossings is the reflection of the right.
                    if !crossed || sheets[signs].sheet_of[edge] != sheet || (on_mirror && a & 1 == 0) {
                        continue;
                    }
                    let offset: usize = (0..3).map(|axis| ((a >> axis) & 1) * step[axis]).sum();
                    let axis = edge / 4;
                    let crossing = crossings[axis][index_of[axis][node + offset] as usize].1;
                    found.push(crossing);
                    if on_mirror {
                        let reflect = |v: [f64; 3]| [-v[0], v[1], v[2]];
                        found.push(Crossing {
                            at_mm: reflect(crossing.at_mm),
                            normal: reflect(crossing.normal),
                        });
                    }
                }
                let low = self.at_mm(at);
                let mut point = on_surface(field, meeting_point(&found));
                for a in 0..3 {
                    let off = -REACH * self.sampling.cell_mm;
                    point[a] = point[a].clamp(low[a] + off, low[a] + self.sampling.cell_mm - off);
                }
                if on_mirror {
                    point[0] = 0.0;
                }
                points.push(point);
            }
        });
        (points, first_vertex)
    }

    /// Two triangles for each crossed grid edge, between the vertices of the four cells round it.
    fn quads(
        &self,
        field: Field,
        sheets: &[Sheets],
        points: &[[f64; 3]],
        first_vertex: &[u32],
    ) -> Vec<[u32; 3]> {
        let step = [1, self.nodes[0], self.nodes[0] * self.nodes[1]];
        let mut triangles = Vec::new();
        self.for_each_node(|at, node| {
            if self.sampling.mirrored && at[0] == 0 {
                return;
            }
            for axis in 0..3 {
                let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                if at[axis] + 1 >= self.nodes[axis] || at[u] == 0 || at[v] == 0 {
                    continue;
                }
                let ends = [self.value[node], self.value[node + step[axis]]];
                if ends[0].is_nan() || ends[1].is_nan() || (ends[0] < 0.0) == (ends[1] < 0.0) {
                    continue;
                }
                // Counter-clockwise seen from +axis.
                let mut quad = [(1, 1), (0, 1), (0, 0), (1, 0)].map(|(back_u, back_v)| {
                    let cell = node - back_u * step[u] - back_v * step[v];
                    let corner = (back_u << u) | (back_v << v);
                    let edge =
                        CELL_EDGES.iter().position(|e| *e == [corner, corner | (1 << axis)]).unwrap_or(0);
                    let sheet = self.signs(cell).map_or(0, |signs| sheets[signs].sheet_of[edge]);
                    first_vertex[cell].saturating_add(u32::from(sheet))
                });
                if quad.contains(&u32::MAX) {
                    continue; // The field was steeper than allowed: the hole is found by the check.
                }
                if ends[1] < 0.0 {
                    quad.reverse();
                }
                triangles.extend(split_quad(field, points, quad));
            }
        });
        triangles
    }
}

/// Cuts a quad along the diagonal that follows the surface.
fn split_quad(field: Field, points: &[[f64; 3]], quad: [u32; 4]) -> [[u32; 3]; 2] {
    let [a, b, c, d] = quad;
    let ways = [[[a, b, c], [a, c, d]], [[a, b, d], [b, c, d]]];
    let cost = |way: &[[u32; 3]; 2], from: u32, to: u32| {
        let normals = way.map(|t| {
            let [p, q, r] = t.map(|i| points[i as usize]);
            unit(cross(sub(q, p), sub(r, p))).unwrap_or([0.0; 3])
        });
        let middle = scale(add(points[from as usize], points[to as usize]), 0.5);
        let folded = if dot(normals[0], normals[1]) < -0.2 { 10.0 } else { 0.0 };
        field(middle).abs() + folded
    };
    if cost(&ways[1], b, d) < cost(&ways[0], a, c) { ways[1] } else { ways[0] }
}
