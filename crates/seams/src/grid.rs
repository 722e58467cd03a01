//! The plain grid: equal cells along three axes, the plan any maker would start from.
//!
//! Every other plan must be at least as good. Cells are no larger than the usable volume (of a
//! round bed the box inscribed in its circle), fewest over the six ways round, counted by lumps,
//! ties by shorter line.
//! Ways round with more than [`MOST_CELLS`] cells are left aside; where all have more there is no grid.
//! It is cut in steps ([`GridMaking`]), so that who waits for it can be told and can say stop.
//! Also serves with other frames than the item's axes, as a seed of the search.

use crate::estimate;
use crate::frames::{AXES, Frame};
use crate::ground::Ground;
use crate::part::{Look, Part};
use crate::partition::Partition;
use seamwright_bed::Bed;
use seamwright_mesh::{Plane, vec3};
use std::sync::Arc;

/// A grid with more cells is refused. A hollow item meets about a quarter of the cells of its box, so
/// that is a thousand pieces: at three prints a day a year's work, which no maker sets out to do. A
/// life-size figure, 1.75 m tall, on the smallest beds sold (100 mm) has 700 (ours).
pub const MOST_CELLS: usize = 4_000;

/// The plain grid of an item.
pub struct PlainGrid {
    /// Its pieces, judged.
    pub partition: Partition,
    /// Cells along X, Y and Z.
    pub cells: [usize; 3],
}

/// Why there is no plain grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoGrid {
    /// The beds are far too small for the item.
    #[error(
        "the plain grid on these beds would have {cells} cells, more than the {MOST_CELLS} that can be \
         planned; check the bed, its margin and the unit of the file"
    )]
    TooManyCells {
        /// The fewest of all ways round.
        cells: usize,
    },
}

/// The plain grid while it is cut: every way round is cut and counted, the best is cut once more
/// with its pieces judged.
pub struct GridMaking {
    corners: [[f64; 3]; 2],
    /// Ways round still to be cut, the next one last.
    waiting: Vec<[usize; 3]>,
    /// The way being cut.
    cells: [usize; 3],
    cutting: Cutting,
    /// Whether the way being cut is the best of all, for good.
    is_last: bool,
    best: Option<(usize, f64, [usize; 3])>,
    n_done: usize,
    n_all: usize,
}

impl GridMaking {
    /// Counts the cells.
    ///
    /// # Errors
    /// [`NoGrid`].
    pub fn new(ground: &Ground) -> Result<Self, NoGrid> {
        let boxes = ground.whole.parts.iter().map(|part| part.box_mm);
        let (low, high) = boxes.fold(([f64::MAX; 3], [f64::MIN; 3]), |(low, high), (l, h)| {
            (std::array::from_fn(|k| low[k].min(l[k])), std::array::from_fn(|k| high[k].max(h[k])))
        });
        let corners = [low, high];
        let mut counts = cell_counts(&corners, &AXES, &ground.beds);
        let fewest = counts.iter().map(|&cells| n_cells(cells)).min().unwrap_or(1);
        if fewest > MOST_CELLS {
            return Err(NoGrid::TooManyCells { cells: fewest });
        }
        counts.retain(|&cells| n_cells(cells) <= MOST_CELLS);
        let n_planes = |cells: [usize; 3]| cells.iter().sum::<usize>() - 3;
        // The grid chosen is cut once more; which it is shows at the end.
        let most = counts.iter().map(|&cells| n_planes(cells)).max().unwrap_or(0);
        let n_all = counts.iter().map(|&cells| n_planes(cells)).sum::<usize>() + most;
        counts.reverse();
        let mut making = Self {
            corners,
            waiting: counts,
            cells: [1; 3],
            cutting: Cutting::new(ground.whole.clone(), Vec::new()),
            is_last: false,
            best: None,
            n_done: 0,
            n_all,
        };
        making.next_way(ground);
        Ok(making)
    }

    /// Planes cut, and planes in all, about.
    pub fn progress(&self) -> (usize, usize) {
        (self.n_done + self.cutting.n_done(), self.n_all)
    }

    /// Makes one cut; the grid once all are made.
    pub fn step(&mut self, ground: &Ground) -> Option<PlainGrid> {
        if self.is_last {
            // Its lines are not weighed: the first plan must not wait for that.
            self.cutting.step(&|solid| ground.look(solid));
        } else {
            self.cutting.step(&Part::uncared);
        }
        let partition = self.cutting.take_done()?;
        if self.is_last {
            return Some(PlainGrid { partition, cells: self.cells });
        }
        self.n_done += self.cutting.n_done();
        let entry = (partition.n_pieces(), partition.section_mm, self.cells);
        if self.best.is_none_or(|b| (entry.0, entry.1) < (b.0, b.1)) {
            self.best = Some(entry);
        }
        self.next_way(ground);
        None
    }

    fn next_way(&mut self, ground: &Ground) {
        let whole = match self.waiting.pop() {
            Some(cells) => {
                self.cells = cells;
                let lumps = ground.whole.parts.iter().map(|part| Part::uncared(part.solid.clone()));
                Partition::of(lumps.map(Arc::new).collect())
            }
            None => {
                self.cells = self.best.map_or([1, 1, 1], |b| b.2);
                self.is_last = true;
                ground.whole.clone()
            }
        };
        let planes = planes(&self.corners, &AXES, self.cells);
        self.cutting = Cutting::new(whole.taking_crumbs(), planes);
    }
}

