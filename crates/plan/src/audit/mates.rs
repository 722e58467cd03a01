//! Every cut face has its mate, every contact is a listed seam, and seams are as long and as large
//! as the plan says.
//!
//! How: seams in one plane are taken together. All triangles of their pieces in that plane give
//! regions by piece, below and above; where a region below lies on one above is a contact
//! (`patches.rs`). Contacts are matched with the seams of the same two pieces. What of a piece's
//! faces in the plane is no contact must be the item's own surface. Over the whole item
//! the areas of the pieces without the contacts' two sides must be the item's area: no skin is
//! missing, none is there twice.
//! Codes: `plane`, `seam-item`, `seam-without-contact`, `contact-without-seam`, `seam-sides`,
//! `seam-line`, `seam-area`, `face-without-mate`, `skin-area`, `joints-not-audited`.

use std::collections::BTreeMap;

use crate::records::{Plan, Seam};

use super::Notes;
use super::faces::{NEAR_MM, SeamPlane, Skin, check_piece};
use super::items::ItemFile;
use super::patches::{Line, Patch, contact_patches, contacts_by_depth};
use super::pieces::PieceFile;
use super::stl::{Mesh, cross, dot, sub};

/// Planes whose normals differ by less (sine of the angle) and whose offsets differ by less than
/// [`NEAR_MM`] cannot be told apart over a bed's 300 mm.
const SAME_NORMAL: f64 = 1e-6;
/// A line may differ by this much of itself: corners are merged within 0.001 mm on runs of mm.
const LINE_FRACTION: f64 = 1e-3;
/// And by this much besides.
const LINE_MM: f64 = 0.05;
/// An area may differ by [`NEAR_MM`] along its line and this much besides.
const AREA_MM2: f64 = 0.05;

/// Seams of one item in one plane.
struct Group<'a> {
    plane: SeamPlane,
    /// The seam, and whether its normal runs against the group's.
    seams: Vec<(&'a Seam, bool)>,
    /// Positions in `plan.pieces`, ascending.
    pieces: Vec<usize>,
}

/// Checks faces and seams of every item.
pub(super) fn check(
    plan: &Plan,
    items: &[Option<ItemFile>],
    pieces: &[Option<PieceFile>],
    notes: &mut Notes,
) {
    for seam in &plan.seams {
        check_record(plan, seam, notes);
    }
    for (record, item) in plan.items.iter().zip(items) {
        let Some(item) = item else { continue };
        let of_item: Vec<usize> = (0..plan.pieces.len())
            .filter(|&p| plan.pieces[p].item == record.id && pieces[p].is_some())
            .collect();
        let groups = grouped(plan, &record.id);
        let mut skin = Skin::new(&item.mesh);
        // on_both[(group, piece)]: area in the plane and on the surface, by side.
        let mut on_both: BTreeMap<(usize, usize), [f64; 2]> = BTreeMap::new();
        let mut area = 0.0;
        for &p in &of_item {
            let Some(file) = &pieces[p] else { continue };
            area += file.area_mm2;
            let own: Vec<usize> = (0..groups.len()).filter(|&g| groups[g].pieces.contains(&p)).collect();
            let planes: Vec<SeamPlane> = own.iter().map(|&g| groups[g].plane).collect();
            let others: Vec<SeamPlane> =
                groups.iter().filter(|group| !group.pieces.contains(&p)).map(|group| group.plane).collect();
            let shared = check_piece(&plan.pieces[p].id, &file.mesh, &mut skin, [&planes, &others], notes);
            on_both.extend(own.iter().zip(shared).map(|(&g, area)| ((g, p), area)));
        }
        let (mut contact_area, mut contact_line) = (0.0, 0.0);
        for (g, group) in groups.iter().enumerate() {
            let skin_of = |p: usize| on_both.get(&(g, p)).copied().unwrap_or_default();
            let (a, l) = check_group(plan, group, pieces, skin_of, notes);
            contact_area += a;
            contact_line += l;
        }
        let skin_area = area - 2.0 * contact_area;
        let slack = AREA_MM2 + 1e-6 * item.area_mm2 + 2.0 * NEAR_MM * contact_line;
        let covered = (skin_area - item.area_mm2).abs() <= slack;
        if !covered {
            let text =
                format!("pieces show {skin_area:.2} mm2 of the item's surface of {:.2} mm2", item.area_mm2);
            notes.number("skin-area", &record.id, &text, skin_area, item.area_mm2);
        }
    }
}

