//! All offsets of one cutting direction in one pass: what the seam costs, and the lumps on both sides.
//!
//! How: heights of all points along the direction are sorted once. The length of a section and what its
//! line costs are piecewise linear in the offset, since the chord of a triangle keeps its direction
//! ([`profile`]). Lumps are followed by joining points as the plane passes them, once upward for
//! what lies below and once downward for what lies above ([`Sweep::stops`]); with the bonds of
//! `sweep/bonds.rs` they are the lumps of the solid. A lump carries its extents along the axes of some
//! frames, its volume and its section's area, which at each stop are completed by the triangles the
//! plane crosses. All of it equals what cutting there and measuring would give, up to rounding.
//! Source: section length piecewise linear in the offset, lumps by join and split trees: derived in
//! the study of cutting; trees of sublevel sets: "Computing contour trees in all dimensions" (2003),
//! doi:10.1016/S0925-7721(02)00093-7 (from memory).
//! Not here: which offsets are worth a stop (`offers.rs`), the cut itself (`partition.rs`).

mod bonds;
mod following;
pub mod profile;
pub mod reach;

use crate::estimate::{self, Need};
use crate::frames::Frame;
use bonds::Bond;
use following::Following;
use profile::Profile;
use reach::Reach;
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Solid, vec3};

/// A part made ready to be swept in any direction.
pub struct Ready {
    solid: Solid,
    tree: Tree,
    points_mm: Vec<[f64; 3]>,
    edges: Vec<[u32; 2]>,
    /// Triangles around each point.
    around: Lists,
    /// Per point the coordinates along all axes of all frames: single precision keeps a tenth of a
    /// thousandth of a mm, and twice as many are taken at once.
    projected: Vec<f32>,
    n_axes: usize,
    /// Per triangle half the product of its sides, and a third of its dot with a corner.
    areas_mm2: Vec<[f64; 3]>,
    fluxes_mm3: Vec<f64>,
    meetings: Vec<Bond>,
}

/// Lists of numbers, one for each point, end to end.
struct Lists {
    starts: Vec<u32>,
    items: Vec<u32>,
}

impl Lists {
    fn of(&self, index: u32) -> &[u32] {
        &self.items[self.starts[index as usize] as usize..self.starts[index as usize + 1] as usize]
    }

    fn new(n: usize, pairs: impl Iterator<Item = (u32, u32)> + Clone) -> Self {
        let mut starts = vec![0_u32; n + 1];
        pairs.clone().for_each(|(to, _)| starts[to as usize + 1] += 1);
        (0..n).for_each(|i| starts[i + 1] += starts[i]);
        let mut next = starts.clone();
        let mut items = vec![0; starts[n] as usize];
        for (to, item) in pairs {
            items[next[to as usize] as usize] = item;
            next[to as usize] += 1;
        }
        Self { starts, items }
    }
}

/// A lump that one side of a plane would leave.
#[derive(Debug, Clone, PartialEq)]
pub struct Lump {
    /// How far it reaches along each axis of each frame.
    pub reach: Reach,
    /// Its volume.
    pub volume_mm3: f64,
    /// Area of its cut face.
    pub section_mm2: f64,
}

impl Lump {
    /// What it would need, at least over the frames.
    pub fn need(&self, boxes: &[[f64; 3]]) -> Need {
        let mut best = Need { pieces: f64::MAX, excess: f64::MAX };
        for (low, high) in self.reach.low_mm.chunks_exact(3).zip(self.reach.high_mm.chunks_exact(3)) {
            let found = estimate::need_of(std::array::from_fn(|k| f64::from(high[k] - low[k])), boxes);
            if found.pieces + found.excess < best.pieces + best.excess {
                best = found;
            }
        }
        best
    }
}

/// What a plane at one offset would do.
#[derive(Debug, Clone)]
pub struct Stop {
    /// Offset of the plane.
    pub offset_mm: f64,
    /// Length of the section.
    pub line_mm: f64,
    /// What its line costs, in mm of plain line.
    pub cost_mm: f64,
    /// Lumps below and above.
    pub sides: [Vec<Lump>; 2],
}

