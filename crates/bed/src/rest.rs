//! How a piece can stand on the bed: on a flat face, stably on what touches, or only when held.
//!
//! Kinds (contract): `face` rests on a flat face of at least 2 cm²; `stable` has its mass centre at
//! least 2 mm inside the contact hull at 0.3 mm height; all else is `held` and needs supports.
//! How: directions come from the faces of the convex hull and from cut faces; each is then
//! judged on the piece's own surface: what lies within 0.3 mm of the bed, cut through at that height.
//! Flat means facing the bed within 1 degree and within 0.02 mm of it; parts of one plane count together.
//! Units: millimetres.
//! Not here: whether it fits (`upright.rs`), which bed and where on it (`pose.rs`).

use seamwright_mesh::hull::Hull;
use seamwright_mesh::solid::{is_bent, is_cut};
use seamwright_mesh::{Solid, vec3};

use crate::convex2d::{self, P2};
use crate::nearby::Nearby;
use crate::turn;

/// What lies this high above the bed still touches it (contract; about a thick first layer).
pub const CONTACT_MM: f64 = 0.3;

/// The least flat face that is called one, mm² (contract: 2 cm²).
pub const FLAT_MM2: f64 = 200.0;

/// How far inside the contact hull the mass centre must lie to stand (contract).
pub const BALANCE_MM: f64 = 2.0;

/// A facet with a corner higher than this above the bed is no part of a flat face, mm: half of the
/// finest first layer (common practice, no source).
pub const FLAT_REACH_MM: f64 = 0.02;

/// Cosine of 1 degree: a facet turned farther than that from the bed is no part of a flat face (ours).
pub const FLAT_COSINE: f64 = 0.999_847_695;

/// Directions of rounded shapes are thinned to this many (ours; each costs a pass over the piece).
const MOST_DIRECTIONS: usize = 300;

/// How a piece stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PoseKind {
    /// On a flat face.
    Face,
    /// On what touches, by its own weight.
    Stable,
    /// Only with supports.
    Held,
}

impl PoseKind {
    /// The word in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::Stable => "stable",
            Self::Held => "held",
        }
    }
}

/// What a piece has on the bed with some direction upward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// What follows from the rest.
    pub kind: PoseKind,
    /// Flat surface on the bed.
    pub flat_mm2: f64,
    /// The part of it that a cut made.
    pub cut_mm2: f64,
    /// Area of the contact hull.
    pub hull_mm2: f64,
    /// How far inside the contact hull the mass centre stands; negative outside.
    pub balance_mm: f64,
    /// From the bed to the top.
    pub height_mm: f64,
}

/// One way to stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resting {
    /// The direction in the piece that points up; unit.
    pub up: [f64; 3],
    /// What touches then.
    pub contact: Contact,
}

impl Resting {
    /// Whether it rests on a face that a cut made.
    pub fn on_cut(&self) -> bool {
        self.contact.kind == PoseKind::Face && self.contact.cut_mm2 >= 0.5 * self.contact.flat_mm2
    }
}

/// What touches the bed with the unit vector `up` upward, judged on the mesh alone.
pub fn contact(solid: &Solid, points_mm: &[[f64; 3]], mass_centre_mm: [f64; 3], up: [f64; 3]) -> Contact {
    let ends_mm = ends_mm(points_mm, up);
    touching(solid, points_mm, mass_centre_mm, up, ends_mm, 0..solid.n_triangles())
}

/// How low and how high points reach.
fn ends_mm(points_mm: &[[f64; 3]], up: [f64; 3]) -> [f64; 2] {
    let heights = points_mm.iter().map(|&p| vec3::dot(up, p));
    heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], z| [low.min(z), high.max(z)])
}

