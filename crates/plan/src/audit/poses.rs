//! Poses: rigid, on the bed, inside the usable volume, off the keep-outs, of the kind they claim,
//! with the margins they claim.
//!
//! Definitions (contract): margins are measured to the usable volume, the smallest over the axes of
//! (usable size - extent), on a round bed usable diameter - diameter of the circle around the shadow;
//! `face`: at least 2 cm2 flat on the bed (within 0.02 mm and 1 degree of it); `stable`: mass centre at least 2 mm inside the hull of what
//! lies below 0.3 mm; `held`: neither.
//! The best margin under any rotation is not searched again here: it is held between the margins
//! of the pose and of a fixed set of rotations, and what volume and longest diagonal leave possible.
//! Codes: `pose-not-rigid`, `pose-height`, `through-bed`, `outside-bed`, `keep-out`, `pose-kind`,
//! `fit-margin`, `fit-any`, `no-fit`, `posed-file`.

use crate::records::{Bed, BedShape, Piece, Plan, PoseKind};

use super::flat::{P2, depth_in_hull, enclosing_diameter, hull};
use super::pieces::{PieceFile, read_mesh};
use super::shadow::Shadow;
use super::stl::{Mesh, cross, dot, sub};
use super::{Figures, Folder, Notes};

/// Lowest point of a pose (contract's 0.001 mm for posed meshes).
const REST_MM: f64 = 1e-3;
/// Fits means at least this (contract).
const FITS_MM: f64 = -1e-6;
/// Margins are claims about the same f32 points; this covers another order of arithmetic.
const MARGIN_MM: f64 = 1e-4;
/// Rotation matrices come from f64 trigonometry, written out in full.
const RIGID: f64 = 1e-9;
/// Flat on the bed: a twentieth of a first layer (common practice, no source), and the rest.
const FLAT_MM: f64 = 0.02 + REST_MM;
/// A face of the bed's own direction: within 1 degree (ours; the contract says only "flat").
const FLAT_COSINE: f64 = 0.999_847_695;
/// Area of a resting face (contract: 2 cm2).
const FACE_MM2: f64 = 200.0;
/// Height below which a piece touches the bed in print (contract).
const CONTACT_MM: f64 = 0.3;
/// Least depth of the mass centre in the contact hull (contract).
const DEPTH_MM: f64 = 2.0;
/// A best margin is proved to within a fifth of a first layer by the planner; nothing sampled may
/// beat it by more.
const ANY_MM: f64 = 0.25;
/// Slack on depth and face area, so that a limit value is nobody's lie.
const KIND_SLACK: f64 = 0.01;

/// A thing as it lies on its bed.
pub(super) struct Posed<'a> {
    pub id: &'a str,
    pub points: Vec<[f64; 3]>,
    pub triangles: Vec<[u32; 3]>,
    pub shadow: Shadow,
}

/// Checks all poses; returns pieces, then extras, as they lie.
pub(super) fn check<'a>(
    folder: &Folder,
    plan: &'a Plan,
    pieces: &[Option<PieceFile>],
    figures: &mut Figures,
    notes: &mut Notes,
) -> Vec<Posed<'a>> {
    let mut all = Vec::new();
    for (record, file) in plan.pieces.iter().zip(pieces) {
        let Some(file) = file else { continue };
        let posed = pose(&record.id, &file.mesh, &record.pose, notes);
        check_posed_file(folder, &posed, notes);
        let load_bed = plan.loads.iter().find(|l| l.id == record.load).map(|l| &l.bed);
        if load_bed.is_some_and(|bed| *bed != record.fit.bed) {
            notes.say("no-fit", &record.id, "its fit is for another bed than its load's");
        }
        if let Some(bed) = plan.beds.iter().find(|b| b.id == record.fit.bed) {
            check_on_bed(&posed, bed, notes);
            let margin = margin_mm(&posed, bed);
            figures.worst_fit_margin_mm = figures.worst_fit_margin_mm.min(margin);
            check_margins(record, margin, &posed, bed, notes);
        }
        check_kind(record, file, &posed, notes);
        all.push(posed);
    }
    for record in &plan.extras {
        let Some(mesh) = read_mesh(folder, &record.file, notes) else { continue };
        super::pieces::check_edges(&record.id, &mesh.edges(), notes);
        let posed = pose(&record.id, &mesh, &record.pose, notes);
        check_posed_file(folder, &posed, notes);
        let load = plan.loads.iter().find(|l| l.id == record.load);
        if let Some(bed) = load.and_then(|l| plan.beds.iter().find(|b| b.id == l.bed)) {
            check_on_bed(&posed, bed, notes);
        }
        all.push(posed);
    }
    all
}