impl Ready {
    /// Prepares a solid; extents are taken along the axes of `frames`.
    pub fn new(solid: &Solid, frames: &[Frame]) -> Option<Self> {
        let points_mm = solid.points_mm();
        let triangles = solid.triangles();
        let tree = Tree::new(points_mm.clone(), triangles.to_vec())?;
        let mut edges: Vec<[u32; 2]> = triangles
            .iter()
            .flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]])
            .map(|[a, b]| [a.min(b), a.max(b)])
            .collect();
        edges.sort_unstable();
        edges.dedup();
        let corners = (0_u32..).zip(triangles).flat_map(|(t, corners)| corners.map(|p| (p, t)));
        let around = Lists::new(points_mm.len(), corners);
        let along = |&p: &[f64; 3]| {
            frames.iter().flatten().map(move |&axis| vec3::dot(axis, p) as f32).collect::<Vec<_>>()
        };
        let projected = points_mm.iter().flat_map(along).collect();
        let (mut areas_mm2, mut fluxes_mm3) = (Vec::new(), Vec::new());
        for t in triangles {
            let [a, b, c] = t.map(|i| points_mm[i as usize]);
            let area = vec3::scale(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)), 0.5);
            fluxes_mm3.push(vec3::dot(area, a) / 3.0);
            areas_mm2.push(area);
        }
        let meetings = bonds::meetings(solid, &tree, &edges);
        let n_axes = 3 * frames.len();
        Some(Self {
            solid: solid.clone(),
            tree,
            points_mm,
            edges,
            around,
            projected,
            n_axes,
            areas_mm2,
            fluxes_mm3,
            meetings,
        })
    }

    /// Sorts it along a direction; `per_mm` is what a mm of line costs on a triangle in a direction.
    pub fn along(&self, normal: [f64; 3], per_mm: &dyn Fn(usize, [f64; 3]) -> f64) -> Sweep<'_> {
        let heights_mm: Vec<f64> = self.points_mm.iter().map(|&p| vec3::dot(normal, p)).collect();
        let mut order: Vec<u32> = (0..heights_mm.len() as u32).collect();
        order.sort_unstable_by(|&a, &b| {
            heights_mm[a as usize].total_cmp(&heights_mm[b as usize]).then(a.cmp(&b))
        });
        let chords = chords_of(&self.solid, &self.points_mm, &heights_mm, per_mm);
        Sweep { ready: self, normal, heights_mm, order, chords }
    }
}

/// Length and cost of the line at every offset along a direction, of a part that is not swept further: much
/// less work than to make it ready.
pub fn profile_along(solid: &Solid, normal: [f64; 3], per_mm: &dyn Fn(usize, [f64; 3]) -> f64) -> Profile {
    let points_mm = solid.points_mm();
    let heights_mm: Vec<f64> = points_mm.iter().map(|&p| vec3::dot(normal, p)).collect();
    Profile::of(&chords_of(solid, &points_mm, &heights_mm, per_mm))
}

/// All triangles as a plane passes them, points at these heights.
fn chords_of(
    solid: &Solid,
    points_mm: &[[f64; 3]],
    heights_mm: &[f64],
    per_mm: &dyn Fn(usize, [f64; 3]) -> f64,
) -> Vec<Chord> {
    let chords = (0_usize..).zip(solid.triangles()).map(|(index, t)| {
        let mut corners = *t;
        corners.sort_unstable_by(|&a, &b| {
            heights_mm[a as usize].total_cmp(&heights_mm[b as usize]).then(a.cmp(&b))
        });
        let points = corners.map(|i| points_mm[i as usize]);
        let heights_mm = corners.map(|i| heights_mm[i as usize]);
        let rise_mm = heights_mm[2] - heights_mm[0];
        let across = if rise_mm > 0.0 {
            let share = (heights_mm[1] - heights_mm[0]) / rise_mm;
            let opposite = vec3::add(points[0], vec3::scale(vec3::sub(points[2], points[0]), share));
            vec3::sub(points[1], opposite)
        } else {
            [0.0; 3]
        };
        let longest_mm = vec3::length(across);
        let per_mm = vec3::unit(across).map_or(0.0, |tangent| per_mm(index, tangent));
        Chord { corners, heights_mm, longest_mm, per_mm }
    });
    chords.collect()
}

