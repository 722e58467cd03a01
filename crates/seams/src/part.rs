//! A part of an item: one lump, its hull and how it fits.

use seamwright_bed::{Bed, PoseKind, Posed, best_pose};
use seamwright_mesh::hull::{self, Hull};
use seamwright_mesh::section::section;
use seamwright_mesh::solid::is_cut;
use seamwright_mesh::split::regions::Regions;
use seamwright_mesh::{Plane, Solid, grid, vec3};

/// A part of an item: one lump, its hull and how it fits.
pub struct Part {
    /// The lump, where it sits in the item.
    pub solid: Solid,
    /// Its convex hull.
    pub hull: Hull,
    /// Lowest and highest corner of its box.
    pub box_mm: ([f64; 3], [f64; 3]),
    /// Signed volume.
    pub volume_mm3: f64,
    /// The pose in which it prints; `None` where it fits no bed.
    pub posed: Option<Posed>,
    /// Whether it is printed already: it is not cut any more, whatever bed it fits.
    pub is_printed: bool,
}

/// The line of a plane through a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Its length, skin and rims alike.
    pub section_mm: f64,
    /// What it costs, in mm of plain line.
    pub cost_mm: f64,
    /// How much of it leads through detail; on a stand-in about as much as its bends foresee.
    pub detail_mm: f64,
    /// How much of it leads through areas chalked off.
    pub chalked_mm: f64,
}

impl Line {
    /// No line.
    pub const NONE: Self = Self { section_mm: 0.0, cost_mm: 0.0, detail_mm: 0.0, chalked_mm: 0.0 };
}

/// Who looks at what a cut makes.
pub trait Look {
    /// Hull and best pose of a lump.
    fn look(&self, lump: Solid) -> Part;

    /// Weighs the line of a plane through a part.
    fn line(&self, part: &Solid, plane: &Plane) -> Line;

    /// Weighs the outlines of some regions of a section.
    fn line_of(&self, regions: &Regions, chosen: &[usize]) -> Line;

    /// What a piece costs beside the line of the cut that leaves it, in mm of plain line; `tag` is the origin of
    /// its cut face.
    fn burden_mm(&self, _piece: &Part, _tag: u32) -> f64 {
        0.0
    }

    /// Whether the maker does not want a part to be cut by a plane.
    fn forbids(&self, _part: &Part, _plane: &Plane) -> bool {
        false
    }
}

/// Who only looks at lumps does not weigh lines: any that is weighed is better.
impl<F: Fn(Solid) -> Part> Look for F {
    fn look(&self, lump: Solid) -> Part {
        self(lump)
    }

    fn line(&self, part: &Solid, plane: &Plane) -> Line {
        Line { cost_mm: f64::INFINITY, section_mm: section(part, plane).length_mm, ..Line::NONE }
    }

    fn line_of(&self, regions: &Regions, chosen: &[usize]) -> Line {
        let section_mm = chosen.iter().map(|&region| regions.list()[region].line_mm).sum();
        Line { section_mm, cost_mm: f64::INFINITY, ..Line::NONE }
    }
}

/// Cells of the certified fit a part is worth during the search: about 5 ms for a close call.
const CELLS: u32 = 500;

impl Part {
    /// Looks at a lump: hull and best pose on any of the beds.
    pub fn new(solid: Solid, beds: &[Bed]) -> Self {
        let hull = hull_of(&solid);
        let posed = best_pose(&solid, &hull, beds, CELLS);
        let (box_mm, volume_mm3) = (solid.box_mm(), solid.volume_mm3());
        Self { box_mm, volume_mm3, solid, hull, posed, is_printed: false }
    }

    /// A lump nothing is asked of: for counting.
    pub fn uncared(solid: Solid) -> Self {
        let (box_mm, volume_mm3) = (solid.box_mm(), solid.volume_mm3());
        Self { box_mm, volume_mm3, solid, hull: Hull::default(), posed: None, is_printed: false }
    }

