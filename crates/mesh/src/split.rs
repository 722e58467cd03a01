//! Split a solid by a plane into two solids: the exact cut.
//!
//! How: one side a vertex, decided once, and all topology follows from it, so rounding cannot open
//! a seam. Crossings are keyed by the edge they lie on; a face in the plane goes to the side its
//! material is on; the section is the boundary of the lower side; each group (a body with its
//! cavities) gets its own cap (`cap.rs`), and the same triangles reversed close the other side, so
//! both volumes add up to the whole.
//! Cut points lie on the coordinate grid (`split/rounding.rs`). Points of one group that fall
//! together in the cap's plane are joined, on both sides alike; where that makes an edge touch
//! itself, the triangles beside the section are mended (`split/touching.rs`). Section lines that
//! cross are split where they do (`split/crossing_lines.rs`); films of nothing go back to the side
//! they were cut from (`split/slivers.rs`). Where a section runs through itself the side is
//! assembled anew (`assemble.rs`).
//! A cut through some of the regions in which plane and solid meet: `split/regions.rs`.
//! Cost: O(n + k log k) for n triangles and k crossed edges.
//! Not here: which plane to use, and what falls apart (`lumps.rs`).

mod clipping;
mod closing;
mod crossing_lines;
mod laying;
mod parts;
pub mod regions;
mod rounding;
mod sides;
mod slivers;
mod touching;

use crate::apart::SHORT_STEPS;
use crate::edges::QuickMap;
use crate::grid::{GridPoint, STEPS_PER_MM};
use crate::plane::Plane;
use crate::solid::Solid;
use crate::vec3;
use parts::{Frame, Half};
use rounding::Crossing;
use sides::{Level, Sides};

/// A vertex this near the plane counts as on it, in grid steps: half a step, the distance a cut
/// point itself may lie off the plane along an axis.
const ON_PLANE_STEPS: f64 = 0.5;

/// What reaches no farther than this beyond the plane is nothing: 3 steps, 0.0007 mm. A face in the
/// plane that an earlier cut has run through may be bent so far: a cut point moves by up to two
/// steps and half a step (`split/rounding.rs`).
const NOTHING_STEPS: f64 = 3.0;

/// Vertices this near the plane, in steps, are looked at again after the cut: slivers between them
/// and the cut points may have been flattened by rounding. Farther than the shortest edge that is
/// not drawn together, so that mending never has to move what lies farther off.
const NEAR_STEPS: f64 = SHORT_STEPS + 8.0;

/// The two sides of a cut; a side without material is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// Where `normal · p < offset`.
    pub below: Option<Solid>,
    /// Where `normal · p > offset`.
    pub above: Option<Solid>,
    /// Area of cut face that overlaps itself, where a section crosses itself because the surface
    /// does; seen from above, in the coordinate plane the cut leans to. 0 for a sound surface; a
    /// planner may move the plane a little and cut again.
    pub rough_mm2: f64,
    /// The points of the section; empty where a side had to be mended or is missing.
    pub section_points: Vec<SectionPoint>,
}

/// One point of a section: tells what putting it on the grid has cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionPoint {
    /// Where it would lie without the grid, in mm.
    pub exact_mm: [f64; 3],
    /// Its index in the points of the lower and the upper side.
    pub index: [u32; 2],
}

/// Cuts `solid` by `plane`; new faces get `tag` as their origin (not 0, which means skin).
pub fn split(solid: &Solid, plane: &Plane, tag: u32) -> Split {
    let level = Level::of(plane);
    let none = |below: Option<Solid>, above: Option<Solid>| Split {
        below,
        above,
        rough_mm2: 0.0,
        section_points: Vec::new(),
    };
    match Sides::of(solid, &level) {
        Sides::Below => none(Some(solid.clone()), None),
        Sides::Above => none(None, Some(solid.clone())),
        Sides::Both(side) => Cut::made(solid, level, side, tag).into_split(),
    }
}

/// A point of the section, shared by both sides.
struct Node {
    point: GridPoint,
    /// Where it would lie without the grid, in steps.
    exact: [f64; 3],
    /// Index on the lower and the upper side, or `u32::MAX` before first use.
    index: [u32; 2],
}

const BELOW: usize = 0;
const ABOVE: usize = 1;

/// A corner of a clipped polygon: an old vertex of one side, a node of the section, or a crossing
/// that has become or will become one.
#[derive(Clone, Copy)]
enum Corner {
    Vertex(u32),
    Node(u32),
    Crossing(u32),
}