/// One triangle as the plane passes it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Chord {
    /// Its corners and their heights, lowest first.
    corners: [u32; 3],
    heights_mm: [f64; 3],
    /// Length of the chord at the middle corner.
    longest_mm: f64,
    /// What a mm of it costs.
    per_mm: f64,
}

impl Chord {
    /// Whether a plane parts its corners; one on the plane counts as above.
    fn is_crossed(&self, offset_mm: f64) -> bool {
        self.heights_mm[0] < offset_mm && offset_mm <= self.heights_mm[2]
    }

    /// Length of the chord where it is crossed, and the share of the triangle below.
    fn at(&self, offset_mm: f64) -> (f64, f64) {
        let [low, middle, high] = self.heights_mm;
        if offset_mm <= middle {
            let along = (offset_mm - low) / (middle - low);
            (self.longest_mm * along, along * (offset_mm - low) / (high - low))
        } else {
            let along = (high - offset_mm) / (high - middle);
            (self.longest_mm * along, 1.0 - along * (high - offset_mm) / (high - low))
        }
    }
}

/// A part sorted along one direction.
pub struct Sweep<'a> {
    ready: &'a Ready,
    normal: [f64; 3],
    heights_mm: Vec<f64>,
    /// Points, lowest first.
    order: Vec<u32>,
    chords: Vec<Chord>,
}

impl Sweep<'_> {
    /// Lowest and highest point.
    pub fn ends_mm(&self) -> [f64; 2] {
        let height = |index: Option<&u32>| index.map_or(0.0, |&i| self.heights_mm[i as usize]);
        [height(self.order.first()), height(self.order.last())]
    }

    /// Length and cost of the section's line at every offset.
    pub fn profile(&self) -> Profile {
        Profile::of(&self.chords)
    }

    /// What planes at these offsets would do; they must ascend.
    pub fn stops(&self, offsets_mm: &[f64]) -> Vec<Stop> {
        let crossed: Vec<Crossed> = offsets_mm.iter().map(|&offset_mm| self.crossed(offset_mm)).collect();
        let below = Following::new(self, false).at(crossed.iter());
        let mut above = Following::new(self, true).at(crossed.iter().rev());
        above.reverse();
        let stop = |(crossed, (below, above)): (&Crossed, (Vec<Lump>, Vec<Lump>))| {
            let (mut line_mm, mut cost_mm) = (0.0, 0.0);
            for &t in &crossed.triangles {
                let chord = &self.chords[t as usize];
                let (length_mm, _) = chord.at(crossed.offset_mm);
                line_mm += length_mm;
                cost_mm += chord.per_mm * length_mm;
            }
            Stop { offset_mm: crossed.offset_mm, line_mm, cost_mm, sides: [below, above] }
        };
        crossed.iter().zip(below.into_iter().zip(above)).map(stop).collect()
    }

    fn crossed(&self, offset_mm: f64) -> Crossed {
        let triangles = (0_u32..).zip(&self.chords).filter(|(_, chord)| chord.is_crossed(offset_mm));
        let is_below = |point: u32| self.heights_mm[point as usize] < offset_mm;
        let edges = self.ready.edges.iter().filter(|&&[a, b]| is_below(a) != is_below(b));
        Crossed { offset_mm, triangles: triangles.map(|(t, _)| t).collect(), edges: edges.copied().collect() }
    }
}

/// What a plane crosses.
struct Crossed {
    offset_mm: f64,
    triangles: Vec<u32>,
    edges: Vec<[u32; 2]>,
}
