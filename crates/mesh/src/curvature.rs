//! How a solid's surface bends, at three scales, about one sample every two or three mm.
//!
//! How: the surface is summed in cells (`curvature/cells.rs`), cells in larger cells for the larger
//! scales, and the change of the normal with the place is fitted round every sample
//! (`curvature/fit.rs`). Every triangle counts, by its area, place and normal; how finely a surface
//! is cut into triangles does not (`curvature/corners.rs` for coarse ones).
//! Units: mm, 1/mm; positive where the surface bulges outward (a ball of radius R has 1/R twice).
//! The skins of a wall, and plates over each other, are never mixed.
//! Cost: about 60 ns a triangle and 2 us a sample; at most about [`MOST_SAMPLES`] samples.
//! Work is in steps of at most some tens of ms; how many are taken in a row changes nothing.
//! Not here: what a seam costs (crate `seams`, `field.rs`).

pub mod buckets;
mod cells;
mod corners;
mod fit;
mod pieces;
mod scale;

use crate::edges::QuickSet;
use crate::solid::Solid;
use crate::vec3;
use cells::{Cell, Cells, Piece};
use corners::Corners;
use fit::Patch;
use scale::Fitting;

/// Radii over which the bend is taken.
pub const SCALES_MM: [f64; 3] = [3.0, 8.0, 20.0];

/// About how many samples a large item gets.
pub const MOST_SAMPLES: usize = 100_000;

/// The side of the cubes a sample stands for, on items of up to some 2000 cm2.
const LEAST_SIDE_MM: f64 = 2.0;

/// A surface of one side squared lies in about 1.6 cubes (measured on balls, and a little more on
/// armour, for which a tenth is kept free).
const CUBES_A_SQUARE: f64 = 1.6;

/// Triangles with a longer side than this many cells are cut into pieces first; of others the
/// middle stands for the whole.
const LARGE: f64 = 1.5;

/// Triangles looked at in one step.
const TRIANGLES_A_STEP: usize = 100_000;

/// The bend of the surface about a place, over some radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// Mean outward unit normal.
    pub normal: [f64; 3],
    /// Unit tangent along which the surface bends most, either way; see [`Bend::across`].
    pub along: [f64; 3],
    /// Principal curvatures in 1/mm: the larger by size first, each positive where convex.
    pub per_mm: [f64; 2],
}

impl Bend {
    /// No bend.
    pub fn flat(normal: [f64; 3]) -> Self {
        Self { normal, along: vec3::frame_of(normal).0, per_mm: [0.0; 2] }
    }

    /// The direction of the second principal curvature.
    pub fn across(&self) -> [f64; 3] {
        vec3::cross(self.normal, self.along)
    }

    /// Curvature in 1/mm of the surface cut along a unit tangent.
    pub fn along_line(&self, tangent: [f64; 3]) -> f64 {
        let (a, b) = (vec3::dot(tangent, self.along), vec3::dot(tangent, self.across()));
        self.per_mm[0] * a * a + self.per_mm[1] * b * b
    }
}

/// A small part of the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Its middle; beside the surface where that bends sharply.
    pub place_mm: [f64; 3],
    /// Mean outward unit normal of the part alone.
    pub normal: [f64; 3],
    /// Its area.
    pub area_mm2: f64,
    /// A triangle of the part, and a point on it near the middle of the part.
    pub seed: (u32, [f64; 3]),
    /// The bend over each of [`SCALES_MM`].
    pub bends: [Bend; 3],
    /// How much the normals within the smallest scale differ: one minus the length of their mean.
    pub spread: f64,
}

/// The samples of a solid.
#[derive(Debug, Clone, PartialEq)]
pub struct Curvature {
    /// Side of the cubes the samples stand for.
    pub side_mm: f64,
    /// In the order in which the triangles meet them.
    pub samples: Vec<Sample>,
    /// Per triangle the sample that holds its middle; of a triangle without area, any.
    pub sample_of: Vec<u32>,
    /// Pairs of samples that the surface joins, smaller index first, sorted.
    pub joined: Vec<[u32; 2]>,
}

/// Makes a [`Curvature`] in steps.
pub struct CurvatureMaking {
    solid: Solid,
    /// How many of [`SCALES_MM`] are fitted.
    n_scales: usize,
    stage: Stage,
    area_mm2: f64,
    large: Vec<u32>,
    corners: Option<Corners>,
    cells: Cells,
    sample_of: Vec<u32>,
    /// A cell at each point of the solid.
    cell_at: Vec<u32>,
    joined: QuickSet<u64>,
    patches: Vec<Patch>,
    samples: Vec<Sample>,
}