/// What of some triangles, all that reach low among them, touches the bed.
fn touching(
    solid: &Solid,
    points_mm: &[[f64; 3]],
    mass_centre_mm: [f64; 3],
    up: [f64; 3],
    [low, high]: [f64; 2],
    triangles: impl Iterator<Item = usize>,
) -> Contact {
    let rows = turn::upright(up, 0.0);
    let flat = |p: [f64; 3]| -> P2 { [vec3::dot(rows[0], p), vec3::dot(rows[1], p)] };
    let top = low + CONTACT_MM;
    let (mut touching, mut flat_mm2, mut cut_mm2) = (Vec::new(), 0.0, 0.0);
    for triangle_index in triangles {
        let corners = solid.triangles()[triangle_index].map(|i| points_mm[i as usize]);
        let z = corners.map(|p| vec3::dot(up, p));
        if z.iter().all(|&z| z > top) {
            continue;
        }
        for (i, p) in corners.into_iter().enumerate() {
            let (q, from, to) = (corners[(i + 1) % 3], z[i], z[(i + 1) % 3]);
            if from <= top {
                touching.push(flat(p));
            }
            if (from <= top) != (to <= top) {
                let along = (top - from) / (to - from);
                touching.push(flat(vec3::add(p, vec3::scale(vec3::sub(q, p), along))));
            }
        }
        let origin = solid.origins()[triangle_index];
        if !is_bent(origin) && z.iter().all(|&z| z <= low + FLAT_REACH_MM) {
            let twice = vec3::cross(vec3::sub(corners[1], corners[0]), vec3::sub(corners[2], corners[0]));
            let size = vec3::length(twice);
            if -vec3::dot(twice, up) >= FLAT_COSINE * size {
                flat_mm2 += 0.5 * size;
                cut_mm2 += if is_cut(origin) { 0.5 * size } else { 0.0 };
            }
        }
    }
    let outline = convex2d::hull(&touching);
    let balance_mm = inside_mm(&outline, flat(mass_centre_mm));
    let kind = if flat_mm2 >= FLAT_MM2 {
        PoseKind::Face
    } else if balance_mm >= BALANCE_MM {
        PoseKind::Stable
    } else {
        PoseKind::Held
    };
    Contact {
        kind,
        flat_mm2,
        cut_mm2,
        hull_mm2: convex2d::area_mm2(&outline),
        balance_mm,
        height_mm: high - low,
    }
}

/// Distance of a point to the nearest side, positive inside; minus infinity where there is no inside.
fn inside_mm(polygon: &[P2], x: P2) -> f64 {
    if polygon.len() < 3 {
        return f64::NEG_INFINITY;
    }
    convex2d::edges(polygon)
        .map(|(p, q)| {
            let along = [q[0] - p[0], q[1] - p[1]];
            let off = [x[0] - p[0], x[1] - p[1]];
            (along[0] * off[1] - along[1] * off[0]) / (along[0] * along[0] + along[1] * along[1]).sqrt()
        })
        .fold(f64::INFINITY, f64::min)
}

/// All ways found for the piece to stand, best first: on faces (a cut's before the skin's, balanced
/// ones before others, larger ones first), then stably (lowest first), then held (most contact first).
pub fn resting_poses(solid: &Solid, hull: &Hull, mass_centre_mm: [f64; 3]) -> Vec<Resting> {
    best_first(solid, hull, mass_centre_mm, directions(solid, hull, mass_centre_mm))
}

/// The first of [`resting_poses`] where they stand on a cut face in balance, found at a fraction of
/// the cost: there are few cut faces.
pub(crate) fn on_cuts(solid: &Solid, hull: &Hull, mass_centre_mm: [f64; 3]) -> Vec<Resting> {
    let ups = cut_normals(solid).into_iter().map(|down| vec3::scale(down, -1.0)).collect();
    let mut found = best_first(solid, hull, mass_centre_mm, ups);
    found.retain(|pose| pose.on_cut() && pose.contact.balance_mm >= BALANCE_MM);
    found
}

