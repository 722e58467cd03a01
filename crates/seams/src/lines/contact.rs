//! Where pieces meet on a plane, found from their meshes alone.
//!
//! How: the faces of a piece that lie on the plane are joined over shared edges; each joined set
//! faces up or down by the sum of its areas, so needles cannot vote. What is left of its edges
//! after opposite ones cancel is the outline. Each outline that faces up is intersected with each
//! that faces down (`i_overlay`, whole numbers, 1/65536 mm); every connected shape is one contact.
//! Outlines of two mates agree within a grid step or two only (points of a later cut are snapped),
//! so overlaps thinner than that are thrown away.
//! Units: mm; 2D points are `(u, v)` in [`Frame`]. Not here: what the boundary shows (`lines.rs`).

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay, ShapeType};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use seamwright_mesh::grid::STEPS_PER_MM;
use seamwright_mesh::{Plane, Solid, vec3};

use crate::patches::Sets;

/// How far a corner of a cut face may lie off its plane: snapping moves a cut point by at most
/// 0.87 steps, and each later cut through an edge of the face by as much again; four steps leave
/// room for four cuts that all err the same way. Edges that touch are moved apart by 0.002 mm, and
/// faces beside them are as much cut faces as others.
pub const ON_PLANE_MM: f64 = 0.002 + 4.0 / STEPS_PER_MM;

/// Overlaps smaller than this are no seam: a spot of 0.07 mm, a sixth of the bead a printer lays. Not
/// larger, because the plain grid may chip a crumb off a corner, and then this is all that holds it.
/// The same as the audit's (crate `plan`, `audit/patches.rs`), so both list the same seams.
pub const SLIVER_MM2: f64 = 0.005;

/// Overlaps narrower than this on average are mates of the neighbour sticking out by a few grid
/// steps; the same as the audit's.
pub const SLIVER_WIDTH_MM: f64 = 0.01;

/// Whole numbers a mm in the plane: 16 to a grid step. The farthest point of the 4096 mm cube is
/// 7095 mm from the origin, 4.7e8 units; the overlay takes up to 2^30.
const UNITS_PER_MM: f64 = 65536.0;

/// A plane with two axes in it; `u`, `v`, normal are right-handed.
#[derive(Debug, Clone, Copy)]
pub struct Frame {
    u: [f64; 3],
    v: [f64; 3],
    foot_mm: [f64; 3],
}

impl Frame {
    /// The frame of a plane: a function of the plane alone.
    pub fn new(plane: &Plane) -> Self {
        let (u, v) = vec3::frame_of(plane.normal);
        Self { u, v, foot_mm: vec3::scale(plane.normal, plane.offset_mm) }
    }

    /// From the plane to space.
    pub fn lift(&self, [x, y]: [f64; 2]) -> [f64; 3] {
        vec3::add(self.foot_mm, vec3::add(vec3::scale(self.u, x), vec3::scale(self.v, y)))
    }

    /// From a point of the plane to its 2D coordinates.
    pub fn flatten(&self, p: [f64; 3]) -> [f64; 2] {
        [vec3::dot(self.u, p), vec3::dot(self.v, p)]
    }

    fn units(&self, p: [f64; 3]) -> IntPoint<i32> {
        let [x, y] = self.flatten(p).map(|mm| (mm * UNITS_PER_MM).round() as i32);
        IntPoint::new(x, y)
    }
}

/// One connected patch where two pieces meet.
#[derive(Debug, Clone)]
pub struct Contact {
    /// The plane's normal points from the first to the second.
    pub pieces: (usize, usize),
    /// Area of the patch.
    pub area_mm2: f64,
    /// Boundary in the frame: the outer loop counter-clockwise seen from the tip of the normal,
    /// then holes clockwise.
    pub loops: Vec<Vec<[f64; 2]>>,
}

type Outline = Vec<Vec<IntPoint<i32>>>;

struct Facing {
    piece_index: usize,
    outline: Outline,
    low: [i32; 2],
    high: [i32; 2],
}

/// All contacts on one plane, by piece indices, then in the overlay's order.
pub fn contacts_on(plane: &Plane, frame: &Frame, pieces: &[&Solid]) -> Vec<Contact> {
    let (mut up, mut down) = (Vec::new(), Vec::new());
    for (piece_index, piece) in pieces.iter().enumerate() {
        let [above, below] = outlines(piece, plane, frame);
        up.extend(Facing::new(piece_index, above));
        down.extend(Facing::new(piece_index, below));
    }
    let mut contacts = Vec::new();
    for first in &up {
        for second in down.iter().filter(|second| second.piece_index != first.piece_index) {
            if first.meets(second) {
                contacts.extend(overlap(first, second));
            }
        }
    }
    contacts
}

impl Facing {
    fn new(piece_index: usize, outline: Outline) -> Option<Self> {
        let (mut low, mut high) = ([i32::MAX; 2], [i32::MIN; 2]);
        for point in outline.iter().flatten() {
            low = [low[0].min(point.x), low[1].min(point.y)];
            high = [high[0].max(point.x), high[1].max(point.y)];
        }
        (!outline.is_empty()).then_some(Self { piece_index, outline, low, high })
    }

    fn meets(&self, other: &Self) -> bool {
        (0..2).all(|axis| self.low[axis] < other.high[axis] && other.low[axis] < self.high[axis])
    }
}