enum Stage {
    Measure(usize),
    FindLarge(usize),
    Sum(usize),
    Gather,
    Fit(Box<Fitting>),
    Done,
}

const NONE: u32 = u32::MAX;

impl CurvatureMaking {
    /// Begins; the solid's lists are shared, not copied.
    pub fn new(solid: &Solid) -> Self {
        Self {
            solid: solid.clone(),
            n_scales: SCALES_MM.len(),
            stage: Stage::Measure(0),
            area_mm2: 0.0,
            large: Vec::new(),
            corners: None,
            cells: Cells::new(LEAST_SIDE_MM),
            sample_of: Vec::new(),
            cell_at: Vec::new(),
            joined: QuickSet::default(),
            patches: Vec::new(),
            samples: Vec::new(),
        }
    }

    /// Whether [`Self::take_done`] will give something.
    pub fn is_done(&self) -> bool {
        matches!(self.stage, Stage::Done)
    }

    /// One step; nothing once done.
    pub fn step(&mut self) {
        let n_triangles = self.solid.n_triangles();
        let until = |from: usize| (from + TRIANGLES_A_STEP).min(n_triangles);
        self.stage = match std::mem::replace(&mut self.stage, Stage::Done) {
            Stage::Measure(from) => {
                self.area_mm2 += (from..until(from)).map(|i| self.solid.triangle_area_mm2(i)).sum::<f64>();
                if until(from) < n_triangles {
                    Stage::Measure(until(from))
                } else {
                    let most = 0.9 * MOST_SAMPLES as f64;
                    let side_mm = (CUBES_A_SQUARE * self.area_mm2 / most).sqrt().max(LEAST_SIDE_MM);
                    self.cells = Cells::new(side_mm);
                    Stage::FindLarge(0)
                }
            }
            Stage::FindLarge(from) => {
                self.find_large(from, until(from));
                if until(from) < n_triangles {
                    Stage::FindLarge(until(from))
                } else {
                    self.corners = Some(Corners::new(&self.solid, &self.large));
                    self.sample_of = vec![NONE; n_triangles];
                    self.cell_at = vec![NONE; self.solid.points.len()];
                    Stage::Sum(0)
                }
            }
            Stage::Sum(from) => {
                let to = self.sum(from);
                if to < n_triangles { Stage::Sum(to) } else { Stage::Gather }
            }
            Stage::Gather => {
                self.gather();
                Stage::Fit(Box::new(Fitting::new(0, &self.patches, self.cells.side_mm, &self.samples)))
            }
            Stage::Fit(mut fitting) => {
                fitting.step(&mut self.samples);
                if fitting.done < self.samples.len() {
                    Stage::Fit(fitting)
                } else if fitting.scale_index + 1 < self.n_scales {
                    let next = fitting.scale_index + 1;
                    Stage::Fit(Box::new(Fitting::new(next, &self.patches, self.cells.side_mm, &self.samples)))
                } else {
                    Stage::Done
                }
            }
            Stage::Done => Stage::Done,
        };
    }

    /// The result, once; `None` before it is done.
    pub fn take_done(&mut self) -> Option<Curvature> {
        if !self.is_done() || self.samples.is_empty() {
            return None;
        }
        let mut joined: Vec<[u32; 2]> = std::mem::take(&mut self.joined)
            .into_iter()
            .map(|key| [(key >> 32) as u32, key as u32])
            .collect();
        joined.sort_unstable();
        Some(Curvature {
            side_mm: self.cells.side_mm,
            samples: std::mem::take(&mut self.samples),
            sample_of: std::mem::take(&mut self.sample_of),
            joined,
        })
    }

    fn find_large(&mut self, from: usize, to: usize) {
        let long_mm = LARGE * self.cells.side_mm;
        for triangle in from..to {
            let c = self.solid.corners_mm(triangle);
            let long = (0..3).any(|i| {
                let side = vec3::sub(c[(i + 1) % 3], c[i]);
                vec3::dot(side, side) > long_mm * long_mm
            });
            if long {
                self.large.push(triangle as u32);
            }
        }
    }

