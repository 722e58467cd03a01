//! Lumps: what stays together when a solid is picked up.
//!
//! Bodies whose solids meet or come within [`TOUCH_MM`] of each other are one lump; a body loose
//! in a cavity is a lump of its own. A piece is one lump.

use crate::bodies::{self, Chunk, Skin};
use crate::edges::Joined;
use crate::solid::Solid;
use crate::spatial::{self, Tree};

/// Bodies this near are taken as fused in printing (`contract.md`, "Piece"), in mm.
pub const TOUCH_MM: f64 = 0.05;

/// The lumps of a solid, each a solid, in order of their first triangle.
pub fn lumps(solid: Solid) -> Vec<Solid> {
    let chunks = bodies::chunks(&solid);
    if chunks.len() == 1 {
        return vec![solid];
    }
    let lump_of = join_touching(&solid, &chunks);
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); chunks.len()];
    for (index, &lump) in lump_of.iter().enumerate() {
        members[lump].push(index);
    }
    let mut lumps: Vec<(u32, Solid)> = members
        .iter()
        .filter(|members| !members.is_empty())
        .map(|members| {
            // Chunks of one group stay one group: their caps nest by the same rule.
            let mut groups: Vec<(usize, Vec<u32>)> = Vec::new();
            for &m in members {
                let chunk = &chunks[m];
                match groups.iter_mut().find(|(group, _)| *group == chunk.group) {
                    Some((_, list)) => list.extend(&chunk.triangles),
                    None => groups.push((chunk.group, chunk.triangles.clone())),
                }
            }
            groups.sort_by_key(|(group, _)| *group);
            for (_, list) in &mut groups {
                list.sort_unstable();
            }
            let first = members.iter().map(|&m| chunks[m].triangles[0]).min().unwrap_or(0);
            let lists = groups.into_iter().map(|(_, list)| list);
            (first, bodies::pick(&solid.points, &solid.triangles, &solid.origin, lists))
        })
        .collect();
    lumps.sort_by_key(|(first, _)| *first);
    lumps.into_iter().map(|(_, lump)| lump).collect()
}

/// For each point the number of its lump in the order of [`lumps`], or `u32::MAX` for points of what
/// belongs to nothing; and how many lumps there are.
pub(crate) fn lump_of_points(solid: &Solid) -> (Vec<u32>, usize) {
    let chunks = bodies::chunks(solid);
    if chunks.len() == 1 {
        return (vec![0; solid.points.len()], 1);
    }
    let lump_of = join_touching(solid, &chunks);
    let first_of = |lump: usize| {
        let members = (0..chunks.len()).filter(|&i| lump_of[i] == lump);
        members.map(|i| chunks[i].triangles[0]).min().unwrap_or(0)
    };
    let mut order: Vec<usize> = (0..chunks.len()).filter(|&i| lump_of[i] == i).collect();
    order.sort_by_key(|&lump| first_of(lump));
    let mut number = vec![u32::MAX; chunks.len()];
    (0..).zip(&order).for_each(|(n, &lump)| number[lump] = n);
    let mut labels = vec![u32::MAX; solid.points.len()];
    for (chunk, &lump) in chunks.iter().zip(&lump_of) {
        for &point in chunk.triangles.iter().flat_map(|&t| &solid.triangles[t as usize]) {
            labels[point as usize] = number[lump];
        }
    }
    (labels, order.len())
}

/// How many lumps there are, without building them.
pub fn count_lumps(solid: &Solid) -> usize {
    let chunks = bodies::chunks(solid);
    if chunks.len() == 1 {
        return 1;
    }
    let lump_of = join_touching(solid, &chunks);
    (0..chunks.len()).filter(|&i| lump_of[i] == i).count()
}

/// For each chunk the smallest index of a chunk in the same lump.
fn join_touching(solid: &Solid, chunks: &[Chunk]) -> Vec<usize> {
    let boxes: Vec<_> = chunks.iter().map(|chunk| chunk.box_mm).collect();
    let mut joined = Joined::new(chunks.len());
    let mut skins: Vec<Option<Skin>> = chunks.iter().map(|_| None).collect();
    for (a, b) in spatial::overlapping_boxes(&boxes, TOUCH_MM / 2.0) {
        if joined.find(a as u32) == joined.find(b as u32) {
            continue;
        }
        for index in [a, b] {
            if skins[index].is_none() {
                skins[index] = Skin::new(&solid.points, &solid.triangles, &chunks[index].triangles);
            }
        }
        if let (Some(skin_a), Some(skin_b)) = (&skins[a], &skins[b])
            && meet(skin_a, skin_b)
        {
            joined.join(a as u32, b as u32);
        }
    }
    (0..chunks.len() as u32).map(|i| joined.find(i) as usize).collect()
}

/// Whether two solids share a point or come within [`TOUCH_MM`].
fn meet(a: &Skin, b: &Skin) -> bool {
    let inside = |inner: &Skin, outer: &Skin| outer.winding(inner.corners_mm()[0][0]) > 0;
    near(a, b) || inside(a, b) || inside(b, a)
}

fn near(a: &Skin, b: &Skin) -> bool {
    let (few, tree): (&Skin, &Tree) =
        if a.corners_mm().len() <= b.corners_mm().len() { (a, b.tree()) } else { (b, a.tree()) };
    few.corners_mm().iter().any(|&corners| tree.near_triangle(corners, TOUCH_MM))
}

/// Whether a point lies inside the material of a solid (cavities are outside).
pub fn contains(solid: &Solid, point_mm: [f64; 3]) -> bool {
    let all: Vec<u32> = (0..solid.triangles.len() as u32).collect();
    Skin::new(&solid.points, &solid.triangles, &all).is_some_and(|skin| skin.winding(point_mm) > 0)
}
