//! Each item's file, what follows from copies and mirrors, and whether its pieces add up to it.
//!
//! Codes: `item-origin`, `item-size`, `item-volume`, `item-solid`, `item-area`, `item-triangles`,
//! `item-bodies`, `item-closed`, `item-placement`, `no-pieces`, `volume-sum`, `copy`.
//! The solid volume is compared exactly where no two bodies can overlap; where they can, it is only
//! held between the largest body and the sum of the outer ones.

use seamwright_mesh::spatial::overlapping_boxes;

use crate::records::{Item, Plan};

use super::pieces::{PieceFile, RECORD_FRACTION, check_edges, read_mesh};
use super::stl::{Edges, Mesh, box_of};
use super::{Figures, Folder, Notes};

/// Pieces may miss the item's volume by this fraction (contract).
const VOLUME_FRACTION: f64 = 1e-6;
/// The solid volume of overlapping bodies is an estimate by columns, good to some tenths of a per cent.
const SOLID_FRACTION: f64 = 0.01;
/// One step of the coordinate grid.
const STEP_MM: f64 = 1.0 / 4096.0;

/// One item as its file has it.
pub(super) struct ItemFile {
    pub mesh: Mesh,
    pub volume_mm3: f64,
    pub area_mm2: f64,
}

/// Reads and checks every item, in the plan's order.
pub(super) fn read_and_check(folder: &Folder, plan: &Plan, notes: &mut Notes) -> Vec<Option<ItemFile>> {
    plan.items
        .iter()
        .map(|record| {
            let mesh = read_mesh(folder, &record.file, notes)?;
            let edges = mesh.edges();
            let id = &record.id;
            check_edges(id, &edges, notes);
            let (low, high) = mesh.box_mm();
            // Moving a snapped model to the origin may round once more.
            if low.iter().any(|c| c.abs() > 1.5 * STEP_MM) {
                notes.say("item-origin", id, &format!("the box starts at {low:.4?}, not at the origin"));
            }
            for axis in 0..3 {
                let size = high[axis] - low[axis];
                notes.expect_close("item-size", id, "size_mm", size, record.size_mm[axis], 0.5 * STEP_MM);
            }
            let (volume_mm3, area_mm2) = (mesh.volume_mm3(), mesh.area_mm2());
            let volume_slack = RECORD_FRACTION * volume_mm3.abs().max(1.0);
            notes.expect_close("item-volume", id, "volume_mm3", volume_mm3, record.volume_mm3, volume_slack);
            let area_slack = RECORD_FRACTION * area_mm2.max(1.0);
            notes.expect_close("item-area", id, "area_mm2", area_mm2, record.area_mm2, area_slack);
            notes.expect_count("item-triangles", id, "triangles", mesh.triangles.len(), record.triangles);
            // Bodies that touch in a point may be counted as one or as two.
            if !(edges.n_point_bodies..=edges.n_bodies).contains(&record.bodies) {
                notes.expect_count("item-bodies", id, "bodies", edges.n_bodies, record.bodies);
            }
            if record.closed != (edges.open == 0 && volume_mm3 > 0.0) {
                notes.say("item-closed", id, &format!("closed is said to be {}", record.closed));
            }
            check_solid(record, &mesh, &edges, volume_mm3, notes);
            check_placement(record, notes);
            Some(ItemFile { mesh, volume_mm3, area_mm2 })
        })
        .collect()
}

fn check_solid(record: &Item, mesh: &Mesh, edges: &Edges, volume_mm3: f64, notes: &mut Notes) {
    let mut all_boxes = vec![box_of(&[]); edges.n_bodies];
    for (t, &body) in mesh.triangles.iter().zip(&edges.body) {
        let (low, high) = &mut all_boxes[body as usize];
        for corner in mesh.corners(*t) {
            for axis in 0..3 {
                (low[axis], high[axis]) = (low[axis].min(corner[axis]), high[axis].max(corner[axis]));
            }
        }
    }
    let volumes = mesh.body_volumes(edges);
    // Cavities lie in their body by right; only outer bodies can overlap.
    let outer: Vec<usize> = (0..volumes.len()).filter(|&b| volumes[b] > 0.0).collect();
    let boxes: Vec<_> = outer.iter().map(|&b| all_boxes[b]).collect();
    let slack = 1e-9 * volume_mm3.abs().max(1.0);
    if overlapping_boxes(&boxes, 0.0).is_empty() {
        notes.expect_close("item-solid", &record.id, "solid_mm3", record.solid_mm3, volume_mm3, slack);
        return;
    }
    let most: f64 = outer.iter().map(|&b| volumes[b]).sum();
    if !(record.solid_mm3 > 0.0 && record.solid_mm3 <= most * (1.0 + SOLID_FRACTION)) {
        let text = "solid_mm3 is more than all outer bodies together";
        notes.number("item-solid", &record.id, text, record.solid_mm3, most);
    }
}

