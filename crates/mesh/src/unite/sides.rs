//! Of divided triangles, those that have the outside before them and the solid behind.
//!
//! How: parts that hang together without crossing a line have the same number of turns of all surfaces before
//! them; across a line it is one more behind the other triangle than before it. So one ray tells for all that
//! hang together: from the largest part, where it is surest. Tiny parts are told by longer lines first.

use super::Mesh;
use super::divide::Parts;
use crate::edges::{self, Joined};
use crate::flaws::Found;
use crate::grid::{self, GridPoint, MAX_STEPS, STEPS_PER_MM};
use crate::spatial::Tree;
use crate::vec3;
use std::collections::BinaryHeap;

/// What stays, on the grid.
#[derive(Debug, Default)]
pub(super) struct Outer {
    pub points: Vec<GridPoint>,
    pub triangles: Vec<[u32; 3]>,
    /// Length of the lines along which it was joined.
    pub line_mm: f64,
    /// Some places on them.
    pub at_mm: Vec<[f64; 3]>,
}

/// A link between two patches over a line: how long it is and how many turns more the second has before it.
#[derive(Debug, Clone, Copy)]
struct Link {
    length_mm: f64,
    patches: [u32; 2],
    more: i32,
}

/// The parts with nothing before them and something behind.
pub(super) fn outer(mesh: &Mesh, parts: &Parts) -> Outer {
    let uses = edges::edge_uses(&parts.triangles);
    let mut joined = Joined::new(parts.triangles.len());
    for run in edges::runs(&uses) {
        // Where more than two meet without a line they only touch.
        if run.len() == 2 && !parts.on_line.contains_key(&run[0].key()) {
            joined.join(run[0].triangle() as u32, run[1].triangle() as u32);
        }
    }
    let patch_of: Vec<u32> = (0..parts.triangles.len() as u32).map(|t| joined.find(t)).collect();
    let mut found = Outer::default();
    let mut lines = Found::default();
    let mut links: Vec<Link> = Vec::new();
    for run in edges::runs(&uses) {
        let Some(line) = parts.on_line.get(&run[0].key()) else { continue };
        let [from, to] = [run[0].low(), run[0].high()].map(|node| place_mm(parts, node));
        let length_mm = vec3::length(vec3::sub(to, from));
        found.line_mm += length_mm;
        lines.add(|| vec3::scale(vec3::add(from, to), 0.5));
        // Of each part beside the line: whether it lies behind the other triangle.
        let is_behind = |part: usize, is_forward: bool| {
            let is_along = is_forward == line.runs_up;
            let is_first = parts.of[part] == line.triangles[0];
            i32::from(is_along != is_first)
        };
        let (first, first_behind) =
            (run[0].triangle(), is_behind(run[0].triangle(), run[0].forward(&parts.triangles)));
        for other in &run[1..] {
            let behind = is_behind(other.triangle(), other.forward(&parts.triangles));
            links.push(Link {
                length_mm,
                patches: [patch_of[first], patch_of[other.triangle()]],
                more: behind - first_behind,
            });
        }
    }
    found.at_mm = lines.at_mm;
    let turns = turns_before(mesh, parts, &patch_of, &links);
    let stays = |part: usize| turns[patch_of[part] as usize] == 0;
    found.points = parts.nodes.iter().map(snapped).collect();
    found.triangles =
        (0..parts.triangles.len()).filter(|&part| stays(part)).map(|part| parts.triangles[part]).collect();
    found
}

fn snapped(node: &[f64; 3]) -> GridPoint {
    node.map(|steps| (steps.round_ties_even() as i32).clamp(-MAX_STEPS, MAX_STEPS))
}

fn place_mm(parts: &Parts, node: u32) -> [f64; 3] {
    vec3::scale(parts.nodes[node as usize], 1.0 / STEPS_PER_MM)
}

fn corners_mm(parts: &Parts, part: usize) -> [[f64; 3]; 3] {
    parts.triangles[part].map(|node| place_mm(parts, node))
}

/// A patch that can be told over a link, longest first.
#[derive(PartialEq)]
struct Next {
    length_mm: f64,
    patch: u32,
    turns: i32,
}

impl Eq for Next {}

impl PartialOrd for Next {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Next {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.length_mm
            .total_cmp(&other.length_mm)
            .then(other.patch.cmp(&self.patch))
            .then(self.turns.cmp(&other.turns))
    }
}