fn apply(m: &[f64; 12], p: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|i| m[4 * i] * p[0] + m[4 * i + 1] * p[1] + m[4 * i + 2] * p[2] + m[4 * i + 3])
}

fn pose<'a>(id: &'a str, mesh: &Mesh, m: &[f64; 12], notes: &mut Notes) -> Posed<'a> {
    let row = |i: usize| [m[4 * i], m[4 * i + 1], m[4 * i + 2]];
    let determinant = dot(row(0), cross(row(1), row(2)));
    let square =
        (0..3).all(|i| (0..3).all(|j| (dot(row(i), row(j)) - if i == j { 1.0 } else { 0.0 }).abs() <= RIGID));
    let turns = (determinant - 1.0).abs() <= RIGID;
    if !square || !turns {
        let text = "the pose is not a turn: it mirrors, scales or bends";
        notes.number("pose-not-rigid", id, text, determinant, 1.0);
    }
    let points: Vec<[f64; 3]> = mesh.points.iter().map(|&p| apply(m, p)).collect();
    let shadow = Shadow::new(&points, mesh);
    Posed { id, points, triangles: mesh.triangles.clone(), shadow }
}

/// `posed/<id>.stl`, where it is there, is the piece in its pose.
fn check_posed_file(folder: &Folder, posed: &Posed, notes: &mut Notes) {
    let path = format!("posed/{}.stl", posed.id);
    if !folder.files.contains_key(&path) {
        return;
    }
    let Some(mesh) = read_mesh(folder, &path, notes) else { return };
    if !super::threemf::same_triangles(&mesh.points, &mesh.triangles, &posed.points, &posed.triangles) {
        notes.say("posed-file", &path, "it is not the piece in its pose");
    }
}

/// Usable size on each axis; the diameter twice for a round bed.
fn usable_mm(bed: &Bed) -> [f64; 3] {
    let m = bed.margin_mm;
    [bed.size_mm[0] - 2.0 * m, bed.size_mm[1] - 2.0 * m, bed.size_mm[2] - m]
}

fn check_on_bed(posed: &Posed, bed: &Bed, notes: &mut Notes) {
    let (low, high) = super::stl::box_of(&posed.points);
    if low[2] < -REST_MM {
        notes.number("through-bed", posed.id, "it reaches below the bed", low[2], 0.0);
    } else if low[2] > REST_MM {
        notes.number("pose-height", posed.id, "its lowest point is not on the bed", low[2], 0.0);
    }
    let top = bed.size_mm[2] - bed.margin_mm - high[2];
    let side = match bed.shape {
        BedShape::Rect => (0..2)
            .map(|k| (low[k] - bed.margin_mm).min(bed.size_mm[k] - bed.margin_mm - high[k]))
            .fold(f64::INFINITY, f64::min),
        BedShape::Round => {
            let radius = 0.5 * bed.size_mm[0];
            let far = posed.shadow.hull().iter().map(|p| {
                let (dx, dy) = (p[0] - radius, p[1] - radius);
                (dx * dx + dy * dy).sqrt()
            });
            radius - bed.margin_mm - far.fold(0.0, f64::max)
        }
    };
    // A pose that rests up to 0.001 mm off the bed is not blamed for that again at the top.
    let room = side.min(top + low[2].clamp(-REST_MM, REST_MM).abs());
    let inside = room >= FITS_MM;
    if !inside {
        notes.number("outside-bed", posed.id, "it leaves the usable volume", room, FITS_MM);
    }
    if bed.keep_out.iter().any(|polygon| posed.shadow.meets_polygon(polygon)) {
        notes.say("keep-out", posed.id, "it lies on an area that is kept out");
    }
}