    /// Whether the plane passes its box: then it misses the part, at hardly any cost.
    pub(crate) fn is_passed_by(&self, plane: &Plane) -> bool {
        // Far beyond what a cut calls touching; nearer planes are left to the cut.
        const CLEAR_MM: f64 = 0.01;
        let (low, high) = self.box_mm;
        let ends: [[f64; 2]; 3] = std::array::from_fn(|k| {
            let (a, b) = (plane.normal[k] * low[k], plane.normal[k] * high[k]);
            [a.min(b), a.max(b)]
        });
        let [least, most] = [0, 1].map(|end| ends.iter().map(|along| along[end]).sum::<f64>());
        plane.offset_mm < least - CLEAR_MM || plane.offset_mm > most + CLEAR_MM
    }

    /// The middle of its box, moved onto a plane: what the plane is turned about.
    pub(crate) fn pivot_mm(&self, plane: &Plane) -> [f64; 3] {
        let (low, high) = self.box_mm;
        let middle: [f64; 3] = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        vec3::sub(middle, vec3::scale(plane.normal, plane.distance_mm(middle)))
    }

    /// Whether it need not be cut: it fits a bed or is printed already.
    pub fn is_done(&self) -> bool {
        self.is_printed || self.posed.is_some()
    }

    /// Whether it has to be printed yet and fits only with supports holding it.
    pub fn is_held(&self) -> bool {
        !self.is_printed && self.posed.as_ref().is_some_and(|posed| posed.kind == PoseKind::Held)
    }
}

/// The middle of the largest face of a piece's skin; of any face where it has none.
pub fn place_on(piece: &Solid) -> [f64; 3] {
    let rank = |triangle: usize| {
        let [a, b, c] = piece.corners_mm(triangle);
        let area = vec3::length(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)));
        (!is_cut(piece.origins()[triangle]), area)
    };
    let all = (0..piece.n_triangles()).map(|triangle| (rank(triangle), triangle));
    let best = all.max_by(|(a, i), (b, k)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(k.cmp(i)));
    let [a, b, c] = piece.corners_mm(best.map_or(0, |(_, triangle)| triangle));
    vec3::scale(vec3::add(vec3::add(a, b), c), 1.0 / 3.0)
}

/// The convex hull of a solid.
pub fn hull_of(solid: &Solid) -> Hull {
    hull::convex_hull(&outermost(solid))
}

/// Points that can be on the hull: those not well inside the box of extremes along 13 directions.
/// The hull of 100k points costs far more than this pass.
fn outermost(solid: &Solid) -> Vec<[f64; 3]> {
    const WORTH_IT: usize = 2_000;
    let points = solid.points();
    if points.len() < WORTH_IT {
        return solid.points_mm();
    }
    let mut extremes: Vec<[f64; 3]> = Vec::new();
    for x in -1..=1_i64 {
        for y in -1..=1_i64 {
            for z in -1..=1_i64 {
                if (x, y, z) == (0, 0, 0) {
                    continue;
                }
                let along = |p: &[i32; 3]| x * i64::from(p[0]) + y * i64::from(p[1]) + z * i64::from(p[2]);
                if let Some(best) = points.iter().max_by_key(|p| along(p)) {
                    extremes.push(grid::to_mm(*best));
                }
            }
        }
    }
    let inner = hull::convex_hull(&extremes);
    let faces: Vec<Plane> = inner
        .triangles
        .iter()
        .filter_map(|t| {
            let [a, b, c] = t.map(|i| inner.points_mm[i as usize]);
            let (u, v) = (vec3::sub(b, a), vec3::sub(c, a));
            Plane::through(a, vec3::cross(u, v))
        })
        .collect();
    let kept: Vec<[f64; 3]> = points
        .iter()
        .map(|&p| grid::to_mm(p))
        // Inside by more than rounding: such a point is no corner of the hull.
        .filter(|&p| faces.is_empty() || faces.iter().any(|face| face.distance_mm(p) > -1e-6))
        .collect();
    kept
}