/// How often all surfaces wind round the space before each patch, by its first part.
fn turns_before(mesh: &Mesh, parts: &Parts, patch_of: &[u32], links: &[Link]) -> Vec<i32> {
    let n = parts.triangles.len();
    let mut turns = vec![i32::MAX; n];
    let mut linked: Vec<Vec<u32>> = vec![Vec::new(); n];
    for (number, link) in (0..).zip(links) {
        link.patches.iter().for_each(|&patch| linked[patch as usize].push(number));
    }
    // Parts by patch, the largest of each first; patches by their largest.
    let mut by_patch: Vec<(u32, f64, u32)> =
        (0..n).map(|part| (patch_of[part], vec3::area(corners_mm(parts, part)), part as u32)).collect();
    by_patch.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)).then(a.2.cmp(&b.2)));
    let mut patches: Vec<&[(u32, f64, u32)]> = by_patch.chunk_by(|a, b| a.0 == b.0).collect();
    patches.sort_by(|a, b| b[0].1.total_cmp(&a[0].1).then(a[0].0.cmp(&b[0].0)));
    let rays = Rays::new(mesh);
    let mut heap = BinaryHeap::new();
    for patch in patches {
        let seed = patch[0].0;
        if turns[seed as usize] != i32::MAX {
            continue;
        }
        // Where another surface all but lies on a part, which is before which is told from the next.
        let asked = |&(_, _, part): &(u32, f64, u32)| {
            let part = part as usize;
            rays.turns_before(parts.of[part], corners_mm(parts, part))
        };
        let mut told = asked(&patch[0]);
        for part in patch.iter().take(MOST_ASKED).skip(1) {
            if told.1 {
                break;
            }
            told = asked(part);
        }
        let (before, _) = told;
        heap.push(Next { length_mm: f64::MAX, patch: seed, turns: before });
        while let Some(next) = heap.pop() {
            let slot = &mut turns[next.patch as usize];
            if *slot != i32::MAX {
                continue;
            }
            *slot = next.turns;
            for &number in &linked[next.patch as usize] {
                let link = &links[number as usize];
                let (patch, more) = if link.patches[0] == next.patch {
                    (link.patches[1], link.more)
                } else {
                    (link.patches[0], -link.more)
                };
                if turns[patch as usize] == i32::MAX {
                    heap.push(Next { length_mm: link.length_mm, patch, turns: next.turns + more });
                }
            }
        }
    }
    turns
}

/// Parts of a patch that are asked until one is sure.
const MOST_ASKED: usize = 8;

/// A surface this near a part makes it unsure which is before which, in mm.
const NEAR_MM: f64 = 1e-5;

/// Rays through all triangles.
struct Rays {
    tree: Option<Tree>,
    corners_mm: Vec<[[f64; 3]; 3]>,
}

impl Rays {
    fn new(mesh: &Mesh) -> Self {
        let corners_mm: Vec<_> = (0..mesh.triangles.len() as u32).map(|t| mesh.corners_mm(t)).collect();
        let points = mesh.points.iter().map(|&p| grid::to_mm(p)).collect();
        Self { tree: Tree::new(points, mesh.triangles.clone()), corners_mm }
    }

    /// How often all surfaces wind round the space right before the middle of a part of triangle `of`, and
    /// whether no other surface all but lies there.
    fn turns_before(&self, of: u32, part_mm: [[f64; 3]; 3]) -> (i32, bool) {
        let Some(tree) = &self.tree else { return (0, false) };
        let middle = vec3::scale(part_mm.iter().fold([0.0; 3], |sum, &p| vec3::add(sum, p)), 1.0 / 3.0);
        let along = |triangle: usize, ray: [f64; 3]| {
            let [a, b, c] = self.corners_mm[triangle];
            vec3::dot(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)), ray)
        };
        // A ray through an edge counts both its triangles; the median of rays is right.
        let mut is_sure = true;
        let mut turns = RAYS.map(|ray| {
            let hits = tree.all_hits(middle, ray);
            let others = || hits.iter().filter(|hit| hit.triangle != of as usize);
            is_sure &= others().all(|hit| hit.distance_mm > NEAR_MM);
            let leaving: i32 = others()
                .map(|hit| {
                    let along = along(hit.triangle, ray);
                    i32::from(along > 0.0) - i32::from(along < 0.0)
                })
                .sum();
            // A ray that starts into the solid starts behind.
            leaving - i32::from(along(of as usize, ray) < 0.0)
        });
        turns.sort_unstable();
        (turns[turns.len() / 2], is_sure)
    }
}

/// Directions without round numbers, so that a ray along one seldom meets an edge.
const RAYS: [[f64; 3]; 5] = [
    [0.267_261_241_912_424_4, 0.534_522_483_824_848_8, 0.801_783_725_737_273_2],
    [-0.48, 0.6, -0.64],
    [0.36, -0.8, -0.48],
    [0.702_246_883_178_099_6, -0.117_041_147_196_349_93, 0.702_246_883_178_099_6],
    [-0.811_107_105_653_813, -0.324_442_842_261_525_2, 0.486_664_263_392_287_85],
];
