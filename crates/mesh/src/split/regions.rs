//! The regions in which a plane meets a solid, and cuts through some of them only.
//!
//! How: the full cut is made once; its cap falls into regions, and each side into lumps, so every
//! vertex knows its lumps. Regions that are not chosen hold their two lumps together; what is then
//! apart is given one side as a whole, also where it runs through the plane, and cut as ever: edges
//! between both sides cross the plane in the chosen regions alone. So nothing changes elsewhere, no
//! point is added there, and what the cut promises holds.
//! A region is a connected part of the section: an outer line with its holes, and what it meets in a
//! point.
//! Cost: a full cut for the list, another for each choice.
//! Not here: which regions are worth cutting, and whether the parts can be pulled apart.

use super::sides::{FAR, Level, Sides};
use super::{ABOVE, BELOW, Cut, Split};
use crate::edges::Joined;
use crate::lumps;
use crate::plane::Plane;
use crate::solid::Solid;
use crate::vec3;
use std::collections::BTreeMap;

/// Origin of the cut faces of [`Regions::whole`].
const LOOKED_AT: u32 = u32::MAX >> 2;

/// How far a place on the outline of a region may lie off its faces: some grid steps, and what edges are moved apart.
const OUTLINE_MM: f64 = 0.02;

/// One connected region of a section.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Its area.
    pub area_mm2: f64,
    /// Length of its boundary, holes included.
    pub line_mm: f64,
    /// Lowest and highest corner of its box.
    pub box_mm: ([f64; 3], [f64; 3]),
    /// A point well inside: the middle of its largest triangle.
    pub inside_mm: [f64; 3],
    /// The lump below it and the lump above it; see [`Regions::n_lumps`].
    pub lumps: [usize; 2],
    /// Its triangles on the lower side of the full cut.
    faces: Vec<u32>,
}

/// The section of a solid by a plane, region by region.
#[derive(Debug, Clone)]
pub struct Regions {
    solid: Solid,
    plane: Plane,
    whole: Split,
    list: Vec<Region>,
    n_below: usize,
    n_above: usize,
    /// Per vertex its lump below and its lump above, or `u32::MAX`.
    lumps_at: Vec<[u32; 2]>,
}

/// Why the chosen regions make no cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotParted {
    /// No region is chosen, or what lies on both sides of one still hangs together elsewhere.
    #[error("the chosen regions leave one piece")]
    Holds,
    /// One part would lie above one chosen region and below another.
    #[error("a part lies on both sides of the chosen regions")]
    Turned,
    /// Some part only touches the others across the plane.
    #[error("a part that no chosen region bounds hangs on by touching")]
    Touches,
    /// The section is not sound here; a little farther on it may be.
    #[error("the section is not sound")]
    Rough,
}

impl Regions {
    /// The section of `solid` by `plane`; `None` where the plane misses it or the section is not sound: a
    /// little farther on it may be.
    pub fn of(solid: &Solid, plane: &Plane) -> Option<Self> {
        let level = Level::of(plane);
        let Sides::Both(side) = Sides::of(solid, &level) else { return None };
        let cut = Cut::made(solid, level, side, LOOKED_AT);
        if !cut.is_plain() || cut.cap_pairs.is_empty() {
            return None;
        }
        let caps: Vec<u32> = cut.cap_pairs.iter().map(|pair| pair[BELOW]).collect();
        let indices: Vec<[u32; 2]> = cut.vertex_indices();
        let ends: Vec<[u32; 2]> = cut.nodes.iter().map(|node| node.index).collect();
        let whole = cut.into_split();
        let (below, above) = (whole.below.as_ref()?, whole.above.as_ref()?);
        let (labels_below, n_below) = lumps::lump_of_points(below);
        let (labels_above, n_above) = lumps::lump_of_points(above);
        let label = |labels: &[u32], index: u32| labels.get(index as usize).copied().unwrap_or(u32::MAX);
        let mut above_of = vec![u32::MAX; below.points.len()];
        for &[low, high] in &ends {
            if let Some(slot) = above_of.get_mut(low as usize) {
                *slot = label(&labels_above, high);
            }
        }
        let mut list = Vec::new();
        for faces in connected(below, &caps) {
            let first = below.triangles[faces[0] as usize][0];
            let (under, over) = (label(&labels_below, first), above_of[first as usize]);
            // A cap of a flat sliver belongs to nothing.
            if under == u32::MAX || over == u32::MAX {
                return None;
            }
            list.push(described(below, faces, [under as usize, n_below + over as usize]));
        }
        let over = |lump: u32| if lump == u32::MAX { lump } else { lump + n_below as u32 };
        let lumps_at = indices
            .into_iter()
            .map(|[low, high]| [label(&labels_below, low), over(label(&labels_above, high))])
            .collect();
        Some(Self { solid: solid.clone(), plane: *plane, list, n_below, n_above, lumps_at, whole })
    }