/// Room left in this pose.
fn margin_mm(posed: &Posed, bed: &Bed) -> f64 {
    let (low, high) = super::stl::box_of(&posed.points);
    room_mm(low, high, posed.shadow.hull(), bed)
}

/// Usable size less extent; `shadow` is the hull of what lies in the box.
fn room_mm(low: [f64; 3], high: [f64; 3], shadow: &[P2], bed: &Bed) -> f64 {
    let usable = usable_mm(bed);
    let height = usable[2] - (high[2] - low[2]);
    let across = match bed.shape {
        BedShape::Rect => (0..2).map(|k| usable[k] - (high[k] - low[k])).fold(f64::INFINITY, f64::min),
        BedShape::Round => usable[0] - enclosing_diameter(shadow),
    };
    across.min(height)
}

/// The most room under a fixed set of rotations: up along the axes, edges and corners of a cube,
/// turned by 15 degrees each.
fn best_sampled_mm(points: &[[f64; 3]], bed: &Bed) -> f64 {
    let mut best = f64::NEG_INFINITY;
    for code in 0..27 {
        let up = [code % 3, code / 3 % 3, code / 9].map(|c| f64::from(c) - 1.0);
        let length = dot(up, up).sqrt();
        // Of each pair of opposite directions one is enough: boxes and circles do not mind.
        if code <= 13 {
            continue;
        }
        let up = up.map(|c| c / length);
        let (u, v) = super::mates::frame(up);
        for turn in 0..12 {
            let angle = f64::from(turn) * std::f64::consts::PI / 12.0;
            let (sin, cos) = (libm::sin(angle), libm::cos(angle));
            let x: [f64; 3] = std::array::from_fn(|k| cos * u[k] + sin * v[k]);
            let y: [f64; 3] = std::array::from_fn(|k| cos * v[k] - sin * u[k]);
            let turned: Vec<[f64; 3]> = points.iter().map(|&p| [dot(x, p), dot(y, p), dot(up, p)]).collect();
            let (low, high) = super::stl::box_of(&turned);
            let round = bed.shape == BedShape::Round;
            let shadow = if round { hull(turned.iter().map(|p| [p[0], p[1]])) } else { Vec::new() };
            best = best.max(room_mm(low, high, &shadow, bed));
        }
    }
    best
}

fn check_margins(record: &Piece, margin: f64, posed: &Posed, bed: &Bed, notes: &mut Notes) {
    let (id, fit) = (&record.id, &record.fit);
    notes.expect_close("fit-margin", id, "margin_printable_mm", margin, fit.margin_printable_mm, MARGIN_MM);
    let fits = margin >= FITS_MM;
    if !fits {
        notes.number("no-fit", id, "it is larger than the usable volume", margin, FITS_MM);
    }
    let at_least = fit.margin_any_mm >= margin - MARGIN_MM;
    if !at_least {
        let text = "the best margin is said to be less than that of the pose used";
        notes.number("fit-any", id, text, fit.margin_any_mm, margin);
    }
    let hull = seamwright_mesh::hull::convex_hull(&posed.points);
    let sampled = best_sampled_mm(&hull.points_mm, bed);
    let no_worse = fit.margin_any_mm >= sampled - ANY_MM;
    if !no_worse {
        let text = "a rotation leaves more room than the best margin is said to be";
        notes.number("fit-any", id, text, fit.margin_any_mm, sampled);
    }
    // With margin m the piece lies in the usable volume shrunk by m: its volume and its longest
    // diagonal must find room there, and it cannot be thinner than its volume over the room's floor.
    let usable = usable_mm(bed).map(|size| size - fit.margin_any_mm);
    let volume = Mesh { points: hull.points_mm.clone(), triangles: hull.triangles }.volume_mm3();
    let (room, diagonal2) = match bed.shape {
        BedShape::Rect => (usable[0] * usable[1] * usable[2], usable.iter().map(|s| s * s).sum::<f64>()),
        BedShape::Round => (
            0.25 * std::f64::consts::PI * usable[0] * usable[0] * usable[2],
            usable[0] * usable[0] + usable[2] * usable[2],
        ),
    };
    let longest2 = longest_squared(&hull.points_mm);
    let possible = usable.iter().all(|&s| s >= -MARGIN_MM)
        && volume <= room * (1.0 + 1e-6) + 1.0
        && longest2.sqrt() <= diagonal2.sqrt() + 2.0 * MARGIN_MM;
    if !possible {
        let text = "the best margin is said to be more than its volume or longest diagonal allows";
        notes.number("fit-any", id, text, fit.margin_any_mm, margin);
    }
}

