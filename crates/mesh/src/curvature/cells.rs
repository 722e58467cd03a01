//! Surface summed in cubes, each sheet of it and each side of an edge by itself.
//!
//! How: a piece of surface joins the first cell of its cube whose summed normal lies within 45 degrees
//! of its own; where there is none, it starts one. So the two skins of a wall, and the two faces
//! of a sharp edge, never share a cell, while a smooth surface is rarely split.
//! Units: mm. What a cell holds does not depend on how the surface is cut into triangles, but for
//! the order in which sheets are met.

use super::buckets::{cube_of, key};
use crate::edges::QuickMap;
use crate::vec3;

/// Cosine of the 45 degrees, squared.
const SAME_SHEET_COS2: f64 = 0.5;

const NONE: u32 = u32::MAX;

/// Sums over the surface of one cell.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell {
    /// Sum of area times place.
    place_sum: [f64; 3],
    /// Sum of area times unit normal.
    normal_sum: [f64; 3],
    pub area_mm2: f64,
    /// The place nearest to the middle of the cube, and its triangle.
    pub seed_mm: [f64; 3],
    pub seed_triangle: u32,
    seed_away2: f64,
    /// The next cell of the same cube.
    next: u32,
}

impl Cell {
    /// Middle of the surface in the cell; beside the surface where it bends.
    pub fn place_mm(&self) -> [f64; 3] {
        vec3::scale(self.place_sum, 1.0 / self.area_mm2)
    }

    /// Mean of the unit normals; shorter than one where they differ.
    pub fn mean_normal(&self) -> [f64; 3] {
        vec3::scale(self.normal_sum, 1.0 / self.area_mm2)
    }
}

/// A piece of surface small enough to count as a point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub place_mm: [f64; 3],
    /// Mean of the unit normals.
    pub normal: [f64; 3],
    pub area_mm2: f64,
    pub triangle: u32,
}

/// Cells in the order in which they were met.
pub(crate) struct Cells {
    pub side_mm: f64,
    first: QuickMap<u64, u32>,
    pub all: Vec<Cell>,
}

impl Cells {
    pub fn new(side_mm: f64) -> Self {
        Self { side_mm, first: QuickMap::default(), all: Vec::new() }
    }

    /// Adds a piece with an area; returns its cell.
    pub fn add(&mut self, piece: &Piece) -> u32 {
        let cube = cube_of(piece.place_mm, self.side_mm);
        let middle: [f64; 3] = std::array::from_fn(|i| (cube[i] as f64 + 0.5) * self.side_mm);
        let from_middle = vec3::sub(piece.place_mm, middle);
        let away2 = vec3::dot(from_middle, from_middle);
        let new = self.all.len() as u32;
        let mut at = *self.first.entry(key(cube)).or_insert(new);
        let mut last = NONE;
        while at != NONE && at < new {
            let cell = &mut self.all[at as usize];
            let along = vec3::dot(cell.normal_sum, piece.normal);
            let squares = vec3::dot(cell.normal_sum, cell.normal_sum) * vec3::dot(piece.normal, piece.normal);
            if along > 0.0 && along * along >= SAME_SHEET_COS2 * squares {
                for i in 0..3 {
                    cell.place_sum[i] += piece.area_mm2 * piece.place_mm[i];
                    cell.normal_sum[i] += piece.area_mm2 * piece.normal[i];
                }
                cell.area_mm2 += piece.area_mm2;
                if away2 < cell.seed_away2 {
                    cell.seed_away2 = away2;
                    cell.seed_mm = piece.place_mm;
                    cell.seed_triangle = piece.triangle;
                }
                return at;
            }
            (last, at) = (at, cell.next);
        }
        if last != NONE {
            self.all[last as usize].next = new;
        }
        self.all.push(Cell {
            place_sum: vec3::scale(piece.place_mm, piece.area_mm2),
            normal_sum: vec3::scale(piece.normal, piece.area_mm2),
            area_mm2: piece.area_mm2,
            seed_mm: piece.place_mm,
            seed_triangle: piece.triangle,
            seed_away2: away2,
            next: NONE,
        });
        new
    }
}
