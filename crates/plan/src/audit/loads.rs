//! Loads: every piece in exactly one, its 3MF equal to the pieces in their poses, nothing overlapping.
//!
//! Codes: `load-membership`, `load-empty`, `used-fraction`, `bad-3mf`, `3mf-objects`, `3mf-mesh`,
//! `overlap`, `gap`.

use std::collections::BTreeSet;

use crate::records::{Bed, BedShape, Load, Plan};

use super::flat::polygon_area;
use super::poses::Posed;
use super::threemf::{self, same_triangles};
use super::{Figures, Folder, Notes};

/// Shadows nearer than the gap by less than this are as meant: poses are rounded, outlines of a
/// lay may be simplified outward only.
const GAP_SLACK_MM: f64 = 1e-3;
/// Shadows whose hulls share less than this only touch: two grid steps.
const OVERLAP_MM: f64 = 5e-4;

/// Footprints may be made a little simpler, outward, or have a brim of a few mm; where a keep-out
/// reaches over the edge of the usable outline, only the order of size is looked at.
const USED_FRACTION: f64 = 0.1;

/// Checks all loads.
pub(super) fn check(folder: &Folder, plan: &Plan, posed: &[Posed], figures: &mut Figures, notes: &mut Notes) {
    check_membership(plan, notes);
    for load in &plan.loads {
        if load.pieces.is_empty() && load.extras.as_ref().is_none_or(Vec::is_empty) {
            notes.say("load-empty", &load.id, "nothing lies in it");
        }
        let members: Vec<&Posed> =
            ids(load).iter().filter_map(|id| posed.iter().find(|p| p.id == *id)).collect();
        check_model(folder, load, &members, notes);
        if let Some(bed) = plan.beds.iter().find(|b| b.id == load.bed) {
            check_used(load, bed, &members, notes);
        }
        let gap_mm = plan.beds.iter().find(|b| b.id == load.bed).and_then(|bed| bed.gap_mm).unwrap_or(0.0);
        check_gaps(&members, gap_mm, figures, notes);
    }
}

fn ids(load: &Load) -> Vec<&str> {
    load.pieces.iter().chain(load.extras.iter().flatten()).map(String::as_str).collect()
}

fn check_membership(plan: &Plan, notes: &mut Notes) {
    let things = plan
        .pieces
        .iter()
        .map(|p| (&p.id, &p.load, true))
        .chain(plan.extras.iter().map(|e| (&e.id, &e.load, false)));
    for (id, named, is_piece) in things {
        let holders: Vec<&str> = plan
            .loads
            .iter()
            .flat_map(|l| {
                let list = if is_piece { Some(&l.pieces) } else { l.extras.as_ref() };
                list.into_iter().flatten().filter(|x| *x == id).map(|_| l.id.as_str())
            })
            .collect();
        if holders != [named.as_str()] {
            notes.say("load-membership", id, &format!("it names {named:?}, loads that list it: {holders:?}"));
        }
    }
}

fn check_model(folder: &Folder, load: &Load, members: &[&Posed], notes: &mut Notes) {
    let Some(bytes) = folder.files.get(&load.file) else { return };
    let built = match threemf::read(bytes) {
        Ok(built) => built,
        Err(text) => return notes.say("bad-3mf", &load.file, &text),
    };
    let names: BTreeSet<&str> = built.iter().map(|b| b.name.as_str()).collect();
    let due: BTreeSet<&str> = ids(load).into_iter().collect();
    if names != due || built.len() != due.len() {
        let text = format!("it holds {names:?} in {} objects, due is {due:?}", built.len());
        notes.say("3mf-objects", &load.file, &text);
    }
    for object in &built {
        if object.part_number != object.name {
            let text = format!("object {:?} has part number {:?}", object.name, object.part_number);
            notes.say("3mf-objects", &load.file, &text);
        }
        let Some(member) = members.iter().find(|m| m.id == object.name) else { continue };
        if !same_triangles(&object.points, &object.triangles, &member.points, &member.triangles) {
            notes.say("3mf-mesh", &object.name, "mesh times transform is not the STL in its pose");
        }
    }
}

/// Footprints (hulls of shadows) over the usable outline without its keep-outs.
fn check_used(load: &Load, bed: &Bed, members: &[&Posed], notes: &mut Notes) {
    let side = |k: usize| bed.size_mm[k] - 2.0 * bed.margin_mm;
    let outline = match bed.shape {
        BedShape::Rect => side(0) * side(1),
        BedShape::Round => 0.25 * std::f64::consts::PI * side(0) * side(0),
    };
    let kept_out: f64 = bed.keep_out.iter().map(|polygon| polygon_area(polygon).abs()).sum();
    let footprints: f64 = members.iter().map(|m| polygon_area(m.shadow.hull())).sum();
    let found = footprints / (outline - kept_out);
    let slack = if bed.keep_out.is_empty() { USED_FRACTION } else { 1.0 };
    let claimed = load.used_fraction;
    notes.expect_close("used-fraction", &load.id, "used_fraction", found, claimed, slack * found);
}

fn check_gaps(members: &[&Posed], gap_mm: f64, figures: &mut Figures, notes: &mut Notes) {
    for (i, one) in members.iter().enumerate() {
        for other in &members[i + 1..] {
            let distance = one.shadow.distance_mm(&other.shadow, gap_mm.max(OVERLAP_MM));
            let pair = format!("{} and {}", one.id, other.id);
            if distance <= 0.0 && one.shadow.hulls_apart_mm(&other.shadow) < -OVERLAP_MM {
                figures.overlaps += 1;
                notes.say("overlap", &pair, "their footprints overlap");
            } else if distance < gap_mm - GAP_SLACK_MM {
                notes.number("gap", &pair, "their footprints are nearer than the gap", distance, gap_mm);
            }
        }
    }
}