/// Square of the longest distance between two points; only those far from the middle can end it.
fn longest_squared(points: &[[f64; 3]]) -> f64 {
    let (low, high) = super::stl::box_of(points);
    let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
    let mut far: Vec<(f64, [f64; 3])> = points
        .iter()
        .map(|&p| {
            let d = sub(p, middle);
            (dot(d, d).sqrt(), p)
        })
        .collect();
    far.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut best = 0.0f64;
    for (i, &(ri, p)) in far.iter().enumerate() {
        for &(rj, q) in &far[i + 1..] {
            if (ri + rj) * (ri + rj) <= best {
                break;
            }
            let d = sub(p, q);
            best = best.max(dot(d, d));
        }
    }
    best
}

fn check_kind(record: &Piece, file: &PieceFile, posed: &Posed, notes: &mut Notes) {
    let mut face = 0.0;
    let mut contact: Vec<P2> = Vec::new();
    for t in &posed.triangles {
        let corners = t.map(|i| posed.points[i as usize]);
        if corners.iter().all(|p| p[2] > CONTACT_MM) {
            continue;
        }
        let normal = cross(sub(corners[1], corners[0]), sub(corners[2], corners[0]));
        let twice = dot(normal, normal).sqrt();
        if -normal[2] >= FLAT_COSINE * twice && corners.iter().all(|p| p[2] <= FLAT_MM) {
            face += 0.5 * twice;
        }
        for k in 0..3 {
            let (p, q) = (corners[k], corners[(k + 1) % 3]);
            if p[2] <= CONTACT_MM {
                contact.push([p[0], p[1]]);
            }
            if (p[2] <= CONTACT_MM) != (q[2] <= CONTACT_MM) {
                let s = (CONTACT_MM - p[2]) / (q[2] - p[2]);
                contact.push([p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1])]);
            }
        }
    }
    let centre = apply(&record.pose, file.centre_mm);
    let depth = depth_in_hull([centre[0], centre[1]], &hull(contact.into_iter()));
    let on_face = face >= FACE_MM2 * (1.0 - KIND_SLACK);
    let steady = depth >= DEPTH_MM - KIND_SLACK;
    let by_itself = face >= FACE_MM2 * (1.0 + KIND_SLACK) || depth >= DEPTH_MM + KIND_SLACK;
    let (holds, text, value, allowed) = match record.pose_kind {
        PoseKind::Face => (on_face, "it is said to rest on a face of 2 cm2", face, FACE_MM2),
        PoseKind::Stable => {
            (steady, "its mass centre is said to be 2 mm inside its contact", depth, DEPTH_MM)
        }
        PoseKind::Held => (!by_itself, "it is said to need holding but rests by itself", depth, DEPTH_MM),
    };
    if !holds {
        notes.number("pose-kind", &record.id, text, value, allowed);
    }
}