struct Cut<'a> {
    solid: &'a Solid,
    /// See [`Sides::Both`].
    side: Vec<i8>,
    /// Index of each vertex off the plane on its side.
    renamed: Vec<u32>,
    level: Level,
    frame: Frame,
    tag: u32,
    halves: [Half; 2],
    nodes: Vec<Node>,
    /// Node at a flat position, within one group.
    node_at: QuickMap<[i32; 2], u32>,
    /// Node of an old vertex on the plane.
    node_on: QuickMap<u32, u32>,
    /// Number of a crossed edge's crossing, and the crossings themselves.
    crossing: QuickMap<u64, u32>,
    crossings: Vec<Crossing>,
    /// Volume gained so far by rounding cut points, in cubic steps.
    gain: f64,
    rough_mm2: f64,
    /// Whether the sides must be assembled anew: the section runs through itself.
    again: bool,
    /// Whether triangles beside the section had to be mended.
    mended: bool,
    /// Of the group at hand, triangles by side with a corner in the section or near it.
    beside: [Vec<u32>; 2],
    /// Corners, by side, of those that are near the plane, with the vertices they come from.
    near: [Vec<(u32, u32)>; 2],
    /// Of the group at hand, skin triangles by side that nowhere leave the plane by more than
    /// [`NOTHING_STEPS`].
    thin: [Vec<u32>; 2],
    /// Corners, by side, of skin triangles beside the section that do leave the plane.
    thick_points: [Vec<u32>; 2],
    /// The same cap triangle on both sides, and where those of the group at hand begin.
    cap_pairs: Vec<[u32; 2]>,
    first_cap_pair: usize,
}

impl<'a> Cut<'a> {
    /// Cuts a solid whose vertices lie on these sides, each less than 4 in amount; edges between
    /// both sides must cross the plane.
    fn made(solid: &'a Solid, level: Level, side: Vec<i8>, tag: u32) -> Self {
        let mut points: [Vec<GridPoint>; 2] = [Vec::new(), Vec::new()];
        let mut renamed: Vec<u32> = Vec::with_capacity(side.len());
        for (&point, &side) in solid.points.iter().zip(&side) {
            let points = &mut points[if side > 0 { ABOVE } else { BELOW }];
            renamed.push(points.len() as u32);
            if side != 0 {
                points.push(point);
            }
        }
        let mut cut = Self {
            solid,
            renamed,
            side,
            frame: Frame::of(level.normal),
            level,
            tag,
            halves: points.map(|points| {
                // A surface has about two triangles a point, and some more where it is cut.
                let n_triangles = 2 * points.len() + points.len() / 16;
                Half::new(points, n_triangles)
            }),
            nodes: Vec::new(),
            node_at: QuickMap::default(),
            node_on: QuickMap::default(),
            crossing: QuickMap::default(),
            crossings: Vec::new(),
            gain: 0.0,
            rough_mm2: 0.0,
            again: false,
            mended: false,
            beside: [Vec::new(), Vec::new()],
            near: [Vec::new(), Vec::new()],
            thin: [Vec::new(), Vec::new()],
            thick_points: [Vec::new(), Vec::new()],
            cap_pairs: Vec::new(),
            first_cap_pair: 0,
        };
        let mut start = 0;
        for &end in solid.group_ends.iter() {
            cut.group(start as usize, end as usize);
            start = end;
        }
        cut.drop_unused_points();
        cut
    }

    fn drop_unused_points(&mut self) {
        for goes in [BELOW, ABOVE] {
            let Some(names) = self.halves[goes].drop_unused_points() else { continue };
            let name = |index: &mut u32| *index = names.get(*index as usize).copied().unwrap_or(u32::MAX);
            self.nodes.iter_mut().for_each(|node| name(&mut node.index[goes]));
            let is_here = |side: i8| side != 0 && (side > 0) == (goes == ABOVE);
            let here = self.renamed.iter_mut().zip(&self.side).filter(|&(_, &side)| is_here(side));
            here.for_each(|(index, _)| name(index));
        }
    }

    /// Whether the section is sound: no side had to be assembled anew or mended.
    fn is_plain(&self) -> bool {
        !self.again && !self.mended
    }

