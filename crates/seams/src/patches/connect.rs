//! Patches: thin faces joined over shared edges.
//!
//! How: edges sorted by their two points, so that both faces of an edge lie side by side; disjoint
//! sets over the thin ones; patches numbered by their first triangle. Cost: the sort.
//! Not here: which faces are thin (the rays in `patches.rs`), which side a patch is (`sides.rs`).

use seamwright_mesh::{Solid, vec3};

use super::{NEEDLE, SEES_NOTHING};

/// Patch number per triangle, [`SEES_NOTHING`] for none; numbered by first triangle.
pub fn connect(item: &Solid, seen: &[u32]) -> Vec<u32> {
    let edges = sorted_edges(item);
    let thin = thin_faces(item, seen, &edges);
    let mut sets = Sets::new(seen.len());
    for (_, a, b) in neighbour_pairs(&edges) {
        if thin[a as usize] && thin[b as usize] {
            sets.join(a, b);
        }
    }
    let mut number_of_root = vec![SEES_NOTHING; seen.len()];
    let mut n_patches = 0;
    let mut patch_of = vec![SEES_NOTHING; seen.len()];
    for triangle in 0..seen.len() {
        if thin[triangle] {
            let root = sets.root(triangle as u32) as usize;
            if number_of_root[root] == SEES_NOTHING {
                number_of_root[root] = n_patches;
                n_patches += 1;
            }
            patch_of[triangle] = number_of_root[root];
        }
    }
    patch_of
}

/// Whether each face is part of a thin wall. A needle takes the kind of the face across its longest
/// edge; where that is a needle too, of whichever neighbour is known first.
fn thin_faces(item: &Solid, seen: &[u32], edges: &[EdgeOf]) -> Vec<bool> {
    let mut thin: Vec<Option<bool>> =
        seen.iter().map(|&s| if s == NEEDLE { None } else { Some(s != SEES_NOTHING) }).collect();
    let beside: Vec<_> = neighbour_pairs(edges)
        .filter(|n| thin[n.1 as usize].is_none() || thin[n.2 as usize].is_none())
        .collect();
    for by_longest in [true, false] {
        loop {
            let mut found = Vec::new();
            for &(edge, a, b) in &beside {
                for (needle, other) in [(a as usize, b as usize), (b as usize, a as usize)] {
                    if thin[needle].is_none()
                        && thin[other].is_some()
                        && (!by_longest || longest_edge(item, needle) == edge)
                    {
                        found.push((needle, thin[other]));
                    }
                }
            }
            if found.is_empty() {
                break;
            }
            // All at once, so that the result does not depend on the order within a round.
            for &(needle, kind) in found.iter().rev() {
                thin[needle] = kind;
            }
        }
    }
    thin.into_iter().map(|kind| kind == Some(true)).collect()
}

/// An edge, lower point first, and a triangle that has it.
type EdgeOf = [u32; 3];

/// The edges of all triangles, so that those with the same edge stand together.
fn sorted_edges(item: &Solid) -> Vec<EdgeOf> {
    let mut edges: Vec<EdgeOf> = Vec::with_capacity(item.triangles().len() * 3);
    for (&[a, b, c], index) in item.triangles().iter().zip(0..) {
        edges.extend([(a, b), (b, c), (c, a)].map(|(p, q)| [p.min(q), p.max(q), index]));
    }
    edges.sort_unstable();
    edges
}

/// Pairs of triangles that share an edge, with the edge.
fn neighbour_pairs(edges: &[EdgeOf]) -> impl Iterator<Item = ([u32; 2], u32, u32)> + '_ {
    edges.windows(2).filter(|w| w[0][..2] == w[1][..2]).map(|w| ([w[0][0], w[0][1]], w[0][2], w[1][2]))
}

fn longest_edge(item: &Solid, triangle_index: usize) -> [u32; 2] {
    let side = longest_side_mm(item.corners_mm(triangle_index)).0;
    let triangle = item.triangles()[triangle_index];
    let (p, q) = (triangle[side], triangle[(side + 1) % 3]);
    [p.min(q), p.max(q)]
}

/// The longest side: the corner it starts at, and its length.
pub fn longest_side_mm(corners: [[f64; 3]; 3]) -> (usize, f64) {
    let mut longest = (0, 0.0);
    for side in 0..3 {
        let length_mm = vec3::length(vec3::sub(corners[(side + 1) % 3], corners[side]));
        if length_mm > longest.1 {
            longest = (side, length_mm);
        }
    }
    longest
}

/// Disjoint sets; the root is always the lowest member, so numbering does not depend on order.
pub(crate) struct Sets(Vec<u32>);

impl Sets {
    pub(crate) fn new(n_members: usize) -> Self {
        Self((0..n_members as u32).collect())
    }

    pub(crate) fn root(&mut self, member: u32) -> u32 {
        let mut at = member;
        while self.0[at as usize] != at {
            self.0[at as usize] = self.0[self.0[at as usize] as usize];
            at = self.0[at as usize];
        }
        at
    }

    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}