    /// The regions, in an order that depends on solid and plane alone.
    pub fn list(&self) -> &[Region] {
        &self.list
    }

    /// What is cut.
    pub fn solid(&self) -> &Solid {
        &self.solid
    }

    /// The plane.
    pub fn plane(&self) -> Plane {
        self.plane
    }

    /// The cut through all regions, made to look at: its cut faces bear no plane's number.
    pub fn whole(&self) -> &Split {
        &self.whole
    }

    /// How many lumps the cut through all regions leaves below and above. They are numbered through:
    /// those below in the order of [`lumps::lumps`], then those above.
    pub fn n_lumps(&self) -> [usize; 2] {
        [self.n_below, self.n_above]
    }

    /// The region that holds a point of the plane, or the nearest within `reach_mm`: to find a
    /// region again on another mesh of the same thing.
    pub fn region_at(&self, point_mm: [f64; 3], reach_mm: f64) -> Option<usize> {
        let below = self.whole.below.as_ref()?;
        let away = |region: &Region| {
            let to = |&face: &u32| distance_mm(point_mm, below.corners_mm(face as usize));
            region.faces.iter().map(to).fold(f64::INFINITY, f64::min)
        };
        let all = self.list.iter().map(away).enumerate().filter(|(_, mm)| *mm <= reach_mm);
        all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(index, _)| index)
    }

    /// Whether a place on the outline of the section lies on that of a chosen region.
    pub fn is_outlined_by(&self, chosen: &[usize], point_mm: [f64; 3]) -> bool {
        let is_in_box = |&index: &usize| {
            let (low, high) = self.list[index].box_mm;
            (0..3).all(|k| low[k] - OUTLINE_MM <= point_mm[k] && point_mm[k] <= high[k] + OUTLINE_MM)
        };
        // Mostly the boxes tell.
        let mut boxed = (0..self.list.len()).filter(is_in_box);
        match (boxed.next(), boxed.next()) {
            (Some(only), None) => chosen.contains(&only),
            _ => self.region_at(point_mm, OUTLINE_MM).is_some_and(|region| chosen.contains(&region)),
        }
    }

    /// The lumps that stay together if only the chosen regions are cut: the groups below them, and
    /// those above.
    ///
    /// # Errors
    /// [`NotParted`], but [`NotParted::Rough`].
    pub fn groups(&self, chosen: &[usize]) -> Result<[Vec<Vec<usize>>; 2], NotParted> {
        let side_of = self.sides_of_lumps(chosen)?;
        let mut joined = self.joined(chosen);
        let mut groups: [BTreeMap<u32, Vec<usize>>; 2] = Default::default();
        for (lump, &side) in side_of.iter().enumerate() {
            let goes = if side > 0 { ABOVE } else { BELOW };
            groups[goes].entry(joined.find(lump as u32)).or_default().push(lump);
        }
        Ok(groups.map(|groups| groups.into_values().collect()))
    }

    /// Cuts through the chosen regions alone; cut faces get `tag`.
    ///
    /// # Errors
    /// [`NotParted`].
    pub fn cut(&self, chosen: &[usize], tag: u32) -> Result<Split, NotParted> {
        let side_of = self.sides_of_lumps(chosen)?;
        if (0..self.list.len()).all(|region| chosen.contains(&region)) {
            return Ok(super::split(&self.solid, &self.plane, tag));
        }
        let level = Level::of(&self.plane);
        let side = self.sides_of_vertices(&level, &side_of).ok_or(NotParted::Rough)?;
        Ok(Cut::made(&self.solid, level, side, tag).into_split())
    }

    /// Lumps joined by the regions that are not chosen.
    fn joined(&self, chosen: &[usize]) -> Joined {
        let mut joined = Joined::new(self.n_below + self.n_above);
        for (_, region) in self.list.iter().enumerate().filter(|(index, _)| !chosen.contains(index)) {
            joined.join(region.lumps[0] as u32, region.lumps[1] as u32);
        }
        joined
    }

    /// Per lump -1 where it goes with what lies below the chosen regions, 1 with what lies above.
    fn sides_of_lumps(&self, chosen: &[usize]) -> Result<Vec<i8>, NotParted> {
        let mut joined = self.joined(chosen);
        let mut side_of = vec![0_i8; self.n_below + self.n_above];
        for region in chosen.iter().filter_map(|&index| self.list.get(index)) {
            let [under, over] = region.lumps.map(|lump| joined.find(lump as u32) as usize);
            if under == over {
                return Err(NotParted::Holds);
            }
            if side_of[under] > 0 || side_of[over] < 0 {
                return Err(NotParted::Turned);
            }
            (side_of[under], side_of[over]) = (-1, 1);
        }
        if side_of.iter().all(|&side| side == 0) {
            return Err(NotParted::Holds);
        }
        let side_of: Vec<i8> =
            (0..side_of.len()).map(|lump| side_of[joined.find(lump as u32) as usize]).collect();
        if side_of.contains(&0) { Err(NotParted::Touches) } else { Ok(side_of) }
    }

    /// The side of each vertex for [`Cut::made`], or `None` where an edge between both sides would
    /// not cross the plane.
    fn sides_of_vertices(&self, level: &Level, side_of: &[i8]) -> Option<Vec<i8>> {
        let Sides::Both(natural) = Sides::of(&self.solid, level) else { return None };
        let given = |lump: u32| side_of.get(lump as usize).copied();
        let goes = |&[under, over]: &[u32; 2]| match (given(under), given(over)) {
            // On a chosen region.
            (Some(low), Some(high)) if low != high => Some(0),
            (low, high) => low.or(high),
        };
        let mut wanted: Vec<Option<i8>> = self.lumps_at.iter().map(goes).collect();
        self.give_to_neighbours(&natural, &mut wanted);
        let side = natural.iter().zip(&wanted).map(|(&natural, &wanted)| match wanted? {
            wanted if wanted == natural.signum() => Some(natural),
            // It runs through the plane elsewhere: for this cut it lies far from it.
            wanted => Some(FAR * wanted),
        });
        let side: Vec<i8> = side.collect::<Option<_>>()?;
        let is_sound = |t: &[u32; 3]| {
            let signs = t.map(|i| side[i as usize].signum());
            let is_crossed = signs.contains(&-1) && signs.contains(&1);
            let is_beside = is_crossed || signs.contains(&0);
            !is_beside
                || t.iter().zip(signs).all(|(&i, sign)| {
                    let natural = natural[i as usize].signum();
                    sign == natural || (natural == 0 && !is_crossed)
                })
        };
        self.solid.triangles.iter().all(is_sound).then_some(side)
    }

    /// Vertices whose faces vanished in the full cut belong to no lump; they go with a neighbour, if
    /// there is one, on their own side of the plane.
    fn give_to_neighbours(&self, natural: &[i8], wanted: &mut [Option<i8>]) {
        let mut own_side_only = true;
        while wanted.contains(&None) {
            let mut found: Vec<(u32, i8)> = Vec::new();
            for t in self.solid.triangles.iter() {
                for &i in t.iter().filter(|&&i| wanted[i as usize].is_none()) {
                    let beside = t.iter().find(|&&other| {
                        let alike = natural[i as usize].signum() == natural[other as usize].signum();
                        wanted[other as usize].is_some_and(|side| side != 0) && (alike || !own_side_only)
                    });
                    found.extend(beside.and_then(|&other| Some((i, wanted[other as usize]?))));
                }
            }
            if found.is_empty() && !own_side_only {
                return;
            }
            own_side_only = !found.is_empty();
            for (i, side) in found {
                wanted[i as usize].get_or_insert(side);
            }
        }
    }
}