    fn into_split(self) -> Split {
        let (again, rough_mm2, is_plain) = (self.again, self.rough_mm2, self.is_plain());
        let used = self.nodes.iter().filter(|node| is_plain && !node.index.contains(&u32::MAX));
        let section_points = used
            .map(|node| SectionPoint {
                exact_mm: vec3::scale(node.exact, 1.0 / STEPS_PER_MM),
                index: node.index,
            })
            .collect();
        let [below, above] = self.halves.map(|half| half.finish(again));
        Split { below, above, rough_mm2, section_points }
    }

    fn group(&mut self, start: usize, end: usize) {
        self.node_at.clear();
        self.thin.iter_mut().chain(&mut self.thick_points).chain(&mut self.beside).for_each(Vec::clear);
        self.near.iter_mut().for_each(Vec::clear);
        self.first_cap_pair = self.cap_pairs.len();
        let first_node = self.nodes.len();
        let first_triangle = self.halves.each_ref().map(|half| half.triangles.len());
        // Directed section lines as the lower side's surface runs them.
        let mut lines: Vec<(u32, u32)> = Vec::new();
        let mut crossed: Vec<u32> = Vec::new();
        for index in start..end {
            let t = self.solid.triangles[index];
            let s = t.map(|i| self.side[i as usize]);
            let (low, high) = (s[0].min(s[1]).min(s[2]), s[0].max(s[1]).max(s[2]));
            if low < 0 && high > 0 {
                crossed.push(index as u32);
                continue;
            }
            let goes = match (low, high) {
                (0, 0) => self.material_side(t),
                (_, 1..) => ABOVE,
                _ => BELOW,
            };
            let n_on = s.iter().filter(|&&s| s == 0).count();
            if n_on == 0 {
                let half = &mut self.halves[goes];
                let corners = t.map(|old| self.renamed[old as usize]);
                if low.abs().min(high.abs()) < 3 {
                    let number = half.triangles.len() as u32;
                    if low >= -1 && high <= 1 {
                        self.thin[goes].push(number);
                    }
                    self.beside[goes].push(number);
                    for i in (0..3).filter(|&i| s[i].abs() < 3) {
                        self.near[goes].push((corners[i], t[i]));
                    }
                }
                half.triangles.push(corners);
                half.origin.push(self.solid.origin[index]);
                continue;
            }
            let corners: [Corner; 3] = std::array::from_fn(|i| {
                if s[i] == 0 { Corner::Node(self.node_of_vertex(t[i])) } else { Corner::Vertex(t[i]) }
            });
            self.lay_skin(goes, &corners, self.solid.origin[index]);
            if n_on >= 2 && goes == BELOW {
                for i in 0..3 {
                    if let (Corner::Node(a), Corner::Node(b)) = (corners[i], corners[(i + 1) % 3])
                        && a != b
                    {
                        lines.push((a, b));
                    }
                }
            }
        }
        let first_crossing = self.crossings.len();
        for &index in &crossed {
            self.weigh(self.solid.triangles[index as usize]);
        }
        self.round(first_crossing);
        for &index in &crossed {
            let t = self.solid.triangles[index as usize];
            self.clip(index as usize, t, &mut lines);
        }
        if !lines.is_empty() {
            self.close(first_node, first_triangle, &lines);
        }
        self.give_slivers_back(first_node, first_triangle);
        self.mend_touching(first_node);
        for half in &mut self.halves {
            let end = half.triangles.len() as u32;
            if half.group_ends.last().copied().unwrap_or(0) < end {
                half.group_ends.push(end);
            }
        }
    }

    /// A triangle in the plane belongs to the side its material is on: against its normal.
    fn material_side(&self, t: [u32; 3]) -> usize {
        let [a, b, c] = t.map(|i| self.frame.flat(self.solid.points[i as usize]).map(i64::from));
        let doubled = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        if doubled > 0 { BELOW } else { ABOVE }
    }

    fn node(&mut self, point: GridPoint, exact: [f64; 3]) -> u32 {
        let next = self.nodes.len() as u32;
        let node = *self.node_at.entry(self.frame.flat(point)).or_insert(next);
        if node == next {
            self.nodes.push(Node { point, exact, index: [u32::MAX; 2] });
        }
        node
    }

    fn node_of_vertex(&mut self, vertex: u32) -> u32 {
        if let Some(&node) = self.node_on.get(&vertex) {
            return node;
        }
        let point = self.solid.points[vertex as usize];
        let node = self.node(point, point.map(f64::from));
        self.node_on.insert(vertex, node);
        node
    }
}
