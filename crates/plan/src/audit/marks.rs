//! What the maker marked on an item and its plan keeps to.
//!
//! How: a seam that stays lies on its plane up to what a cut may be moved; one that is not wanted has none
//! near its place; a piece that is printed has its place on its skin. That lines keep off chalk where that
//! can be is not checked here: it asks for other plans. Places of seams and pieces are checked as well.
//! Code: `marks`.

use super::Notes;
use super::pieces::PieceFile;
use crate::records::{Item, Plan, Seam};
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Plane, vec3};

/// A cut is moved by at most 0.25 mm to leave sound faces.
const MOVED_MM: f64 = 0.26;
/// Another seam lies where an unwanted one did: 20 degrees and 15 mm less what a cut may be moved.
const SAME_ALONG: f64 = 0.94;
const SAME_MM: f64 = 15.0 - MOVED_MM;
/// How far a place may lie off what it is on.
const ON_MM: f64 = 0.05;

/// Checks the marks of every item, and where seams and pieces say they are.
pub(super) fn check(plan: &Plan, pieces: &[Option<PieceFile>], notes: &mut Notes) {
    for seam in &plan.seams {
        if seam.at_mm.is_some_and(|at_mm| plane_of(seam).distance_mm(at_mm).abs() > ON_MM) {
            notes.say("marks", &seam.id, "its place does not lie on its plane");
        }
    }
    for (piece, file) in plan.pieces.iter().zip(pieces) {
        let (Some(at_mm), Some(file)) = (piece.at_mm, file) else { continue };
        if off_mm(file, at_mm).is_none_or(|mm| mm > ON_MM) {
            notes.say("marks", &piece.id, "its place does not lie on it");
        }
    }
    for item in plan.items.iter().filter(|item| item.mirror_of.is_none()) {
        check_item(plan, item, pieces, notes);
    }
}

fn check_item(plan: &Plan, item: &Item, pieces: &[Option<PieceFile>], notes: &mut Notes) {
    let marks = &item.marks;
    if let Err(why) = marks.check() {
        notes.say("marks", &item.id, &why);
        return;
    }
    let seams = || plan.seams.iter().filter(|seam| seam.item == item.id);
    let asked = marks.marks();
    for (index, locked) in asked.locked.iter().enumerate() {
        let is_it = |seam: &Seam| {
            let along = vec3::dot(seam.plane.normal, locked.plane.normal);
            let off_mm = seam.plane.offset_mm - along.signum() * locked.plane.offset_mm;
            along.abs() > 1.0 - 1e-9 && off_mm.abs() < MOVED_MM
        };
        if !seams().any(is_it) {
            notes.say("marks", &item.id, &format!("seam {} of those that stay is not there", index + 1));
        }
    }
    for (index, unwanted) in asked.forbidden.iter().enumerate() {
        let there = seams().find(|seam| {
            vec3::dot(seam.plane.normal, unwanted.plane.normal).abs() > SAME_ALONG
                && plane_of(seam).distance_mm(unwanted.at_mm).abs() < SAME_MM
                && seam.pieces.iter().any(|id| holds(plan, pieces, id, unwanted.at_mm))
        });
        if let Some(seam) = there {
            notes.say("marks", &seam.id, &format!("it lies where seam {} is not wanted", index + 1));
        }
    }
    for (index, &at_mm) in asked.printed.iter().enumerate() {
        let own = plan.pieces.iter().zip(pieces).filter(|(piece, _)| piece.item == item.id);
        let is_on = |file: &PieceFile| off_mm(file, at_mm).is_some_and(|mm| mm < ON_MM);
        if !own.filter_map(|(_, file)| file.as_ref()).any(is_on) {
            notes.say("marks", &item.id, &format!("printed piece {} is not there", index + 1));
        }
    }
}

fn plane_of(seam: &Seam) -> Plane {
    Plane { normal: seam.plane.normal, offset_mm: seam.plane.offset_mm }
}

fn off_mm(file: &PieceFile, at_mm: [f64; 3]) -> Option<f64> {
    Some(Tree::new(file.mesh.points.clone(), file.mesh.triangles.clone())?.distance_mm(at_mm))
}

/// Whether a place lies in a piece's box.
fn holds(plan: &Plan, pieces: &[Option<PieceFile>], id: &str, at_mm: [f64; 3]) -> bool {
    let index = plan.pieces.iter().position(|piece| piece.id == id);
    let Some(file) = index.and_then(|index| pieces[index].as_ref()) else { return false };
    let (low, high) = file.mesh.box_mm();
    (0..3).all(|k| low[k] <= at_mm[k] && at_mm[k] <= high[k])
}
