//! The join order: every seam closed once, whole assemblies pushed together, nothing met on the way.
//!
//! How: assemblies are followed step by step. The direction, travel of `from`, must have a positive
//! part along each closed seam's normal turned toward `to`. The way is sampled: from points just
//! under the faces of `from` a ray runs back along the way for 30 mm; if it runs through more than
//! 0.05 mm of `to`, that part of `to` was in the way. The same from `to` forward into `from`.
//! Codes: `join-steps`, `join-seams`, `join-pieces`, `join-assembly`, `join-direction`, `join-blocked`.

use std::collections::BTreeMap;

use seamwright_mesh::spatial::Tree;

use crate::records::{JoinStep, Plan};

use super::Notes;
use super::pieces::PieceFile;
use super::stl::{Mesh, Sets, cross, dot, sub};

/// How far back the way is looked at.
const WAY_MM: f64 = 30.0;
/// Rays a side; a sample, spread evenly over the triangles.
const N_RAYS: usize = 300;
/// Shorter runs through the other side are rims that touch.
const GRAZE_MM: f64 = 0.05;
/// How far under the face a ray starts, so that touching faces are not met.
const UNDER_MM: f64 = 0.02;

/// Checks the order of joining.
pub(super) fn check(plan: &Plan, pieces: &[Option<PieceFile>], notes: &mut Notes) {
    let position = |id: &String| plan.pieces.iter().position(|p| p.id == *id);
    let mut closed: BTreeMap<&str, usize> = plan.seams.iter().map(|s| (s.id.as_str(), 0)).collect();
    let mut assemblies = Sets::new(plan.pieces.len());
    let mut trees: Vec<Option<Tree>> = pieces
        .iter()
        .map(|p| p.as_ref().and_then(|p| Tree::new(p.mesh.points.clone(), p.mesh.triangles.clone())))
        .collect();
    for (index, step) in plan.join_order.iter().enumerate() {
        let subject = format!("step {}", step.step);
        if step.step != index + 1 {
            notes.say("join-steps", &subject, "steps are not counted 1, 2, 3");
        }
        let from: Vec<usize> = step.from.iter().filter_map(position).collect();
        let to: Vec<usize> = step.to.iter().filter_map(position).collect();
        if from.is_empty() || to.is_empty() || from.iter().any(|p| to.contains(p)) {
            notes.say("join-pieces", &subject, "it needs pieces on both sides, none on both");
            continue;
        }
        check_assemblies(plan, &subject, step, (&from, &to), &mut assemblies, notes);
        for id in &step.seams {
            if let Some(count) = closed.get_mut(id.as_str()) {
                *count += 1;
            }
        }
        check_seams(plan, &subject, step, notes);
        check_way(&subject, step.direction, (&from, &to), pieces, &mut trees, notes);
        from.iter().chain(&to).for_each(|&p| assemblies.join(p as u32, from[0] as u32));
    }
    for (id, count) in closed {
        if count != 1 {
            notes.number("join-seams", id, &format!("it is closed in {count} steps"), count as f64, 1.0);
        }
    }
}

/// Both sides are whole assemblies, and every seam between them is closed in this step.
fn check_assemblies(
    plan: &Plan,
    subject: &str,
    step: &JoinStep,
    (from, to): (&[usize], &[usize]),
    assemblies: &mut Sets,
    notes: &mut Notes,
) {
    for side in [from, to] {
        let numbers: Vec<u32> = side.iter().map(|&p| assemblies.find(p as u32)).collect();
        let torn = (0..plan.pieces.len())
            .find(|&p| numbers.contains(&assemblies.find(p as u32)) && !side.contains(&p));
        if let Some(p) = torn {
            let text = format!("{} is already joined to one side but left out", plan.pieces[p].id);
            notes.say("join-assembly", subject, &text);
        }
    }
    let on = |ids: &[String], id: &String| ids.contains(id);
    for seam in &plan.seams {
        let [a, b] = &seam.pieces;
        let between = (on(&step.from, a) && on(&step.to, b)) || (on(&step.from, b) && on(&step.to, a));
        if between != step.seams.contains(&seam.id) {
            let text = if between {
                format!("{} lies between the two sides but is not closed", seam.id)
            } else {
                format!("{} does not lie between the two sides", seam.id)
            };
            notes.say("join-seams", subject, &text);
        }
    }
}

