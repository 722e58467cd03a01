//! The plain grid: equal cells along three axes, the plan any maker would start from.
//!
//! Every other plan must be at least as good. Cells are no larger than the usable volume (of a
//! round bed the box inscribed in its circle), fewest over the six ways round, counted by lumps,
//! ties by shorter line.
//! Ways round with more than [`MOST_CELLS`] cells are left aside; where all have more there is no grid.
//! Also serves with other frames than the item's axes, as a seed of the search.

use crate::estimate;
use crate::frames::{AXES, Frame};
use crate::partition::{Part, Partition};
use seamwright_bed::Bed;
use seamwright_mesh::{Plane, Solid, lumps, vec3};
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
    /// The caller said stop.
    #[error("stopped before the plain grid was cut")]
    Stopped,
}

/// The plain grid of an item, its pieces judged. `go_on` is told the cuts made and the cuts in all,
/// and answers whether to go on.
///
/// # Errors
/// [`NoGrid`].
pub fn plain_grid(
    item: &Solid,
    beds: &[Bed],
    go_on: &dyn Fn(usize, usize) -> bool,
) -> Result<PlainGrid, NoGrid> {
    let (low, high) = item.box_mm();
    let corners = [low, high];
    let mut counts = cell_counts(&corners, &AXES, beds);
    let fewest = counts.iter().map(|&cells| n_cells(cells)).min().unwrap_or(1);
    if fewest > MOST_CELLS {
        return Err(NoGrid::TooManyCells { cells: fewest });
    }
    counts.retain(|&cells| n_cells(cells) <= MOST_CELLS);
    let n_planes = |cells: [usize; 3]| cells.iter().sum::<usize>() - 3;
    let lumps = lumps::lumps(item.clone());
    let whole = |look: &dyn Fn(Solid) -> Part| {
        Partition::of(lumps.iter().map(|lump| Arc::new(look(lump.clone()))).collect())
    };
    // The grid chosen is cut once more; which it is shows at the end.
    let most = counts.iter().map(|&cells| n_planes(cells)).max().unwrap_or(0);
    let n_all = counts.iter().map(|&cells| n_planes(cells)).sum::<usize>() + most;
    let mut n_done = 0;
    let mut best: Option<(usize, f64, [usize; 3])> = None;
    let uncut = whole(&Part::uncared).taking_crumbs();
    for &cells in &counts {
        let planes = planes(&corners, &AXES, cells);
        let cut = cut_all(uncut.clone(), &planes, &Part::uncared, &|n| go_on(n_done + n, n_all));
        let cut = cut.ok_or(NoGrid::Stopped)?;
        n_done += planes.len();
        let entry = (cut.n_pieces(), cut.section_mm, cells);
        if best.is_none_or(|b| (entry.0, entry.1) < (b.0, b.1)) {
            best = Some(entry);
        }
    }
    let cells = best.map_or([1, 1, 1], |b| b.2);
    let look = |solid: Solid| Part::new(solid, beds);
    let planes = planes(&corners, &AXES, cells);
    let partition = cut_all(whole(&look).taking_crumbs(), &planes, &look, &|n| go_on(n_done + n, n_all));
    Ok(PlainGrid { partition: partition.ok_or(NoGrid::Stopped)?, cells })
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

/// Cuts every piece by each plane in turn; `None` where `go_on`, told the planes done, says no.
pub fn cut_all(
    mut partition: Partition,
    planes: &[Plane],
    look: &dyn Fn(Solid) -> Part,
    go_on: &dyn Fn(usize) -> bool,
) -> Option<Partition> {
    for (n_done, plane) in planes.iter().enumerate() {
        // One nudge for all pieces of the plane, so that they stay one plane.
        for piece in partition.pieces() {
            if !go_on(n_done) {
                return None;
            }
            let _ = partition.cut_near(piece, *plane, look);
        }
    }
    Some(partition)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

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

    #[test]
    fn a_block_is_cut_into_equal_cells_and_told_of_until_all_cuts_are_made() {
        let last = Cell::new((0, 0));
        let told = |n_done, n_all| {
            assert!(last.get().0 <= n_done && n_done < n_all);
            last.set((n_done, n_all));
            true
        };
        let grid = plain_grid(&block([150.0, 100.0, 50.0]), &[bare("80x60x50")], &told);
        let grid = grid.expect("few cells");
        // 150/80 and 100/60 are two cells each; 60 and 80 the other way would be three by two.
        assert_eq!((grid.cells, grid.partition.n_pieces()), ([2, 2, 1], 4));
        assert!(last.get().1 > 0);
    }

    #[test]
    fn more_cells_than_can_be_planned_are_refused_before_any_cut() {
        let never = |_: usize, _: usize| -> bool { panic!("a cut was begun") };
        for (bed, cells) in [("10x10x10", 1_000_000), ("60x60x62.5", 4_624)] {
            let refused = plain_grid(&block([1000.0; 3]), &[bare(bed)], &never).err();
            assert_eq!(refused, Some(NoGrid::TooManyCells { cells }), "{bed}");
        }
        // Far too many to count.
        let speck = Bed { height_mm: 1e-9, ..bare("1x1x1") };
        let refused = plain_grid(&block([4000.0; 3]), &[speck], &never).err();
        assert!(matches!(refused, Some(NoGrid::TooManyCells { .. })));
    }

    #[test]
    fn a_grid_stops_where_told_to() {
        let stopped = plain_grid(&block([100.0; 3]), &[bare("30x30x30")], &|n_done, _| n_done < 2).err();
        assert_eq!(stopped, Some(NoGrid::Stopped));
    }
}
