//! Which side of a closed body is out: outer bodies outward, cavities inward.
//!
//! How: bodies are asked from the largest. One that faces inward is a cavity only if the bodies round
//! it leave material there; otherwise it is turned. What lies in a body that was turned is turned
//! with it, so that a file that is inside out as a whole keeps its cavities.

use super::surface::Surface;
use crate::bodies::{Skin, box_inside};
use crate::flaws::Found;
use crate::grid;
use crate::measure;

/// A closed body.
struct Closed {
    triangles: Vec<u32>,
    volume_mm3: f64,
    box_mm: ([f64; 3], [f64; 3]),
}

/// Turns closed bodies; `body_of` is per triangle. Gives the triangles turned, a place a body.
pub(super) fn face_outward(surface: &mut Surface, body_of: &[u32], n_bodies: usize) -> Found {
    let mut lists: Vec<Vec<u32>> = vec![Vec::new(); n_bodies];
    for (triangle, &body) in body_of.iter().enumerate() {
        lists[body as usize].push(triangle as u32);
    }
    let mut bodies: Vec<Closed> = lists
        .into_iter()
        .filter(|list| !list.is_empty())
        .map(|triangles| {
            let corners = || {
                triangles.iter().map(|&t| surface.triangles[t as usize].map(|p| surface.points[p as usize]))
            };
            let (volume_mm3, box_mm) = (measure::volume_of(corners()), measure::box_of(corners().flatten()));
            Closed { triangles, volume_mm3, box_mm }
        })
        .collect();
    bodies.sort_by(|a, b| {
        b.volume_mm3.abs().total_cmp(&a.volume_mm3.abs()).then(a.triangles.cmp(&b.triangles))
    });
    let mut turned = Found::default();
    // Per body asked: which way it faces now, and whether it was turned.
    let mut sign = vec![0_i32; bodies.len()];
    let mut was_turned = vec![false; bodies.len()];
    let mut skins: Vec<Option<Skin>> = bodies.iter().map(|_| None).collect();
    for index in 0..bodies.len() {
        let body = &bodies[index];
        let probes: Vec<[f64; 3]> = (0..3)
            .map(|i| {
                let triangle = body.triangles[i * (body.triangles.len() - 1) / 2];
                grid::to_mm(surface.points[surface.triangles[triangle as usize][0] as usize])
            })
            .collect();
        let mut material = 0;
        let mut in_turned = false;
        for larger in 0..index {
            let round = &bodies[larger];
            if !box_inside(&body.box_mm, &round.box_mm) {
                continue;
            }
            if skins[larger].is_none() {
                skins[larger] = Skin::new(&surface.points, &surface.triangles, &round.triangles);
            }
            let Some(skin) = &skins[larger] else { continue };
            // Its skin is as it was when the tree was made; only whether it winds round counts.
            if probes.iter().all(|&probe| skin.winding(probe) != 0) {
                material += sign[larger];
                in_turned |= was_turned[larger];
            }
        }
        let faces = if body.volume_mm3 >= 0.0 { 1 } else { -1 };
        let wished = if in_turned { -faces } else { faces };
        let should = if wished < 0 && material < 1 { 1 } else { wished };
        sign[index] = should;
        if should != faces {
            was_turned[index] = true;
            turned.append(Found { count: body.triangles.len(), at_mm: vec![probes[0]] });
            for &triangle in &body.triangles {
                surface.turn_over(triangle as usize);
            }
        }
    }
    turned
}