fn best_first(solid: &Solid, hull: &Hull, mass_centre_mm: [f64; 3], ups: Vec<[f64; 3]>) -> Vec<Resting> {
    let points_mm = solid.points_mm();
    let nearby = Nearby::new(solid, &points_mm);
    let exact = |up| {
        // A hull has all points that reach farthest; where none was made there is the piece.
        let outermost = if hull.triangles.is_empty() { &points_mm } else { &hull.points_mm };
        let ends_mm = ends_mm(outermost, up);
        let below = nearby.below(up, ends_mm[0] + CONTACT_MM);
        touching(solid, &points_mm, mass_centre_mm, up, ends_mm, below)
    };
    let contact = |up| hull_contact(hull, mass_centre_mm, up).unwrap_or_else(|| exact(up));
    let mut found: Vec<Resting> = ups.into_iter().map(|up| Resting { up, contact: contact(up) }).collect();
    found.sort_by(|a, b| {
        let (p, q) = (&a.contact, &b.contact);
        let by_kind = match p.kind {
            PoseKind::Face => (b.on_cut().cmp(&a.on_cut()))
                .then((q.balance_mm >= BALANCE_MM).cmp(&(p.balance_mm >= BALANCE_MM)))
                .then(q.flat_mm2.total_cmp(&p.flat_mm2)),
            PoseKind::Stable => p.height_mm.total_cmp(&q.height_mm),
            PoseKind::Held => q.hull_mm2.total_cmp(&p.hull_mm2),
        };
        p.kind.cmp(&q.kind).then(by_kind).then(
            // Any fixed order for what is left: equal pieces get equal poses.
            a.up[0].total_cmp(&b.up[0]).then(a.up[1].total_cmp(&b.up[1])).then(a.up[2].total_cmp(&b.up[2])),
        )
    });
    found
}

/// What touches where the hull alone rules out a face and standing; `None` where it does not.
fn hull_contact(hull: &Hull, mass_centre_mm: [f64; 3], up: [f64; 3]) -> Option<Contact> {
    let rows = turn::upright(up, 0.0);
    let flat = |p: [f64; 3]| -> P2 { [vec3::dot(rows[0], p), vec3::dot(rows[1], p)] };
    let heights: Vec<f64> = hull.points_mm.iter().map(|&p| vec3::dot(up, p)).collect();
    let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let top = low + CONTACT_MM;
    let mut touching = Vec::new();
    for triangle in &hull.triangles {
        let z = triangle.map(|i| heights[i as usize] - top);
        if z.iter().all(|&z| z > 0.0) {
            continue;
        }
        let corners = triangle.map(|i| hull.points_mm[i as usize]);
        for i in 0..3 {
            let j = (i + 1) % 3;
            if z[i] <= 0.0 {
                touching.push(flat(corners[i]));
            }
            if (z[i] <= 0.0) != (z[j] <= 0.0) {
                let step = vec3::scale(vec3::sub(corners[j], corners[i]), z[i] / (z[i] - z[j]));
                touching.push(flat(vec3::add(corners[i], step)));
            }
        }
    }
    // The piece's own contact lies inside the hull's.
    let outline = convex2d::hull(&touching);
    let hull_mm2 = convex2d::area_mm2(&outline);
    let balance_mm = inside_mm(&outline, flat(mass_centre_mm));
    if hull.triangles.is_empty() || hull_mm2 >= 0.99 * FLAT_MM2 || balance_mm >= 0.99 * BALANCE_MM {
        return None;
    }
    Some(Contact {
        kind: PoseKind::Held,
        flat_mm2: 0.0,
        cut_mm2: 0.0,
        hull_mm2,
        balance_mm,
        height_mm: heights.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low,
    })
}