/// Cells of a grid in all.
pub fn n_cells(cells: [usize; 3]) -> usize {
    cells.into_iter().fold(1, usize::saturating_mul)
}

/// Rounding must not turn a length of exactly n cells into n + 1, in mm.
const ROUNDING_MM: f64 = 1e-6;

/// Cells along each axis of a frame, one entry a distinct way round.
pub fn cell_counts(points_mm: &[[f64; 3]], frame: &Frame, beds: &[Bed]) -> Vec<[usize; 3]> {
    let extents = estimate::extents(points_mm, frame);
    let mut counts: Vec<[usize; 3]> = Vec::new();
    for size in estimate::boxes_of(beds) {
        let n: [usize; 3] =
            std::array::from_fn(|i| ((extents[i] - ROUNDING_MM) / size[i]).ceil().max(1.0) as usize);
        if !counts.contains(&n) {
            counts.push(n);
        }
    }
    counts
}

/// Planes that cut the extents of `points_mm` into equal cells.
pub fn planes(points_mm: &[[f64; 3]], frame: &Frame, cells: [usize; 3]) -> Vec<Plane> {
    let mut planes = Vec::new();
    for (axis, &normal) in frame.iter().enumerate() {
        let along = points_mm.iter().map(|&p| vec3::dot(normal, p));
        let (low, high) = along.fold((f64::MAX, f64::MIN), |(l, h), d| (l.min(d), h.max(d)));
        for k in 1..cells[axis] {
            let offset_mm = low + (high - low) * k as f64 / cells[axis] as f64;
            planes.push(Plane { normal, offset_mm });
        }
    }
    planes
}

/// Every piece being cut by each of some planes in turn, one piece a step.
pub struct Cutting {
    partition: Option<Partition>,
    planes: Vec<Plane>,
    /// Planes begun.
    n_begun: usize,
    /// Pieces that wait for the plane begun last; those it makes do not.
    waiting: std::vec::IntoIter<usize>,
    /// Whether pieces that need not be cut are left whole.
    leaves_done: bool,
}

impl Cutting {
    /// Nothing is cut yet.
    pub fn new(partition: Partition, planes: Vec<Plane>) -> Self {
        let waiting = Vec::new().into_iter();
        Self { partition: Some(partition), planes, n_begun: 0, waiting, leaves_done: false }
    }

    /// The same, but only pieces are cut that fit no bed.
    pub fn leaving_done(self) -> Self {
        Self { leaves_done: true, ..self }
    }

    /// Planes that are through.
    pub fn n_done(&self) -> usize {
        self.n_begun.saturating_sub(1)
    }

    /// Cuts the next piece.
    pub fn step(&mut self, look: &dyn Look) {
        let Some(partition) = &mut self.partition else { return };
        if self.waiting.as_slice().is_empty() && self.n_begun < self.planes.len() {
            self.waiting = partition.pieces().into_iter();
            self.n_begun += 1;
        }
        if let Some(piece) = self.waiting.next()
            && !(self.leaves_done && partition.parts[piece].is_done())
        {
            let _ = partition.cut_near(piece, self.planes[self.n_begun - 1], look);
        }
    }

    /// The partition, once every plane is through.
    pub fn take_done(&mut self) -> Option<Partition> {
        let is_done = self.waiting.as_slice().is_empty() && self.n_begun == self.planes.len();
        if is_done { self.partition.take() } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Wish;
    use seamwright_mesh::Solid;

    fn block(size: [f64; 3]) -> Solid {
        let points: Vec<[f64; 3]> =
            (0..8).map(|i| std::array::from_fn(|k| if i >> k & 1 == 1 { size[k] } else { 0.0 })).collect();
        let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles: Vec<[u32; 3]> =
            sides.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        Solid::from_triangles(&points, &triangles).expect("a closed box").0
    }

    fn bare(text: &str) -> Bed {
        Bed { margin_mm: 0.0, ..Bed::parse(text).expect("a bed") }
    }

    fn made(item: &Solid, bed: Bed) -> Result<PlainGrid, NoGrid> {
        let ground = Ground::new(item, &Wish { beds: vec![bed], ..Wish::default() });
        let mut making = GridMaking::new(&ground)?;
        let mut last = 0;
        loop {
            let (n_done, n_all) = making.progress();
            assert!(last <= n_done && n_done < n_all);
            last = n_done;
            if let Some(grid) = making.step(&ground) {
                assert!(last > 0);
                return Ok(grid);
            }
        }
    }

    #[test]
    fn a_block_is_cut_into_equal_cells_and_told_of_until_all_cuts_are_made() {
        let grid = made(&block([150.0, 100.0, 50.0]), bare("80x60x50")).expect("few cells");
        // 150/80 and 100/60 are two cells each; 60 and 80 the other way would be three by two.
        assert_eq!((grid.cells, grid.partition.n_pieces()), ([2, 2, 1], 4));
    }

    #[test]
    fn more_cells_than_can_be_planned_are_refused_before_any_cut() {
        for (bed, cells) in [("10x10x10", 1_000_000), ("60x60x62.5", 4_624)] {
            let refused = made(&block([1000.0; 3]), bare(bed)).err();
            assert_eq!(refused, Some(NoGrid::TooManyCells { cells }), "{bed}");
        }
        // Far too many to count.
        let speck = Bed { height_mm: 1e-9, ..bare("1x1x1") };
        let refused = made(&block([4000.0; 3]), speck).err();
        assert!(matches!(refused, Some(NoGrid::TooManyCells { .. })));
    }
}
