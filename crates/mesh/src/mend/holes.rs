//! Closing what is open: which rims get a patch, and which surfaces get a wall instead.
//!
//! A rim gets a patch where that closes a hole: one that is small beside its body, or that lies
//! inside other bodies, as the foot of a spike does. A body whose rims open on more than a share of
//! its area, or that a patch would leave flat, is a surface of one side (cloth, a cup, a mask): it
//! gets a wall.

use super::rims::{Rim, rims};
use super::smooth::{self, Patch, Users};
use super::surface::Surface;
use super::thicken::{self, Walls};
use super::{Open, Step, Wishes, patch};
use crate::edges::{QuickSet, edge_key};
use crate::flaws::Found;
use crate::grid;
use crate::measure;
use crate::vec3;

/// A body whose free rims span more than this share of its area is a surface of one side (own
/// choice: an open tube five times as long as wide has 10 %, a hemisphere 50 %).
const OPEN_SHARE: f64 = 0.15;
/// A patched body thinner than this on the mean was flat.
const FLAT_MM: f64 = 0.1;
/// Triangles that dividing may add to surfaces of one side, in all: a hat takes 21,000.
const DIVIDED: usize = 60_000;
/// Rims of fewer points get the patch of least area as it is.
const SMOOTH_FROM: usize = 6;
/// Rims of more points too: fairing takes long, and what is left open that wide is no dent.
const SMOOTH_TO: usize = 800;

/// What was closed.
#[derive(Default)]
pub(super) struct Closed {
    pub holes: Found,
    pub n_smooth: usize,
    pub patch_mm2: f64,
    pub sheets: Found,
    pub walls: Walls,
}

/// One rim with the patch it would get.
struct Patched {
    rim: Rim,
    triangles: Vec<[usize; 3]>,
    area_mm2: f64,
    /// The patch lies inside other bodies.
    is_covered: bool,
}

/// Patches holes and thickens surfaces of one side; `body_of` grows with the triangles.
pub(super) fn close(
    surface: &mut Surface,
    body_of: &mut Vec<u32>,
    n_bodies: usize,
    wishes: &Wishes,
) -> Closed {
    let mut closed =
        Closed { walls: Walls { thinnest_mm: f64::INFINITY, ..Walls::default() }, ..Closed::default() };
    let found = rims(&surface.triangles);
    let mut budget = DIVIDED;
    if found.is_empty() {
        return closed;
    }
    let mut lists: Vec<Vec<u32>> = vec![Vec::new(); n_bodies];
    for (triangle, &body) in body_of.iter().enumerate() {
        lists[body as usize].push(triangle as u32);
    }
    let boxes: Vec<_> = lists
        .iter()
        .map(|list| {
            measure::box_of(
                list.iter().flat_map(|&t| surface.triangles[t as usize]).map(|p| surface.points[p as usize]),
            )
        })
        .collect();
    let taken: QuickSet<u64> = surface
        .triangles
        .iter()
        .flat_map(|t| [edge_key(t[0], t[1]), edge_key(t[1], t[2]), edge_key(t[2], t[0])])
        .collect();
    let mut by_body: Vec<Vec<Patched>> = (0..n_bodies).map(|_| Vec::new()).collect();
    for rim in found {
        let body = body_of[rim.triangle as usize];
        let at_mm: Vec<[f64; 3]> = rim.points.iter().map(|&p| surface.at_mm(p)).collect();
        let is_taken = |i: usize, j: usize| taken.contains(&edge_key(rim.points[i], rim.points[j]));
        let triangles = patch::least_area(&at_mm, &is_taken);
        let area_mm2 = triangles.iter().map(|&t| vec3::area(t.map(|i| at_mm[i]))).sum();
        let is_covered = is_covered(surface, &lists, &boxes, body, &at_mm, &triangles);
        by_body[body as usize].push(Patched { rim, triangles, area_mm2, is_covered });
    }
    for (body, patches) in by_body.into_iter().enumerate().filter(|(_, patches)| !patches.is_empty()) {
        let n_before = surface.triangles.len();
        if !wishes.leave_out.has(Step::Sheets) && is_sheet(surface, &lists[body], &patches, wishes) {
            let walls = thicken::thicken(surface, &lists[body], wishes.wall_mm, &mut budget);
            closed.sheets.add(|| surface.middle_mm(lists[body][0] as usize));
            closed.walls.thinned.append(walls.thinned);
            closed.walls.solid_mm2 += walls.solid_mm2;
            closed.walls.n_crossing += walls.n_crossing;
            closed.walls.thinnest_mm = closed.walls.thinnest_mm.min(walls.thinnest_mm);
        } else if !wishes.leave_out.has(Step::Holes) {
            let users = users_of(surface, &lists[body], &patches);
            for patched in patches {
                closed.holes.add(|| surface.at_mm(patched.rim.points[0]));
                closed.patch_mm2 += patched.area_mm2;
                closed.n_smooth += usize::from(lay(surface, &users, &patched));
            }
        }
        body_of.extend(std::iter::repeat_n(body as u32, surface.triangles.len() - n_before));
    }
    closed
}