impl Cut<'_> {
    /// Per vertex its index on the lower and the upper side, or `u32::MAX`.
    fn vertex_indices(&self) -> Vec<[u32; 2]> {
        let index = |(vertex, &side): (usize, &i8)| match side {
            0 => {
                let node = self.node_on.get(&(vertex as u32)).and_then(|&n| self.nodes.get(n as usize));
                node.map_or([u32::MAX; 2], |node| node.index)
            }
            ..0 => [self.renamed[vertex], u32::MAX],
            _ => [u32::MAX, self.renamed[vertex]],
        };
        self.side.iter().enumerate().map(index).collect()
    }
}

/// Triangles of a list that hang together by points, in order of their first.
fn connected(solid: &Solid, list: &[u32]) -> Vec<Vec<u32>> {
    let mut joined = Joined::new(solid.points.len());
    for &index in list {
        let [a, b, c] = solid.triangles[index as usize];
        joined.join(a, b);
        joined.join(a, c);
    }
    let mut list_of: BTreeMap<u32, usize> = BTreeMap::new();
    let mut lists: Vec<Vec<u32>> = Vec::new();
    for &index in list {
        let name = joined.find(solid.triangles[index as usize][0]);
        let at = *list_of.entry(name).or_insert(lists.len());
        if at == lists.len() {
            lists.push(Vec::new());
        }
        lists[at].push(index);
    }
    lists
}