fn check_seams(plan: &Plan, subject: &str, step: &JoinStep, notes: &mut Notes) {
    let length = dot(step.direction, step.direction).sqrt();
    let unit = (length - 1.0).abs() <= 1e-6;
    if !unit {
        notes.number("join-direction", subject, "the direction is not one long", length, 1.0);
    }
    for seam in plan.seams.iter().filter(|s| step.seams.contains(&s.id)) {
        let sign = if step.from.contains(&seam.pieces[0]) { 1.0 } else { -1.0 };
        let along = sign * dot(seam.plane.normal, step.direction);
        let toward = along > 0.0;
        if !toward {
            let text = format!("the direction does not lead toward seam {}", seam.id);
            notes.number("join-direction", subject, &text, along, 0.0);
        }
    }
}

fn check_way(
    subject: &str,
    direction: [f64; 3],
    (from, to): (&[usize], &[usize]),
    pieces: &[Option<PieceFile>],
    trees: &mut [Option<Tree>],
    notes: &mut Notes,
) {
    let back = direction.map(|c| -c);
    let met = blocked(from, to, back, pieces, trees).or_else(|| blocked(to, from, direction, pieces, trees));
    if let Some((at, run)) = met {
        let text = format!("something is met on the way, near {at:.1?}");
        notes.number("join-blocked", subject, &text, run, GRAZE_MM);
    }
}

/// The first sample of `movers` whose ray along `way` runs through one of `others`.
fn blocked(
    movers: &[usize],
    others: &[usize],
    way: [f64; 3],
    pieces: &[Option<PieceFile>],
    trees: &[Option<Tree>],
) -> Option<([f64; 3], f64)> {
    let total: usize =
        movers.iter().filter_map(|&p| pieces[p].as_ref()).map(|p| p.mesh.triangles.len()).sum();
    let stride = (total / N_RAYS).max(1);
    for &mover in movers {
        let Some(file) = &pieces[mover] else { continue };
        for t in file.mesh.triangles.iter().step_by(stride) {
            let Some(start) = under_face(&file.mesh, *t) else { continue };
            for &other in others {
                let (Some(other), Some(tree)) = (&pieces[other], &trees[other]) else { continue };
                if tree.cast_ray(start, way, WAY_MM).is_none() {
                    continue;
                }
                if let Some((from_mm, run)) = run_through(&other.mesh, tree, start, way) {
                    return Some((std::array::from_fn(|k| start[k] + from_mm * way[k]), run));
                }
            }
        }
    }
    None
}

/// Where along the way a ray runs through more than a graze of `mesh`, and how much.
fn run_through(mesh: &Mesh, tree: &Tree, start: [f64; 3], way: [f64; 3]) -> Option<(f64, f64)> {
    let mut hits: Vec<(f64, bool)> = tree
        .all_hits(start, way)
        .iter()
        .map(|hit| {
            let [a, b, c] = mesh.corners(mesh.triangles[hit.triangle]);
            (hit.distance_mm, dot(cross(sub(b, a), sub(c, a)), way) > 0.0)
        })
        .take_while(|&(distance, _)| distance <= WAY_MM)
        .collect();
    // In before out where both are at one edge, which is seen a rounding apart.
    hits.sort_by_key(|&(distance, leaves)| ((distance * 1e6) as i64, leaves));
    // A start under a slanted face at the very seam can lie a hair beyond it, in `mesh`.
    let mut entered = hits.first().filter(|(_, leaves)| *leaves).map(|_| 0.0);
    for (distance, leaves) in hits {
        if !leaves {
            entered.get_or_insert(distance);
        } else if let Some(from) = entered.take()
            && distance - from > GRAZE_MM
        {
            return Some((from, distance - from));
        }
    }
    entered.map(|from| (from, WAY_MM - from)).filter(|(_, run)| *run > GRAZE_MM)
}

/// A point just inside the solid under the middle of a triangle; none for slivers.
fn under_face(mesh: &Mesh, t: [u32; 3]) -> Option<[f64; 3]> {
    let [a, b, c] = mesh.corners(t);
    let normal = cross(sub(b, a), sub(c, a));
    let length = dot(normal, normal).sqrt();
    (length > 1e-3)
        .then(|| std::array::from_fn(|k| (a[k] + b[k] + c[k]) / 3.0 - UNDER_MM * normal[k] / length))
}