fn is_sheet(surface: &Surface, body: &[u32], patches: &[Patched], wishes: &Wishes) -> bool {
    let area_mm2: f64 = body.iter().map(|&t| surface.area_mm2(t as usize)).sum();
    let corners = body.iter().map(|&t| surface.triangles[t as usize]);
    let laid = patches.iter().flat_map(|p| p.triangles.iter().map(|t| t.map(|i| p.rim.points[i])));
    let all = corners.chain(laid).map(|t| t.map(|p| surface.points[p as usize]));
    let is_flat = measure::volume_of(all).abs() < FLAT_MM * area_mm2;
    let free_mm2: f64 = patches.iter().filter(|p| !p.is_covered).map(|p| p.area_mm2).sum();
    match wishes.open {
        Open::Fill => is_flat,
        Open::Thicken => true,
        Open::AsItLooks => is_flat || free_mm2 > OPEN_SHARE * area_mm2,
    }
}

/// Lays a patch; says whether it was smoothed.
fn lay(surface: &mut Surface, users: &Users, patched: &Patched) -> bool {
    let rim = &patched.rim.points;
    let at_mm: Vec<[f64; 3]> = rim.iter().map(|&p| surface.at_mm(p)).collect();
    let patch = smooth_patch(surface, users, patched, &at_mm);
    let is_smooth = patch.is_some();
    let patch = patch.unwrap_or_else(|| Patch { points_mm: at_mm, triangles: patched.triangles.clone() });
    let mut names = rim.clone();
    for &point_mm in &patch.points_mm[rim.len()..] {
        // A patch beyond the planner's reach cannot be: its rim is within.
        let point = grid::snap(point_mm).unwrap_or(surface.points[rim[0] as usize]);
        names.push(surface.add_point(point));
    }
    for t in patch.triangles {
        surface.push(t.map(|i| names[i]));
    }
    is_smooth
}

/// Triangles of a body that use points of its rims.
fn users_of(surface: &Surface, body: &[u32], patches: &[Patched]) -> Users {
    let mut users: Users = patches.iter().flat_map(|p| &p.rim.points).map(|&p| (p, Vec::new())).collect();
    for &triangle in body {
        for corner in &surface.triangles[triangle as usize] {
            if let Some(list) = users.get_mut(corner) {
                list.push(triangle);
            }
        }
    }
    users
}

fn smooth_patch(surface: &Surface, users: &Users, patched: &Patched, at_mm: &[[f64; 3]]) -> Option<Patch> {
    let rim = &patched.rim.points;
    if !(SMOOTH_FROM..=SMOOTH_TO).contains(&rim.len()) || patched.is_covered {
        return None;
    }
    let (beyond, around) = smooth::beside(surface, rim, users);
    smooth::carries_on(at_mm, &beyond).then(|| smooth::smoothed(at_mm, patched.triangles.clone(), &around))
}

/// Whether most of a patch lies inside other bodies: their surfaces wind round its places.
fn is_covered(
    surface: &Surface,
    lists: &[Vec<u32>],
    boxes: &[([f64; 3], [f64; 3])],
    own: u32,
    rim_mm: &[[f64; 3]],
    patch: &[[usize; 3]],
) -> bool {
    const ASKED: usize = 7;
    let mut n_covered = 0;
    let step = patch.len().div_ceil(ASKED).max(1);
    let asked: Vec<[usize; 3]> = patch.iter().copied().step_by(step).collect();
    for t in &asked {
        let [a, b, c] = t.map(|i| rim_mm[i]);
        let at = vec3::scale(vec3::add(a, vec3::add(b, c)), 1.0 / 3.0);
        let round = |body: usize| {
            let (low, high) = boxes[body];
            body != own as usize && (0..3).all(|i| low[i] <= at[i] && at[i] <= high[i])
        };
        let winding: f64 = (0..lists.len())
            .filter(|&body| round(body))
            .flat_map(|body| &lists[body])
            .map(|&t| solid_angle(surface.corners_mm(t as usize), at))
            .sum::<f64>()
            / (4.0 * std::f64::consts::PI);
        n_covered += usize::from(winding.abs() > 0.5);
    }
    2 * n_covered > asked.len()
}

/// The solid angle of a triangle seen from a place, positive from its back.
/// Source: "The solid angle of a plane triangle" (IEEE Trans. Biomed. Eng., 1983; from memory).
pub(super) fn solid_angle(corners: [[f64; 3]; 3], at: [f64; 3]) -> f64 {
    let [a, b, c] = corners.map(|p| vec3::sub(p, at));
    let [la, lb, lc] = [a, b, c].map(vec3::length);
    let numerator = vec3::dot(a, vec3::cross(b, c));
    let denominator = la * lb * lc + vec3::dot(a, b) * lc + vec3::dot(b, c) * la + vec3::dot(c, a) * lb;
    2.0 * libm::atan2(numerator, denominator)
}