/// Outlines of the faces on the plane: those that face along the normal, and those against it.
fn outlines(piece: &Solid, plane: &Plane, frame: &Frame) -> [Outline; 2] {
    let points_mm = piece.points_mm();
    let near: Vec<bool> = points_mm.iter().map(|&p| plane.distance_mm(p).abs() <= ON_PLANE_MM).collect();
    let on_plane: Vec<[u32; 3]> =
        piece.triangles().iter().copied().filter(|t| t.iter().all(|&i| near[i as usize])).collect();
    if on_plane.is_empty() {
        return [Vec::new(), Vec::new()];
    }
    let mut edges: Vec<(u32, u32, u32)> = Vec::with_capacity(on_plane.len() * 3);
    for (index, &[a, b, c]) in on_plane.iter().enumerate() {
        edges.extend([(a, b), (b, c), (c, a)].map(|(p, q)| (p.min(q), p.max(q), index as u32)));
    }
    edges.sort_unstable();
    let mut sets = Sets::new(on_plane.len());
    for pair in edges.windows(2).filter(|w| (w[0].0, w[0].1) == (w[1].0, w[1].1)) {
        sets.join(pair[0].2, pair[1].2);
    }
    let mut area_of_set = vec![0.0; on_plane.len()];
    for (index, triangle) in on_plane.iter().enumerate() {
        let [a, b, c] = triangle.map(|i| points_mm[i as usize]);
        let doubled = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        area_of_set[sets.root(index as u32) as usize] += vec3::dot(doubled, plane.normal);
    }
    let mut facing: [Vec<[u32; 3]>; 2] = [Vec::new(), Vec::new()];
    for (index, &triangle) in on_plane.iter().enumerate() {
        let up = area_of_set[sets.root(index as u32) as usize] >= 0.0;
        facing[usize::from(!up)].push(triangle);
    }
    facing.map(|triangles| {
        let in_plane = |i: u32| frame.units(points_mm[i as usize]);
        boundary_loops(&triangles).into_iter().map(|l| l.into_iter().map(in_plane).collect()).collect()
    })
}

/// The closed walks left of the triangles' directed edges once opposite ones cancel.
fn boundary_loops(triangles: &[[u32; 3]]) -> Vec<Vec<u32>> {
    let mut edges: Vec<(u32, u32)> =
        triangles.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]).collect();
    edges.sort_unstable();
    // A solid uses each directed edge once, so cancelling is a look-up of the opposite.
    let open: Vec<(u32, u32)> =
        edges.iter().copied().filter(|&(a, b)| edges.binary_search(&(b, a)).is_err()).collect();
    let mut used = vec![false; open.len()];
    let mut loops = Vec::new();
    for first in 0..open.len() {
        if used[first] {
            continue;
        }
        used[first] = true;
        let mut walk = vec![open[first].0];
        let mut at = open[first].1;
        // As many edges leave a point as come in, so the walk can only end where it began.
        while at != walk[0] {
            walk.push(at);
            let from = open.partition_point(|&(a, _)| a < at);
            let Some(next) = (from..open.len()).take_while(|&i| open[i].0 == at).find(|&i| !used[i]) else {
                break;
            };
            used[next] = true;
            at = open[next].1;
        }
        loops.push(walk);
    }
    loops
}

fn overlap(first: &Facing, second: &Facing) -> Vec<Contact> {
    // Every vertex is kept: where the outline leaves one face of the item for the next, it may
    // pass from the hidden side to the visible one without a bend.
    let options = IntOverlayOptions {
        preserve_input_collinear: true,
        preserve_output_collinear: true,
        ..IntOverlayOptions::default()
    };
    let n_points = first.outline.iter().chain(&second.outline).map(Vec::len).sum();
    let mut overlay = Overlay::<i32>::new_custom(n_points, options, Default::default());
    for (outline, kind) in [(&first.outline, ShapeType::Subject), (&second.outline, ShapeType::Clip)] {
        for contour in outline {
            overlay.add_contour(contour, kind);
        }
    }
    let mut contacts = Vec::new();
    for shape in overlay.overlay(OverlayRule::Intersect, FillRule::NonZero) {
        let loops: Vec<Vec<[f64; 2]>> =
            shape.iter().map(|contour| contour.iter().map(|p| [p.x, p.y].map(to_mm)).collect()).collect();
        let area_mm2: f64 = loops.iter().map(|l| signed_area_mm2(l)).sum();
        let boundary_mm: f64 = loops.iter().map(|l| perimeter_mm(l)).sum();
        if area_mm2 > SLIVER_MM2 && area_mm2 > 0.5 * boundary_mm * SLIVER_WIDTH_MM {
            contacts.push(Contact { pieces: (first.piece_index, second.piece_index), area_mm2, loops });
        }
    }
    contacts
}

fn to_mm(units: i32) -> f64 {
    f64::from(units) / UNITS_PER_MM
}

fn signed_area_mm2(contour: &[[f64; 2]]) -> f64 {
    // Relative to one corner, so that far from the origin nothing is lost.
    let origin = contour[0];
    let mut doubled = 0.0;
    for (index, p) in contour.iter().enumerate() {
        let q = contour[(index + 1) % contour.len()];
        doubled += (p[0] - origin[0]) * (q[1] - origin[1]) - (q[0] - origin[0]) * (p[1] - origin[1]);
    }
    0.5 * doubled
}

fn perimeter_mm(contour: &[[f64; 2]]) -> f64 {
    let mut sum_mm = 0.0;
    for (index, p) in contour.iter().enumerate() {
        let q = contour[(index + 1) % contour.len()];
        sum_mm += libm::hypot(q[0] - p[0], q[1] - p[1]);
    }
    sum_mm
}
