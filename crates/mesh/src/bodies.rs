//! Bodies: the connected surfaces of a solid, which of them are cavities, and which belong together.
//!
//! A body is outward (positive volume) or a cavity (negative). A group is an outward body with the
//! cavities directly inside it; loose bodies inside a cavity are groups of their own.
//! Source: closed shell as in ISO 10303-42. Containment: crossings of a ray, counted with sign.

use crate::assemble::Slivers;
use crate::edges::Joined;
use crate::grid::{self, GridPoint};
use crate::measure;
use crate::solid::{NotSolid, Solid};
use crate::spatial::Tree;

/// One connected closed surface of a solid.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Indices of its triangles, ascending.
    pub triangles: Vec<u32>,
    /// Signed volume in mm3; negative for a cavity.
    pub volume_mm3: f64,
    /// Lowest and highest corner of its box.
    pub box_mm: ([f64; 3], [f64; 3]),
}

/// The bodies of a solid in order of their first triangle.
pub fn bodies(solid: &Solid) -> Vec<Body> {
    components(&solid.points, &solid.triangles)
        .into_iter()
        .map(|triangles| describe(&solid.points, &solid.triangles, triangles))
        .collect()
}

/// Index lists of triangles connected through points, in order of their first triangle.
pub(crate) fn components(points: &[GridPoint], triangles: &[[u32; 3]]) -> Vec<Vec<u32>> {
    let mut joined = Joined::new(points.len());
    for t in triangles {
        joined.join(t[0], t[1]);
        joined.join(t[0], t[2]);
    }
    let mut list_of = vec![u32::MAX; points.len()];
    let mut lists: Vec<Vec<u32>> = Vec::new();
    for (index, t) in triangles.iter().enumerate() {
        let slot = &mut list_of[joined.find(t[0]) as usize];
        if *slot == u32::MAX {
            *slot = lists.len() as u32;
            lists.push(Vec::new());
        }
        lists[*slot as usize].push(index as u32);
    }
    lists
}

fn describe(points: &[GridPoint], triangles: &[[u32; 3]], list: Vec<u32>) -> Body {
    let corners = || list.iter().map(|&i| triangles[i as usize].map(|p| points[p as usize]));
    let volume_mm3 = measure::volume_of(corners());
    let box_mm = measure::box_of(corners().flatten());
    Body { triangles: list, volume_mm3, box_mm }
}

/// A tree over some triangles of a mesh, with the side each faces kept.
pub(crate) struct Skin {
    tree: Tree,
    corners_mm: Vec<[[f64; 3]; 3]>,
}

/// A direction without round numbers, so that a ray along it seldom meets an edge.
const RAY: [f64; 3] = [0.267_261_241_912_424_4, 0.534_522_483_824_848_8, 0.801_783_725_737_273_2];

impl Skin {
    /// `None` if `list` is empty.
    pub fn new(points: &[GridPoint], triangles: &[[u32; 3]], list: &[u32]) -> Option<Self> {
        let corners_mm: Vec<[[f64; 3]; 3]> =
            list.iter().map(|&i| triangles[i as usize].map(|p| grid::to_mm(points[p as usize]))).collect();
        let flat = corners_mm.iter().flatten().copied().collect();
        let indices = (0..corners_mm.len() as u32).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
        Some(Self { tree: Tree::new(flat, indices)?, corners_mm })
    }

    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    pub fn corners_mm(&self) -> &[[[f64; 3]; 3]] {
        &self.corners_mm
    }

    /// How often the surface winds round a point: 1 inside a body, 0 outside.
    pub fn winding(&self, point_mm: [f64; 3]) -> i32 {
        // A ray through an edge counts both its triangles; the median of three rays is right.
        let mut turns = [RAY, [-0.48, 0.6, -0.64], [0.36, -0.8, -0.48]].map(|ray| {
            let hits = self.tree.all_hits(point_mm, ray);
            hits.iter()
                .map(|hit| {
                    let [a, b, c] = self.corners_mm[hit.triangle];
                    let normal = crate::vec3::cross(crate::vec3::sub(b, a), crate::vec3::sub(c, a));
                    let along = crate::vec3::dot(normal, ray);
                    i32::from(along > 0.0) - i32::from(along < 0.0)
                })
                .sum::<i32>()
        });
        turns.sort_unstable();
        turns[1]
    }
}

/// Whether one box lies in another.
pub(crate) fn box_inside(inner: &([f64; 3], [f64; 3]), outer: &([f64; 3], [f64; 3])) -> bool {
    (0..3).all(|i| outer.0[i] <= inner.0[i] && inner.1[i] <= outer.1[i])
}

/// For each body the one whose group it is in: itself if outward, else the smallest outward body
/// round it, or `None` where there is none.
fn owners(
    points: &[GridPoint],
    triangles: &[[u32; 3]],
    bodies: &[Body],
    may_own: impl Fn(usize, usize) -> bool,
) -> Vec<Option<usize>> {
    let mut skins: Vec<Option<Skin>> = bodies.iter().map(|_| None).collect();
    let mut owner: Vec<Option<usize>> = (0..bodies.len()).map(Some).collect();
    for (index, cavity) in bodies.iter().enumerate().filter(|(_, body)| body.volume_mm3 <= 0.0) {
        let probe = grid::to_mm(points[triangles[cavity.triangles[0] as usize][0] as usize]);
        let mut best: Option<usize> = None;
        for (candidate, body) in bodies.iter().enumerate() {
            let smaller = best.is_none_or(|b: usize| body.volume_mm3 < bodies[b].volume_mm3);
            if body.volume_mm3 <= 0.0
                || !smaller
                || !may_own(index, candidate)
                || !box_inside(&cavity.box_mm, &body.box_mm)
            {
                continue;
            }
            if skins[candidate].is_none() {
                skins[candidate] = Skin::new(points, triangles, &body.triangles);
            }
            if skins[candidate].as_ref().is_some_and(|skin| skin.winding(probe) > 0) {
                best = Some(candidate);
            }
        }
        owner[index] = best;
    }
    owner
}

