//! Which side of a wall each patch is, by size or by where the body is; the reading of
//! `contract.md` stands in the header of `patches.rs`.

use seamwright_mesh::{Solid, vec3};

use super::{EQUAL_AREA_SHARE, NEEDLE, Patch, SEES_NOTHING, Side, area_mm2, doubled_area, middle};

/// In a patch that sees itself a face is inner only within 84 degrees of facing the body: flanks of
/// crests and ribs, at 90 degrees, see each other about as far from the body as they are.
const FACES_BODY_COS: f64 = 0.1;

/// Tells each patch which patch it sees most of.
pub fn find_seen_patches(item: &Solid, seen: &[u32], patch_of: &[u32], patches: &mut [Patch]) {
    let mut views: Vec<(u32, u32, f64)> = Vec::new();
    for (triangle_index, &hit) in seen.iter().enumerate() {
        if hit < NEEDLE && patch_of[hit as usize] != SEES_NOTHING {
            views.push((patch_of[triangle_index], patch_of[hit as usize], area_mm2(item, triangle_index)));
        }
    }
    // Stable, so areas are added in triangle order whatever the machine.
    views.sort_by_key(|&(from, to, _)| (from, to));
    let mut most_mm2 = vec![0.0; patches.len()];
    for view in views.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        let (from, to) = (view[0].0 as usize, view[0].1 as usize);
        let sum_mm2: f64 = view.iter().map(|&(_, _, area_mm2)| area_mm2).sum();
        if sum_mm2 > most_mm2[from] {
            most_mm2[from] = sum_mm2;
            patches[from].sees = Some(to);
        }
    }
}

/// Sides from the largest patch down.
pub fn give_sides_by_size(patches: &mut [Patch]) {
    let mut order: Vec<usize> = (0..patches.len()).collect();
    order.sort_by(|&a, &b| patches[b].area_mm2.total_cmp(&patches[a].area_mm2).then(a.cmp(&b)));
    for index in order {
        let Some(other) = patches[index].sees else { continue };
        let (own_mm2, other_mm2) = (patches[index].area_mm2, patches[other].area_mm2);
        patches[index].side = if other == index {
            Side::Unsided
        } else if own_mm2 <= other_mm2 * (1.0 - EQUAL_AREA_SHARE) {
            // The larger one had its turn already.
            match patches[other].side {
                Side::Outer => Side::Inner,
                Side::Inner => Side::Outer,
                Side::Unsided => Side::Unsided,
            }
        } else if other_mm2 <= own_mm2 * (1.0 - EQUAL_AREA_SHARE) {
            Side::Outer
        } else {
            Side::Unsided
        };
    }
}

/// Per triangle, whether its patch is inner.
pub fn inner_faces(patch_of: &[u32], patches: &[Patch]) -> Vec<bool> {
    patch_of.iter().map(|&p| p != SEES_NOTHING && patches[p as usize].side == Side::Inner).collect()
}

/// Where the wearer is.
pub struct Body {
    /// A point inside the body part.
    pub point_mm: [f64; 3],
    /// Unit direction of the limb or trunk, if it is long.
    pub axis: Option<[f64; 3]>,
}

impl Body {
    /// From a point square to the axis, or to the middle.
    fn from(&self, place_mm: [f64; 3]) -> [f64; 3] {
        let to_body = vec3::sub(self.point_mm, place_mm);
        self.axis.map_or(to_body, |axis| vec3::sub(to_body, vec3::scale(axis, vec3::dot(to_body, axis))))
    }
}

/// Sides by the body; per triangle, whether it is hidden.
pub fn give_sides_by_body(
    item: &Solid,
    seen: &[u32],
    patch_of: &[u32],
    patches: &mut [Patch],
    body: &Body,
) -> Vec<bool> {
    // Twice the area, as seen from the body; positive where the face looks at it.
    let towards = |corners: [[f64; 3]; 3]| {
        let to_body = vec3::unit(body.from(middle(corners)));
        to_body.map_or(0.0, |to_body| vec3::dot(doubled_area(corners), to_body))
    };
    let mut facing = vec![0.0; patches.len()];
    for (triangle_index, &patch) in patch_of.iter().enumerate() {
        if patch != SEES_NOTHING {
            facing[patch as usize] += towards(item.corners_mm(triangle_index));
        }
    }
    for (index, patch) in patches.iter_mut().enumerate() {
        if patch.sees.is_some_and(|other| other != index) {
            patch.side = if facing[index] > 0.0 { Side::Inner } else { Side::Outer };
        }
    }
    let mut inner = inner_faces(patch_of, patches);
    for (triangle_index, &patch) in patch_of.iter().enumerate() {
        let hit = seen[triangle_index];
        if hit >= NEEDLE || patches[patch as usize].sees != Some(patch as usize) {
            continue;
        }
        let (corners, other) = (item.corners_mm(triangle_index), item.corners_mm(hit as usize));
        let away_mm = vec3::length(body.from(middle(corners)));
        let other_mm = vec3::length(body.from(middle(other)));
        let faces = towards(corners) > FACES_BODY_COS * vec3::length(doubled_area(corners));
        inner[triangle_index] = faces && away_mm < other_mm;
    }
    inner
}