fn check_record(plan: &Plan, seam: &Seam, notes: &mut Notes) {
    let length = dot(seam.plane.normal, seam.plane.normal).sqrt();
    let unit = (length - 1.0).abs() <= 1e-9;
    if !unit || !seam.plane.offset_mm.is_finite() {
        notes.number("plane", &seam.id, "the plane's normal is not one long", length, 1.0);
    }
    let item_of = |id: &String| plan.pieces.iter().find(|p| p.id == *id).map(|p| p.item.as_str());
    if seam.pieces.iter().any(|id| item_of(id).is_some_and(|item| item != seam.item)) {
        notes.say("seam-item", &seam.id, "its pieces are not of its item");
    }
    if seam.pieces[0] == seam.pieces[1] {
        notes.say("seam-item", &seam.id, "it joins a piece with itself");
    }
    if seam.joints.as_ref().is_some_and(|joints| !joints.is_empty()) {
        notes.say("joints-not-audited", &seam.id, "it has joints, which this audit does not know yet");
    }
}

fn grouped<'a>(plan: &'a Plan, item: &str) -> Vec<Group<'a>> {
    let position = |id: &String| plan.pieces.iter().position(|p| p.id == *id);
    let mut groups: Vec<Group> = Vec::new();
    for seam in plan.seams.iter().filter(|s| s.item == item) {
        let (normal, offset_mm) = (seam.plane.normal, seam.plane.offset_mm);
        let fits = |g: &Group| {
            let turned = cross(normal, g.plane.normal);
            let sign = dot(normal, g.plane.normal).signum();
            dot(turned, turned).sqrt() <= SAME_NORMAL
                && (offset_mm * sign - g.plane.offset_mm).abs() <= NEAR_MM
        };
        let at = groups.iter().position(fits).unwrap_or_else(|| {
            groups.push(Group {
                plane: SeamPlane { normal, offset_mm },
                seams: Vec::new(),
                pieces: Vec::new(),
            });
            groups.len() - 1
        });
        let against = dot(normal, groups[at].plane.normal) < 0.0;
        groups[at].seams.push((seam, against));
        groups[at].pieces.extend(seam.pieces.iter().filter_map(position));
    }
    for group in &mut groups {
        group.pieces.sort_unstable();
        group.pieces.dedup();
    }
    groups
}

/// Checks one plane; returns area and line of all its contacts.
fn check_group(
    plan: &Plan,
    group: &Group,
    pieces: &[Option<PieceFile>],
    skin_of: impl Fn(usize) -> [f64; 2],
    notes: &mut Notes,
) -> (f64, f64) {
    let mut lines = Vec::new();
    // Areas in the plane facing along and against the normal, and boundary length.
    let mut faces: BTreeMap<usize, ([f64; 2], f64)> = BTreeMap::new();
    for &p in &group.pieces {
        if let Some(file) = &pieces[p] {
            faces.insert(p, faces_in_plane(&file.mesh, &group.plane, p, &mut lines));
        }
    }
    let mut by_depth = contacts_by_depth(&lines);
    let mut matched: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
    let (mut area, mut line) = (0.0, 0.0);
    // Faces that lie on the plane twice meet twice.
    for (&(below, above), patches) in by_depth.values().flatten() {
        for patch in patches {
            matched.entry(below).or_default()[0] += patch.area_mm2;
            matched.entry(above).or_default()[1] += patch.area_mm2;
            area += patch.area_mm2;
            line += patch.line_mm;
        }
    }
    for (&p, (in_plane, rim)) in &faces {
        let (met, skin) = (matched.get(&p).copied().unwrap_or_default(), skin_of(p));
        for side in 0..2 {
            let lonely = in_plane[side] - met[side] - skin[side];
            let slack = AREA_MM2 + NEAR_MM * rim;
            if lonely > slack {
                let text = format!("{lonely:.3} mm2 of a cut face meet no other piece");
                notes.number("face-without-mate", &plan.pieces[p].id, &text, lonely, slack);
            }
        }
    }
    let contacts = by_depth.remove(&1).unwrap_or_default();
    compare_seams(plan, group, &contacts, notes);
    (area, line)
}

/// Collects the boundary of a piece's faces in a plane; returns their areas by side, and its length.
fn faces_in_plane(mesh: &Mesh, plane: &SeamPlane, piece: usize, lines: &mut Vec<Line>) -> ([f64; 2], f64) {
    let (u, v) = frame(plane.normal);
    let flat = |p: [f64; 3]| [dot(u, p), dot(v, p)];
    let mut areas = [0.0; 2];
    let mut uses: BTreeMap<(u32, u32), i32> = BTreeMap::new();
    for &t in &mesh.triangles {
        let corners = mesh.corners(t);
        if !plane.holds(corners) {
            continue;
        }
        let signed = 0.5 * dot(plane.normal, cross(sub(corners[1], corners[0]), sub(corners[2], corners[0])));
        areas[usize::from(signed < 0.0)] += signed.abs();
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            *uses.entry((a.min(b), a.max(b))).or_insert(0) += if a < b { 1 } else { -1 };
        }
    }
    let mut rim = 0.0;
    for ((a, b), n) in uses {
        let (from, to) = if n > 0 { (a, b) } else { (b, a) };
        for _ in 0..n.abs() {
            let (from, to) = (flat(mesh.points[from as usize]), flat(mesh.points[to as usize]));
            rim += super::flat::dist2(from, to).sqrt();
            lines.push(Line { piece, from, to });
        }
    }
    (areas, rim)
}

