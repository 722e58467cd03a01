//! Which skin of a thin-walled item shows: patches of thin faces, and the inner side of each wall.
//!
//! How: from the middle of every face a ray goes into the solid, against the face's normal. A face
//! whose ray leaves the solid again within 12 mm is *thin*; thin faces that share edges make a
//! patch. Of two patches that see each other the smaller is inner (`contract.md`, "Seam").
//! Where that leaves a choice, this file reads it so:
//! - A ray that enters another body of the item on its way goes on until it is outside all of them.
//! - A patch sees many others through speckles and ribs; *the* one it sees is the one that takes
//!   most of the area its rays meet.
//! - Sides are given from the largest patch down: larger than the patch it sees by 1 % or more:
//!   outer. Smaller by 1 % or more: the opposite side of the patch it sees. So an island of the
//!   outer skin, cut off by a thick rib, stays outer though it is smaller than the lining it sees.
//! - Equal areas, or a patch that sees itself (a blade, a wall whose rim is rounded all round): no side.
//! - With the body known, a patch that faces it is inner, whatever the areas. In a patch that sees
//!   itself each face is judged alone: inner if it faces the body and lies nearer to it than the
//!   skin it sees; so both flanks of a crest stay outer.
//! - A needle face has no direction to trust: it belongs to the face across its longest edge.
//!
//! Faces in no patch (rims, thick parts) show. Units: mm. Needs a `Solid`.
//! Cost: one ray a face, about a microsecond each, and one sort of the edges.
//! Not here: where the seams run (`lines.rs`).

mod connect;
mod role;
mod sides;

use std::ops::Range;

use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Solid, vec3};

pub(crate) use connect::Sets;
use connect::{connect, longest_side_mm};
use sides::{Body, find_seen_patches, give_sides_by_body, give_sides_by_size, inner_faces};

/// How far the other skin may lie for a face to count as part of a thin wall (`contract.md`).
pub const WALL_REACH_MM: f64 = 12.0;

/// Two patches whose areas differ by less than this share have no inner side (`contract.md`).
pub const EQUAL_AREA_SHARE: f64 = 0.01;

/// Rays start this far under their face, so that they do not meet it: four grid steps, half the
/// 0.002 mm by which edges that only touch are moved apart.
const NUDGE_MM: f64 = 0.001;

/// Faces less high than this have no direction to trust: the grid alone, moving a corner by 0.0002
/// mm, turns a face 0.002 mm high by 6 degrees and lower ones by more.
const NEEDLE_MM: f64 = 0.002;

/// Entries of [`SkinProbe::seen`]: no other skin within reach.
pub const SEES_NOTHING: u32 = u32::MAX;

/// Entries of [`SkinProbe::seen`]: a needle, judged by its neighbour.
const NEEDLE: u32 = u32::MAX - 1;

/// What tells the inner side of a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InnerRule {
    /// The smaller of two patches that see each other.
    BySize,
    /// The item has a role: the skin that faces the body.
    FacingBody {
        /// A point inside the body part, in item coordinates.
        point_mm: [f64; 3],
        /// Direction of the limb or trunk through that point; `None` for a round part (a head).
        axis: Option<[f64; 3]>,
    },
}

/// The side of a wall a patch lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Faces the wearer or the hollow: a seam on it does not show.
    Inner,
    /// The other side of an inner patch.
    Outer,
    /// No side can be told; counts as visible.
    Unsided,
}

/// One connected set of thin faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    /// Area of its faces.
    pub area_mm2: f64,
    /// The patch it sees most of: its own index for a blade, `None` if it sees faces of no patch.
    pub sees: Option<usize>,
    /// Which side of the wall it is.
    pub side: Side,
}

/// The item with its search tree: the state the rays need. Shared by threads.
pub struct SkinProbe<'a> {
    item: &'a Solid,
    tree: Tree,
}

/// Per triangle of an item: its patch and whether it is hidden.
pub struct SkinMap {
    tree: Tree,
    patch_of: Vec<u32>,
    inner: Vec<bool>,
    patches: Vec<Patch>,
}

impl<'a> SkinProbe<'a> {
    /// Builds the tree.
    pub fn new(item: &'a Solid) -> Self {
        let tree = Tree::new(item.points_mm(), item.triangles().to_vec()).expect("a solid has triangles");
        Self { item, tree }
    }

    /// For each triangle of `range` the triangle its ray leaves the solid through, or
    /// [`SEES_NOTHING`]. Ranges are independent: run them on as many threads as there are and
    /// lay the results end to end for [`SkinMap::from_seen`].
    pub fn seen(&self, range: Range<usize>) -> Vec<u32> {
        range.map(|triangle_index| self.seen_from(triangle_index)).collect()
    }

