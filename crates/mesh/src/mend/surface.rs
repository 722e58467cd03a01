//! A surface on its way to being mended: points on the grid, triangles that may not close.
//!
//! Not here: what is done to it (one file a step), what makes it a solid (`assemble.rs`).

use crate::edges::{self, EdgeUse, QuickMap};
use crate::grid::{self, GridPoint};
use crate::vec3;

/// Points and triangles, and which triangles mending made.
#[derive(Debug, Clone, Default)]
pub(super) struct Surface {
    pub points: Vec<GridPoint>,
    pub triangles: Vec<[u32; 3]>,
    /// Per triangle: made by mending, so not of the file.
    pub made: Vec<bool>,
}

impl Surface {
    /// Joins points at one place, in order of first use; triangles that lose a corner stay.
    pub fn joined(points: &[GridPoint], triangles: &[[u32; 3]]) -> Self {
        let mut known: QuickMap<GridPoint, u32> = QuickMap::default();
        let mut surface = Self { made: vec![false; triangles.len()], ..Self::default() };
        let mut name = |old: u32, points_out: &mut Vec<GridPoint>| {
            let point = points[old as usize];
            *known.entry(point).or_insert_with(|| {
                points_out.push(point);
                points_out.len() as u32 - 1
            })
        };
        for t in triangles {
            let corners = t.map(|old| name(old, &mut surface.points));
            surface.triangles.push(corners);
        }
        surface
    }

    pub fn at_mm(&self, point: u32) -> [f64; 3] {
        grid::to_mm(self.points[point as usize])
    }

    pub fn corners_mm(&self, triangle: usize) -> [[f64; 3]; 3] {
        self.triangles[triangle].map(|point| self.at_mm(point))
    }

    pub fn middle_mm(&self, triangle: usize) -> [f64; 3] {
        let [a, b, c] = self.corners_mm(triangle);
        vec3::scale(vec3::add(a, vec3::add(b, c)), 1.0 / 3.0)
    }

    /// Twice the area times the unit normal.
    pub fn cross(&self, triangle: usize) -> [f64; 3] {
        let [a, b, c] = self.corners_mm(triangle);
        vec3::cross(vec3::sub(b, a), vec3::sub(c, a))
    }

    pub fn area_mm2(&self, triangle: usize) -> f64 {
        vec3::area(self.corners_mm(triangle))
    }

    pub fn turn_over(&mut self, triangle: usize) {
        self.triangles[triangle].swap(1, 2);
    }

    /// Adds a triangle that mending made.
    pub fn push(&mut self, corners: [u32; 3]) {
        self.triangles.push(corners);
        self.made.push(true);
    }

    /// Adds a point and gives its name.
    pub fn add_point(&mut self, point: GridPoint) -> u32 {
        self.points.push(point);
        self.points.len() as u32 - 1
    }

    /// Keeps the triangles that `stays` says.
    pub fn keep(&mut self, stays: &[bool]) {
        let mut at = stays.iter();
        self.triangles.retain(|_| at.next().copied().unwrap_or(true));
        let mut at = stays.iter();
        self.made.retain(|_| at.next().copied().unwrap_or(true));
    }

    /// Whether two corners of the triangle are one.
    pub fn lacks_corner(&self, triangle: usize) -> bool {
        let [a, b, c] = self.triangles[triangle];
        a == b || b == c || c == a
    }

    pub fn edge_uses(&self) -> Vec<EdgeUse> {
        edges::edge_uses(&self.triangles)
    }

    pub fn edge_length_mm(&self, edge: &EdgeUse) -> f64 {
        vec3::length(vec3::sub(self.at_mm(edge.low()), self.at_mm(edge.high())))
    }
}

/// How many more triangles run an edge from its lower point up than down.
pub(super) fn excess(run: &[EdgeUse], triangles: &[[u32; 3]]) -> i32 {
    run.iter().map(|u| if u.forward(triangles) { 1 } else { -1 }).sum()
}

/// A grid of cells for finding points near a place.
pub(super) struct Cells {
    cell_steps: i64,
    in_cell: QuickMap<[i32; 3], Vec<u32>>,
}

impl Cells {
    pub fn new(points: &[GridPoint], listed: &[u32], cell_steps: i64) -> Self {
        let mut cells = Self { cell_steps: cell_steps.max(1), in_cell: QuickMap::default() };
        for &point in listed {
            let cell = cells.cell_of(points[point as usize]);
            cells.in_cell.entry(cell).or_default().push(point);
        }
        cells
    }

    fn cell_of(&self, point: GridPoint) -> [i32; 3] {
        point.map(|steps| i64::from(steps).div_euclid(self.cell_steps) as i32)
    }

    /// Listed points whose cells meet the box; how many cells that are, decides the cost.
    pub fn in_box(&self, low: GridPoint, high: GridPoint) -> impl Iterator<Item = u32> + '_ {
        let (low, high) = (self.cell_of(low), self.cell_of(high));
        let cells = (low[0]..=high[0]).flat_map(move |x| {
            (low[1]..=high[1]).flat_map(move |y| (low[2]..=high[2]).map(move |z| [x, y, z]))
        });
        cells.filter_map(|cell| self.in_cell.get(&cell)).flatten().copied()
    }

    /// Cells the box spans.
    pub fn n_cells(&self, low: GridPoint, high: GridPoint) -> u64 {
        let (low, high) = (self.cell_of(low), self.cell_of(high));
        (0..3).map(|axis| (high[axis] - low[axis] + 1) as u64).product()
    }
}