/// A placement turns, mirrors and scales alike in all directions.
fn check_placement(record: &Item, notes: &mut Notes) {
    let m = &record.placement;
    let row = |i: usize| [m[4 * i], m[4 * i + 1], m[4 * i + 2]];
    let square = super::stl::dot(row(0), row(0));
    let even = square > 0.0
        && (0..3).all(|i| {
            (0..3).all(|j| {
                let expected = if i == j { square } else { 0.0 };
                (super::stl::dot(row(i), row(j)) - expected).abs() <= 1e-6 * square
            })
        });
    if !even {
        notes.say(
            "item-placement",
            &record.id,
            "the placement bends the model: it is not a turn and one scale",
        );
    }
}

/// Pieces sum to the item; copies and mirrored sides follow the item they name.
pub(super) fn check_conservation(
    plan: &Plan,
    items: &[Option<ItemFile>],
    pieces: &[Option<PieceFile>],
    figures: &mut Figures,
    notes: &mut Notes,
) {
    for (record, item) in plan.items.iter().zip(items) {
        let Some(item) = item else { continue };
        let mut sum = 0.0;
        let mut count = 0;
        for (piece, file) in plan.pieces.iter().zip(pieces) {
            if piece.item == record.id {
                count += 1;
                let joints = piece.removed_mm3.unwrap_or(0.0) - piece.added_mm3.unwrap_or(0.0);
                sum += file.as_ref().map_or(0.0, |f| f.volume_mm3) + joints;
            }
        }
        if count == 0 {
            notes.say("no-pieces", &record.id, "the item has no pieces");
        }
        let error = (sum - item.volume_mm3).abs() / item.volume_mm3.abs();
        figures.volume_error = figures.volume_error.max(error);
        let held = error <= VOLUME_FRACTION;
        if !held {
            let text = format!("pieces sum to {sum:.3} mm3, the item has {:.3} mm3", item.volume_mm3);
            notes.number("volume-sum", &record.id, &text, error, VOLUME_FRACTION);
        }
    }
    for record in &plan.items {
        for (other, mirrored) in [(&record.copy_of, false), (&record.mirror_of, true)] {
            let Some(other) = other else { continue };
            let (Some(this), Some(that)) = (by_id(plan, items, &record.id), by_id(plan, items, other)) else {
                continue;
            };
            check_copy(plan, record, other, (this, that), mirrored, notes);
        }
    }
}

fn by_id<'a>(plan: &Plan, items: &'a [Option<ItemFile>], id: &str) -> Option<&'a ItemFile> {
    items[plan.items.iter().position(|x| x.id == id)?].as_ref()
}

fn check_copy(
    plan: &Plan,
    record: &Item,
    other: &str,
    (this, that): (&ItemFile, &ItemFile),
    mirrored: bool,
    notes: &mut Notes,
) {
    let (volume, area) = (this.volume_mm3 / that.volume_mm3 - 1.0, this.area_mm2 / that.area_mm2 - 1.0);
    let same = volume.abs() <= VOLUME_FRACTION && area.abs() <= VOLUME_FRACTION;
    if !same {
        notes.say("copy", &record.id, &format!("its solid is not that of {other}"));
    }
    let handed = plan.items.iter().find(|x| x.id == other).map(|x| determinant(&x.placement));
    let turned = handed.is_some_and(|d| (d * determinant(&record.placement) < 0.0) != mirrored);
    if turned {
        let text =
            format!("its placement {} that of {other}", if mirrored { "does not mirror" } else { "mirrors" });
        notes.say("copy", &record.id, &text);
    }
    let counts = |id: &str| {
        let pieces = plan.pieces.iter().filter(|p| p.item == id).count();
        let seams: Vec<f64> = plan.seams.iter().filter(|s| s.item == id).map(|s| s.line_mm).collect();
        (pieces, seams.len(), seams.iter().sum::<f64>())
    };
    let (a, b) = (counts(&record.id), counts(other));
    let line_kept = (a.2 - b.2).abs() <= 0.1 + 1e-4 * b.2;
    if a.0 != b.0 || a.1 != b.1 || !line_kept {
        let text = format!(
            "{} pieces and {} seams of {:.1} mm, but {other} has {} and {} of {:.1} mm",
            a.0, a.1, a.2, b.0, b.1, b.2
        );
        notes.say("copy", &record.id, &text);
    }
}

fn determinant(m: &[f64; 12]) -> f64 {
    super::stl::dot([m[0], m[1], m[2]], super::stl::cross([m[4], m[5], m[6]], [m[8], m[9], m[10]]))
}