/// Up directions worth a look: against cut faces, then against faces of the hull, first those over
/// which the mass centre lies - on them the piece comes to rest -, then the largest.
fn directions(solid: &Solid, hull: &Hull, mass_centre_mm: [f64; 3]) -> Vec<[f64; 3]> {
    let mut downs: Vec<[f64; 3]> = Vec::new();
    let mut offer = |down: [f64; 3]| {
        // A tenth of a degree apart: on 200 mm that is the contact height.
        if downs.len() < MOST_DIRECTIONS && downs.iter().all(|&d| vec3::dot(d, down) < 1.0 - 1.5e-6) {
            downs.push(down);
        }
    };
    for down in cut_normals(solid) {
        offer(down);
    }
    let mut faces: Vec<(f64, usize)> = Vec::new();
    let twice_area = |index: usize| {
        let [a, b, c] = hull.triangles[index].map(|i| hull.points_mm[i as usize]);
        vec3::cross(vec3::sub(b, a), vec3::sub(c, a))
    };
    for index in 0..hull.triangles.len() {
        faces.push((vec3::length(twice_area(index)), index));
    }
    let is_below =
        |index: usize| is_over(hull.triangles[index].map(|i| hull.points_mm[i as usize]), mass_centre_mm);
    faces.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    faces.sort_by_key(|face| !is_below(face.1));
    let mut merged = vec![false; hull.triangles.len()];
    let mut n_groups = 0;
    for &(_, index) in &faces {
        let Some(normal) = vec3::unit(twice_area(index)) else { continue };
        if merged[index] || n_groups >= MOST_DIRECTIONS {
            continue;
        }
        n_groups += 1;
        let offset = vec3::dot(normal, hull.points_mm[hull.triangles[index][0] as usize]);
        let aside: Vec<f64> = hull.points_mm.iter().map(|&p| (vec3::dot(normal, p) - offset).abs()).collect();
        let depth =
            |other: usize| hull.triangles[other].iter().map(|&i| aside[i as usize]).fold(0.0, f64::max);
        let mut sum = [0.0; 3];
        for &(_, other) in &faces {
            let aside = depth(other);
            // Coplanar within the contact height: the same way to stand.
            if aside <= CONTACT_MM && vec3::dot(normal, twice_area(other)) > 0.0 {
                merged[other] = true;
                // The same flat face, whose normal is their mean.
                if aside <= 0.5 * FLAT_REACH_MM {
                    sum = vec3::add(sum, twice_area(other));
                }
            }
        }
        offer(vec3::unit(sum).unwrap_or(normal));
    }
    downs.into_iter().map(|down| vec3::scale(down, -1.0)).collect()
}

/// Whether a point lies over a triangle, as seen along its normal.
fn is_over(corners: [[f64; 3]; 3], p: [f64; 3]) -> bool {
    let [a, b, c] = corners;
    let normal = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
    (0..3).all(|i| {
        let (from, to) = (corners[i], corners[(i + 1) % 3]);
        vec3::dot(normal, vec3::cross(vec3::sub(to, from), vec3::sub(p, from))) >= 0.0
    })
}

/// Mean outward normals of the cut faces, by tag; none for a tag whose faces look both ways.
fn cut_normals(solid: &Solid) -> Vec<[f64; 3]> {
    let mut by_tag: Vec<(u32, [f64; 3], f64)> = Vec::new();
    for (index, &tag) in solid.origins().iter().enumerate() {
        if !is_cut(tag) {
            continue;
        }
        let [a, b, c] = solid.corners_mm(index);
        let twice = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        let at = match by_tag.binary_search_by_key(&tag, |entry| entry.0) {
            Ok(at) => at,
            Err(at) => {
                by_tag.insert(at, (tag, [0.0; 3], 0.0));
                at
            }
        };
        by_tag[at].1 = vec3::add(by_tag[at].1, twice);
        by_tag[at].2 += vec3::length(twice);
    }
    by_tag
        .into_iter()
        .filter(|(_, sum, size)| vec3::length(*sum) > 0.9 * size)
        .filter_map(|(_, sum, _)| vec3::unit(sum))
        .collect()
}