    fn seen_from(&self, triangle_index: usize) -> u32 {
        let corners = self.item.corners_mm(triangle_index);
        let doubled = doubled_area(corners);
        let doubled_mm2 = vec3::length(doubled);
        if doubled_mm2 < NEEDLE_MM * longest_side_mm(corners).1 {
            return NEEDLE;
        }
        let inward = vec3::scale(doubled, -1.0 / doubled_mm2);
        let mut start_mm = vec3::add(middle(corners), vec3::scale(inward, NUDGE_MM));
        let mut reach_mm = WALL_REACH_MM - NUDGE_MM;
        // How many bodies the ray is inside of. Each crossing costs one nudge, so this ends.
        let mut depth = 1;
        while let Some(hit) = self.tree.cast_ray(start_mm, inward, reach_mm) {
            let leaves = vec3::dot(doubled_area(self.item.corners_mm(hit.triangle)), inward) > 0.0;
            depth += if leaves { -1 } else { 1 };
            if depth == 0 {
                return hit.triangle as u32;
            }
            let step_mm = hit.distance_mm + NUDGE_MM;
            start_mm = vec3::add(start_mm, vec3::scale(inward, step_mm));
            reach_mm -= step_mm;
            if reach_mm <= 0.0 {
                break;
            }
        }
        SEES_NOTHING
    }
}

impl SkinMap {
    /// Casts all rays on this thread and tells the sides by size.
    pub fn new(item: &Solid) -> Self {
        Self::with_rule(item, &InnerRule::BySize)
    }

    /// Casts all rays on this thread and tells the sides by `rule`.
    pub fn with_rule(item: &Solid, rule: &InnerRule) -> Self {
        let probe = SkinProbe::new(item);
        let seen = probe.seen(0..item.triangles().len());
        Self::from_seen(probe, &seen, rule)
    }

    /// From the results of [`SkinProbe::seen`] for all triangles in order.
    ///
    /// # Panics
    /// If `seen` is not as long as the item has triangles.
    pub fn from_seen(probe: SkinProbe<'_>, seen: &[u32], rule: &InnerRule) -> Self {
        let item = probe.item;
        assert_eq!(seen.len(), item.triangles().len(), "one entry a triangle");
        let patch_of = connect(item, seen);
        let n_patches = patch_of.iter().filter(|&&p| p != SEES_NOTHING).max().map_or(0, |&p| p as usize + 1);
        let mut patches = vec![Patch { area_mm2: 0.0, sees: None, side: Side::Unsided }; n_patches];
        for (triangle_index, &patch) in patch_of.iter().enumerate() {
            if patch != SEES_NOTHING {
                patches[patch as usize].area_mm2 += area_mm2(item, triangle_index);
            }
        }
        find_seen_patches(item, seen, &patch_of, &mut patches);
        let inner = match rule {
            InnerRule::BySize => {
                give_sides_by_size(&mut patches);
                inner_faces(&patch_of, &patches)
            }
            InnerRule::FacingBody { point_mm, axis } => {
                let body = Body { point_mm: *point_mm, axis: axis.and_then(vec3::unit) };
                give_sides_by_body(item, seen, &patch_of, &mut patches, &body)
            }
        };
        Self { tree: probe.tree, patch_of, inner, patches }
    }

    /// The patch a triangle belongs to; `None` for rims and thick parts.
    pub fn patch(&self, triangle_index: usize) -> Option<usize> {
        let patch = self.patch_of[triangle_index];
        (patch != SEES_NOTHING).then_some(patch as usize)
    }

    /// Whether a triangle lies on the hidden side of a wall.
    pub fn is_inner(&self, triangle_index: usize) -> bool {
        self.inner[triangle_index]
    }

    /// Whether a line on this triangle is seen: everything that is not inner.
    pub fn is_visible(&self, triangle_index: usize) -> bool {
        !self.inner[triangle_index]
    }

    /// All patches, numbered by their first triangle.
    pub fn patches(&self) -> &[Patch] {
        &self.patches
    }

    /// The tree over the item's triangles, for whoever asks what lies near a seam.
    pub fn tree(&self) -> &Tree {
        &self.tree
    }
}

/// Outward normal, as long as twice the area.
fn doubled_area([a, b, c]: [[f64; 3]; 3]) -> [f64; 3] {
    vec3::cross(vec3::sub(b, a), vec3::sub(c, a))
}

pub(crate) fn middle([a, b, c]: [[f64; 3]; 3]) -> [f64; 3] {
    vec3::scale(vec3::add(vec3::add(a, b), c), 1.0 / 3.0)
}

fn area_mm2(item: &Solid, triangle_index: usize) -> f64 {
    0.5 * vec3::length(doubled_area(item.corners_mm(triangle_index)))
}