    /// Sums triangles into cells from one on; returns where it stopped.
    fn sum(&mut self, from: usize) -> usize {
        let mut next_large = self.large.partition_point(|&t| (t as usize) < from);
        let mut pieces = Vec::new();
        let mut work = 0;
        for triangle in from..self.solid.n_triangles() {
            if work >= TRIANGLES_A_STEP {
                return triangle;
            }
            work += 1;
            let is_large = self.large.get(next_large) == Some(&(triangle as u32));
            next_large += usize::from(is_large);
            let corners_mm = self.solid.corners_mm(triangle);
            let doubled =
                vec3::cross(vec3::sub(corners_mm[1], corners_mm[0]), vec3::sub(corners_mm[2], corners_mm[0]));
            let size = vec3::length(doubled);
            if size <= 0.0 {
                continue;
            }
            let normal = vec3::scale(doubled, 1.0 / size);
            if is_large {
                let corners = self.corners.as_ref().expect("made before summing");
                let normals = corners.normals(&self.solid, triangle as u32, normal);
                let at_corners =
                    pieces::cut(corners_mm, normals, triangle as u32, self.cells.side_mm, &mut pieces);
                work += pieces.len();
                let cells: Vec<u32> = pieces.iter().map(|piece| self.cells.add(piece)).collect();
                cells.windows(2).for_each(|w| self.join(w[0], w[1]));
                self.sample_of[triangle] = cells[cells.len() / 2];
                self.join_at_corners(triangle, at_corners.map(|piece| cells[piece]));
            } else {
                let sum = vec3::add(vec3::add(corners_mm[0], corners_mm[1]), corners_mm[2]);
                let cell = self.cells.add(&Piece {
                    place_mm: vec3::scale(sum, 1.0 / 3.0),
                    normal,
                    area_mm2: size / 2.0,
                    triangle: triangle as u32,
                });
                self.sample_of[triangle] = cell;
                self.join_at_corners(triangle, [cell; 3]);
            }
        }
        self.solid.n_triangles()
    }

    fn join_at_corners(&mut self, triangle: usize, cells: [u32; 3]) {
        for (point, cell) in self.solid.triangles[triangle].into_iter().zip(cells) {
            let first = self.cell_at[point as usize];
            if first == NONE {
                self.cell_at[point as usize] = cell;
            } else {
                self.join(first, cell);
            }
        }
    }

    fn join(&mut self, a: u32, b: u32) {
        if a != b {
            self.joined.insert((u64::from(a.min(b)) << 32) | u64::from(a.max(b)));
        }
    }

    /// Makes samples of the cells.
    fn gather(&mut self) {
        self.corners = None;
        self.cell_at = Vec::new();
        // Only their side is asked for from here on.
        let side_mm = self.cells.side_mm;
        let cells = std::mem::replace(&mut self.cells, Cells::new(side_mm));
        self.patches.reserve_exact(cells.all.len());
        self.samples.reserve_exact(cells.all.len());
        for cell in &cells.all {
            let mean = cell.mean_normal();
            // Normals of one cell lie within 45 degrees of their sum, so it cannot vanish.
            let normal = vec3::unit(mean).unwrap_or([0.0, 0.0, 1.0]);
            self.patches.push(patch_of(cell));
            self.samples.push(Sample {
                place_mm: cell.place_mm(),
                normal,
                area_mm2: cell.area_mm2,
                seed: (cell.seed_triangle, cell.seed_mm),
                bends: [Bend::flat(normal); 3],
                spread: 0.0,
            });
        }
        for sample in &mut self.sample_of {
            // A triangle without area lies on some edge; any sample will do.
            if *sample == NONE {
                *sample = 0;
            }
        }
    }
}

fn patch_of(cell: &Cell) -> Patch {
    Patch { place_mm: cell.place_mm(), normal: cell.mean_normal(), area_mm2: cell.area_mm2 }
}

impl Curvature {
    /// All steps at once.
    pub fn new(solid: &Solid) -> Self {
        Self::made(CurvatureMaking::new(solid))
    }

    /// The same over the smallest scale alone; over the others samples are flat.
    pub fn finest(solid: &Solid) -> Self {
        Self::made(CurvatureMaking { n_scales: 1, ..CurvatureMaking::new(solid) })
    }

    fn made(mut making: CurvatureMaking) -> Self {
        while !making.is_done() {
            making.step();
        }
        making.take_done().expect("a solid has a surface")
    }
}