fn described(solid: &Solid, faces: Vec<u32>, lumps: [usize; 2]) -> Region {
    let (mut area_mm2, mut largest_mm2, mut inside_mm) = (0.0, -1.0, [0.0; 3]);
    let mut box_mm = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    let mut edges: Vec<[u32; 2]> = Vec::with_capacity(3 * faces.len());
    for &face in &faces {
        let corners = solid.corners_mm(face as usize);
        let here_mm2 = solid.triangle_area_mm2(face as usize);
        area_mm2 += here_mm2;
        if here_mm2 > largest_mm2 {
            largest_mm2 = here_mm2;
            inside_mm = std::array::from_fn(|k| (corners[0][k] + corners[1][k] + corners[2][k]) / 3.0);
        }
        for (corner, k) in corners.iter().flat_map(|corner| (0..3).map(move |k| (corner, k))) {
            box_mm.0[k] = box_mm.0[k].min(corner[k]);
            box_mm.1[k] = box_mm.1[k].max(corner[k]);
        }
        let [a, b, c] = solid.triangles[face as usize];
        edges.extend([(a, b), (b, c), (c, a)].map(|(p, q)| [p.min(q), p.max(q)]));
    }
    edges.sort_unstable();
    let rim = edges.chunk_by(|a, b| a == b).filter(|run| run.len() == 1).map(|run| run[0]);
    let length = |ends: [u32; 2]| {
        let [a, b] = ends.map(|i| crate::grid::to_mm(solid.points[i as usize]));
        vec3::length(vec3::sub(b, a))
    };
    Region { area_mm2, line_mm: rim.map(length).sum(), box_mm, inside_mm, lumps, faces }
}

/// Distance of a point from a triangle.
fn distance_mm(p: [f64; 3], [a, b, c]: [[f64; 3]; 3]) -> f64 {
    let normal = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
    let beyond = |from: [f64; 3], to: [f64; 3]| {
        vec3::dot(vec3::cross(normal, vec3::sub(to, from)), vec3::sub(p, from)) < 0.0
    };
    let sides = [(a, b), (b, c), (c, a)];
    if sides.iter().all(|&(from, to)| !beyond(from, to))
        && let Some(normal) = vec3::unit(normal)
    {
        return vec3::dot(normal, vec3::sub(p, a)).abs();
    }
    let to_side = |(from, to): ([f64; 3], [f64; 3])| {
        let along = vec3::sub(to, from);
        let share = vec3::dot(along, vec3::sub(p, from)) / vec3::dot(along, along).max(1e-300);
        vec3::length(vec3::sub(p, vec3::add(from, vec3::scale(along, share.clamp(0.0, 1.0)))))
    };
    sides.into_iter().map(to_side).fold(f64::INFINITY, f64::min)
}
