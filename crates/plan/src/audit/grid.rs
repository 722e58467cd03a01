//! The plain grid counted again from the item's file, and the plan held against it.
//!
//! Definition (contract): the axes of the item as placed, equal cells no larger than the usable volume
//! (round bed: the square inscribed in the usable circle), fewest over the six permutations of its
//! three sizes, cells counted by lumps, ties by shorter line. With several beds the fewest of all.
//! How: the solid is cut by `mesh::split` and counted by `mesh::lumps`. These two are shared with
//! the planner: an own exact cut for this one count would be the whole crate again. The cells and
//! the line length are the audit's own.
//! Codes: `grid`, `grid-line`.

use seamwright_mesh::{Plane, Solid, lumps::lumps, split::split};

use crate::records::{Bed, BedShape, GridRow, Item, Plan};

use super::Notes;
use super::mates::line_in_plane_mm;
use super::stl::Mesh;

/// An item exactly n cells long needs n cells (contract: fits means >= -1e-6).
const EXACT_MM: f64 = 1e-6;
/// A grid plane may be moved a little off a flat face or a tie decided by an estimate: its line
/// may differ by this much of itself, and 1 mm.
const LINE_FRACTION: f64 = 0.02;

/// Checks the grid row of every item.
pub(super) fn check(plan: &Plan, solids: &[Option<Solid>], notes: &mut Notes) {
    for (item, solid) in plan.items.iter().zip(solids) {
        let rows: Vec<&GridRow> = plan.grid.iter().filter(|row| row.item == item.id).collect();
        let [row] = rows[..] else {
            notes.say("grid", &item.id, &format!("it has {} grid rows, not one", rows.len()));
            continue;
        };
        let pieces = plan.pieces.iter().filter(|p| p.item == item.id).count();
        // What the maker marked may cost pieces.
        let planned_as = item.copy_of.as_ref().or(item.mirror_of.as_ref()).unwrap_or(&item.id);
        let is_free = plan.items.iter().all(|item| item.id != *planned_as || item.marks.is_empty());
        if pieces > row.pieces && is_free {
            let text = "the plan has more pieces than the plain grid";
            notes.number("grid", &item.id, text, pieces as f64, row.pieces as f64);
        }
        match solid {
            // A mirrored side is planned as the side it mirrors. Where a grid plane runs along a face
            // within a few grid steps, its own grid might hold a crumb more or less.
            Some(solid) if item.mirror_of.is_some() => {
                check_row(item, row, &plan.beds, &solid.mirrored_x(solid.size_mm()[0]), notes);
            }
            Some(solid) => check_row(item, row, &plan.beds, solid, notes),
            None => {}
        }
    }
}

fn check_row(item: &Item, row: &GridRow, beds: &[Bed], solid: &Solid, notes: &mut Notes) {
    let size = solid.size_mm();
    let mut counts: Vec<[usize; 3]> = beds.iter().flat_map(|bed| cell_counts(size, bed)).collect();
    counts.sort_unstable();
    counts.dedup();
    // One grid at a time: the cells of several would take as many times the room of the item.
    let (mut fewest, mut shortest) = (usize::MAX, f64::INFINITY);
    for n in counts {
        let pieces = cells(solid, size, n);
        if pieces.len() > fewest {
            continue;
        }
        let line_mm = line_mm(size, n, &pieces);
        shortest = if pieces.len() < fewest { line_mm } else { shortest.min(line_mm) };
        fewest = pieces.len();
    }
    let fewest = if fewest == usize::MAX { 0 } else { fewest };
    notes.expect_count("grid", &item.id, "pieces of the plain grid", fewest, row.pieces);
    if shortest.is_finite() {
        let slack = 1.0 + LINE_FRACTION * shortest;
        notes.expect_close("grid-line", &item.id, "line of the plain grid", shortest, row.line_mm, slack);
    }
    let ordered = 0.0 <= row.through_detail_mm
        && row.through_detail_mm <= row.visible_mm + 1e-6
        && row.visible_mm <= row.line_mm + 1e-6;
    if !ordered {
        notes.number(
            "grid-line",
            &item.id,
            "a part of its line is longer than the whole",
            row.visible_mm,
            row.line_mm,
        );
    }
}

/// Cells along each axis for the six ways round of a bed.
fn cell_counts(size: [f64; 3], bed: &Bed) -> Vec<[usize; 3]> {
    let m = bed.margin_mm;
    let mut usable = [bed.size_mm[0] - 2.0 * m, bed.size_mm[1] - 2.0 * m, bed.size_mm[2] - m];
    if bed.shape == BedShape::Round {
        let side = usable[0] / std::f64::consts::SQRT_2;
        (usable[0], usable[1]) = (side, side);
    }
    if usable.iter().any(|&u| u <= 0.0) {
        return Vec::new();
    }
    [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]]
        .map(|way| std::array::from_fn(|k| ((size[k] - EXACT_MM) / usable[way[k]]).ceil().max(1.0) as usize))
        .into()
}

/// The planes between equal cells.
fn planes(size: [f64; 3], n: [usize; 3]) -> Vec<Plane> {
    let mut planes = Vec::new();
    for axis in 0..3 {
        for k in 1..n[axis] {
            let mut normal = [0.0; 3];
            normal[axis] = 1.0;
            planes.push(Plane { normal, offset_mm: size[axis] * k as f64 / n[axis] as f64 });
        }
    }
    planes
}

/// The lumps the cells hold.
fn cells(solid: &Solid, size: [f64; 3], n: [usize; 3]) -> Vec<Solid> {
    let mut parts = vec![solid.clone()];
    for plane in planes(size, n) {
        parts = parts
            .iter()
            .flat_map(|part| {
                let cut = split(part, &plane, 1);
                [cut.below, cut.above].into_iter().flatten()
            })
            .collect();
    }
    parts.into_iter().flat_map(lumps).collect()
}

fn line_mm(size: [f64; 3], n: [usize; 3], pieces: &[Solid]) -> f64 {
    let meshes: Vec<Mesh> = pieces
        .iter()
        .map(|piece| Mesh { points: piece.points_mm(), triangles: piece.triangles().to_vec() })
        .collect();
    planes(size, n).iter().map(|plane| line_in_plane_mm(&meshes, plane.normal, plane.offset_mm)).sum()
}
