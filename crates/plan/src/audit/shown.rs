//! What of each seam's line shows, runs through detail or lies in a hollow, measured again.
//!
//! How: `seams::lines` on solids read back from the files. That module is shared with the planner
//! on purpose: it is the definition of these words in code. What it is given comes from the files
//! alone, and length and area of each seam are the audit's own (`mates.rs`).
//! The inner side of a wall is told from the item's role and shape, without one by size.
//! Codes: `seam-visible`, `seam-detail`, `seam-hollow`, `seam-shown`, `not-solid`.

use seamwright_mesh::{Plane, Solid};
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::patches::{InnerRule, SkinMap};

use crate::records::{Plan, Seam};

use super::Notes;
use super::items::ItemFile;
use super::pieces::PieceFile;
use super::stl::Mesh;

/// Figures may differ by a fraction of the line and a little: the stretches are resampled from
/// corners that are joined within some 0.001 mm.
const LINE_FRACTION: f64 = 2e-3;
/// See [`LINE_FRACTION`].
const LINE_MM: f64 = 0.1;

/// The solid of a file's mesh.
pub(super) fn solid_of(id: &str, mesh: &Mesh, notes: &mut Notes) -> Option<Solid> {
    match Solid::from_triangles(&mesh.points, &mesh.triangles) {
        Ok((solid, _)) => Some(solid),
        Err(error) => {
            notes.say("not-solid", id, &error.to_string());
            None
        }
    }
}

/// Measures the seams of every item. An item some piece of which is no solid was reported.
pub(super) fn check(
    plan: &Plan,
    items: &[Option<ItemFile>],
    solids: &[Option<Solid>],
    pieces: &[Option<PieceFile>],
    notes: &mut Notes,
) {
    for (index, item) in plan.items.iter().enumerate() {
        let (Some(solid), Some(_)) = (&solids[index], &items[index]) else { continue };
        let seams: Vec<&Seam> = plan.seams.iter().filter(|s| s.item == item.id).collect();
        if seams.is_empty() {
            continue;
        }
        let own: Vec<usize> = (0..plan.pieces.len()).filter(|&p| plan.pieces[p].item == item.id).collect();
        let files: Vec<&PieceFile> = own.iter().filter_map(|&p| pieces[p].as_ref()).collect();
        if files.len() != own.len() {
            continue;
        }
        let made: Vec<Solid> = own
            .iter()
            .zip(&files)
            .filter_map(|(&p, file)| solid_of(&plan.pieces[p].id, &file.mesh, notes))
            .collect();
        if made.len() != own.len() {
            continue;
        }
        let planes: Vec<Plane> =
            seams.iter().map(|s| Plane { normal: s.plane.normal, offset_mm: s.plane.offset_mm }).collect();
        let refs: Vec<&Solid> = made.iter().collect();
        let rule = InnerRule::of_role(item.role.as_deref(), solid);
        let mut found = measure_seams(solid, &SkinMap::with_rule(solid, &rule), &refs, &planes);
        for seam in seams {
            compare(plan, &own, seam, &planes, &mut found, notes);
        }
    }
}

/// Takes the measure of the same pieces and plane that is nearest in line, and compares.
fn compare(
    plan: &Plan,
    own: &[usize],
    seam: &Seam,
    planes: &[Plane],
    found: &mut Vec<SeamMeasure>,
    notes: &mut Notes,
) {
    let id_of = |piece: usize| &plan.pieces[own[piece]].id;
    let mine = |m: &SeamMeasure| {
        let pair = [id_of(m.pieces.0), id_of(m.pieces.1)];
        let plane = planes[m.plane_index];
        let side = if super::stl::dot(plane.normal, seam.plane.normal) < 0.0 { -1.0 } else { 1.0 };
        let pair_fits = pair.contains(&&seam.pieces[0]) && pair.contains(&&seam.pieces[1]);
        pair_fits && (plane.offset_mm * side - seam.plane.offset_mm).abs() < super::faces::NEAR_MM
    };
    let misfit = |m: &SeamMeasure| {
        (m.line_mm - seam.line_mm).abs()
            + (m.visible_mm - seam.visible_mm).abs()
            + (m.through_detail_mm - seam.through_detail_mm).abs()
    };
    let best = (0..found.len())
        .filter(|&i| mine(&found[i]))
        .min_by(|&i, &j| misfit(&found[i]).total_cmp(&misfit(&found[j])));
    let Some(best) = best else {
        notes.say("seam-shown", &seam.id, "its line cannot be measured: no such contact is found");
        return;
    };
    let m = found.swap_remove(best);
    let slack = LINE_MM + LINE_FRACTION * m.line_mm;
    for (code, name, value, claimed) in [
        ("seam-visible", "visible_mm", m.visible_mm, seam.visible_mm),
        ("seam-detail", "through_detail_mm", m.through_detail_mm, seam.through_detail_mm),
        ("seam-hollow", "in_hollow_mm", m.in_hollow_mm, seam.in_hollow_mm),
    ] {
        notes.expect_close(code, &seam.id, name, value, claimed, slack);
    }
}