/// Sorts triangles by group and drops unused points.
pub(crate) fn into_groups(
    points: Vec<GridPoint>,
    triangles: Vec<[u32; 3]>,
    origin: Vec<u32>,
    slivers: Slivers,
) -> Result<Solid, NotSolid> {
    let lists = components(&points, &triangles);
    if lists.len() == 1 {
        let n = triangles.len() as u32;
        let volume_mm3 = measure::volume_of(triangles.iter().map(|t| t.map(|p| points[p as usize])));
        if volume_mm3 <= 0.0 {
            return Err(NotSolid::InsideOut { volume_mm3 });
        }
        // Points that lost their triangles would still count in a hull.
        let mut is_used = vec![false; points.len()];
        triangles.iter().flatten().for_each(|&point| is_used[point as usize] = true);
        if is_used.contains(&false) {
            return Ok(pick(&points, &triangles, &origin, lists.into_iter()));
        }
        return Ok(Solid::of(points, triangles, origin, vec![n]));
    }
    let least_mm3 = if let Slivers::Specks(least_mm3) = slivers { least_mm3 } else { 0.0 };
    let bodies = lists.into_iter().map(|list| describe(&points, &triangles, list));
    let bodies: Vec<Body> = bodies.filter(|body| body.volume_mm3.abs() >= least_mm3).collect();
    let owner = owners(&points, &triangles, &bodies, |_, _| true);
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); bodies.len()];
    for (index, own) in owner.iter().enumerate() {
        match own {
            Some(own) => members[*own].push(index),
            None if slivers == Slivers::Drop => {}
            None => return Err(NotSolid::InsideOut { volume_mm3: bodies[index].volume_mm3 }),
        }
    }
    if members.iter().all(Vec::is_empty) {
        return Err(NotSolid::Empty);
    }
    let groups = members.iter().filter(|m| !m.is_empty()).map(|members| {
        let mut list: Vec<u32> = members.iter().flat_map(|&m| bodies[m].triangles.iter().copied()).collect();
        list.sort_unstable();
        list
    });
    Ok(pick(&points, &triangles, &origin, groups))
}

/// A solid of the listed triangles, one group a list, points renumbered in order of use.
pub(crate) fn pick(
    points: &[GridPoint],
    triangles: &[[u32; 3]],
    origin: &[u32],
    groups: impl Iterator<Item = Vec<u32>>,
) -> Solid {
    let mut renamed = vec![u32::MAX; points.len()];
    let (mut kept, mut named, mut tags, mut group_ends) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for list in groups {
        for index in list {
            let corners = triangles[index as usize].map(|old| {
                let slot = &mut renamed[old as usize];
                if *slot == u32::MAX {
                    *slot = kept.len() as u32;
                    kept.push(points[old as usize]);
                }
                *slot
            });
            named.push(corners);
            tags.push(origin[index as usize]);
        }
        group_ends.push(named.len() as u32);
    }
    Solid::of(kept, named, tags, group_ends)
}

/// An outward body of a group with the cavities inside it: the smallest thing that holds together.
pub(crate) struct Chunk {
    /// Its group in the solid.
    pub group: usize,
    /// Triangles, ascending.
    pub triangles: Vec<u32>,
    pub box_mm: ([f64; 3], [f64; 3]),
}

/// The chunks of a solid: a group may have come apart through cuts.
pub(crate) fn chunks(solid: &Solid) -> Vec<Chunk> {
    let lists = components(&solid.points, &solid.triangles);
    let group_of = |list: &[u32]| solid.group_ends.partition_point(|&end| end <= list[0]);
    if lists.len() == 1 {
        let box_mm = measure::box_of(solid.points.iter().copied());
        return lists.into_iter().map(|triangles| Chunk { group: 0, triangles, box_mm }).collect();
    }
    let bodies: Vec<Body> =
        lists.into_iter().map(|list| describe(&solid.points, &solid.triangles, list)).collect();
    let groups: Vec<usize> = bodies.iter().map(|body| group_of(&body.triangles)).collect();
    let owner = owners(&solid.points, &solid.triangles, &bodies, |a, b| groups[a] == groups[b]);
    let mut chunks: Vec<Chunk> = Vec::new();
    let mut slot = vec![usize::MAX; bodies.len()];
    for (index, body) in bodies.iter().enumerate() {
        // A flat sliver of a cut encloses nothing and belongs to nobody.
        let Some(own) = owner[index] else { continue };
        if slot[own] == usize::MAX {
            slot[own] = chunks.len();
            chunks.push(Chunk { group: groups[own], triangles: Vec::new(), box_mm: bodies[own].box_mm });
        }
        chunks[slot[own]].triangles.extend(&body.triangles);
    }
    for chunk in &mut chunks {
        chunk.triangles.sort_unstable();
    }
    chunks
}