/// Length of all contact lines of a set of meshes in one plane.
pub(super) fn line_in_plane_mm(meshes: &[Mesh], normal: [f64; 3], offset_mm: f64) -> f64 {
    let plane = SeamPlane { normal, offset_mm };
    let mut lines = Vec::new();
    for (index, mesh) in meshes.iter().enumerate() {
        faces_in_plane(mesh, &plane, index, &mut lines);
    }
    contact_patches(&lines).values().flatten().map(|patch| patch.line_mm).sum()
}

/// Two unit vectors that make a right-handed frame with a unit normal.
pub(super) fn frame(normal: [f64; 3]) -> ([f64; 3], [f64; 3]) {
    let axis = if normal[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let u = cross(axis, normal);
    let u = u.map(|c| c / dot(u, u).sqrt());
    (u, cross(normal, u))
}

/// Whether seams and contacts of two pieces in one plane are as long and as large together. Where
/// regions hang together by a neck as narrow as rounding, one drawing sees one patch and another
/// two; nothing is missing then.
fn same_together(seams: &[&Seam], patches: &[Patch]) -> bool {
    if seams.is_empty() || patches.is_empty() {
        return false;
    }
    let line_mm: f64 = patches.iter().map(|p| p.line_mm).sum();
    let area_mm2: f64 = patches.iter().map(|p| p.area_mm2).sum();
    let said_mm: f64 = seams.iter().map(|s| s.line_mm).sum();
    let said_mm2: f64 = seams.iter().map(|s| s.bond_area_mm2).sum();
    (line_mm - said_mm).abs() <= LINE_MM + LINE_FRACTION * line_mm
        && (area_mm2 - said_mm2).abs() <= AREA_MM2 + NEAR_MM * line_mm
}

/// Matches contacts and seams of the same two pieces.
fn compare_seams(
    plan: &Plan,
    group: &Group,
    contacts: &BTreeMap<(usize, usize), Vec<Patch>>,
    notes: &mut Notes,
) {
    let position = |id: &String| plan.pieces.iter().position(|p| p.id == *id);
    let mut listed: BTreeMap<(usize, usize), Vec<&Seam>> = BTreeMap::new();
    for &(seam, against) in &group.seams {
        if let (Some(a), Some(b)) = (position(&seam.pieces[0]), position(&seam.pieces[1])) {
            listed.entry(if against { (b, a) } else { (a, b) }).or_default().push(seam);
        }
    }
    for (&(below, above), patches) in contacts {
        let seams = listed.remove(&(below, above)).unwrap_or_default();
        let (one, other) = (&plan.pieces[below].id, &plan.pieces[above].id);
        if seams.is_empty() && listed.contains_key(&(above, below)) {
            // The pair is there the wrong way round: said once, where that pair is compared.
            continue;
        }
        if seams.len() != patches.len() && same_together(&seams, patches) {
            continue;
        }
        let mut left: Vec<Patch> = patches.clone();
        for seam in seams {
            let misfit = |p: &Patch| {
                (p.line_mm - seam.line_mm).abs() + (p.area_mm2 - seam.bond_area_mm2).abs() / p.line_mm
            };
            let Some(best) = (0..left.len()).min_by(|&i, &j| misfit(&left[i]).total_cmp(&misfit(&left[j])))
            else {
                notes.say(
                    "seam-without-contact",
                    &seam.id,
                    &format!("{one} and {other} meet in fewer places"),
                );
                continue;
            };
            let patch = left.swap_remove(best);
            let line_slack = LINE_MM + LINE_FRACTION * patch.line_mm;
            notes.expect_close("seam-line", &seam.id, "line_mm", patch.line_mm, seam.line_mm, line_slack);
            let area_slack = AREA_MM2 + NEAR_MM * patch.line_mm;
            let area = patch.area_mm2;
            notes.expect_close("seam-area", &seam.id, "bond_area_mm2", area, seam.bond_area_mm2, area_slack);
        }
        for patch in left {
            let text = format!("{one} and {other} meet over {:.2} mm2 in a seam not listed", patch.area_mm2);
            notes.number("contact-without-seam", one, &text, patch.area_mm2, 0.0);
        }
    }
    for ((below, above), seams) in listed {
        let swapped = contacts.contains_key(&(above, below));
        for seam in seams {
            if swapped {
                let text = "its normal points from its second piece to its first";
                notes.say("seam-sides", &seam.id, text);
            } else {
                let (one, other) = (&plan.pieces[below].id, &plan.pieces[above].id);
                notes.say("seam-without-contact", &seam.id, &format!("{one} and {other} do not meet there"));
            }
        }
    }
}
