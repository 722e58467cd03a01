//! In which direction two sides of a partial cut can be pushed together, if in any.
//!
//! How: what lies below the plane moves along a direction until it meets its cut faces. It meets
//! nothing on the way, however long, exactly if on no line along the direction some of it lies ahead
//! of what it is pushed against. Seen along the direction that is an order of depth: each triangle
//! below is held against each triangle above that it overlaps, and the deepest place of the overlap,
//! which is a corner of it, decides. Near the chosen regions the plane itself keeps both sides in
//! order for every direction that leads through it, so only triangles that run to the wrong side of
//! the plane elsewhere are looked at.
//! Exact but for what is thinner or shallower than the widths below; the audit samples rays of 30 mm.
//! Cost: for each direction linear in the triangles, and a search tree over those in question.
//! Not here: whether the way is wide enough for a print's own error.

use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Plane, Solid, vec3};

/// How far cut points may lie off their plane: 0.002 mm where edges were moved apart, and four grid
/// steps (`contract.md`, "Closed").
const OFF_PLANE_MM: f64 = 0.003;

/// Depth by which one side may lie ahead of the other: a fifth of what the audit lets rims graze.
const GRAZE_MM: f64 = 0.01;

/// Overlaps narrower than this on average are walls that touch, seen along them: two grid steps.
const THIN_MM: f64 = 0.0005;

/// Tilts of the directions tried after the plane's normal, in degrees, eight ways round each. Steeper
/// ones would slide along the cut faces and smear what is to bond them (common practice, no source).
const TILTS_DEG: [f64; 4] = [15.0, 35.0, 55.0, 75.0];
const WAYS_ROUND: usize = 8;

/// A unit vector along which `below`, as it lies, can come from afar to its place against `above`
/// without meeting it: first those of `hints` that lead through the plane, then the normal, then tilted
/// ones. `None` where none of them is free.
pub fn joining_direction(
    below: &[&Solid],
    above: &[&Solid],
    plane: &Plane,
    hints: &[[f64; 3]],
) -> Option<[f64; 3]> {
    let mut joining = Joining::new(below, above, plane);
    let directions = hints.iter().copied().filter(|&d| vec3::dot(d, plane.normal) > 0.01);
    directions.chain(directions_through(plane)).find(|&direction| joining.is_free(direction))
}

/// The normal, then tilted directions, the flattest last.
fn directions_through(plane: &Plane) -> impl Iterator<Item = [f64; 3]> {
    let (normal, (u, v)) = (plane.normal, vec3::frame_of(plane.normal));
    let tilted = move |tilt_deg: f64, way: usize| {
        let tilt_rad = tilt_deg.to_radians();
        let turn_rad = std::f64::consts::TAU * way as f64 / WAYS_ROUND as f64;
        let aside = vec3::add(vec3::scale(u, libm::cos(turn_rad)), vec3::scale(v, libm::sin(turn_rad)));
        vec3::add(vec3::scale(normal, libm::cos(tilt_rad)), vec3::scale(aside, libm::sin(tilt_rad)))
    };
    let rings = TILTS_DEG.into_iter().flat_map(move |tilt| (0..WAYS_ROUND).map(move |way| tilted(tilt, way)));
    std::iter::once(normal).chain(rings)
}

/// Both sides of a cut, ready to be asked about directions.
pub struct Joining {
    below: Side,
    above: Side,
    /// Pairs of triangles that were in the way of directions asked before.
    in_the_way: Vec<[u32; 2]>,
}

/// Triangles of one side.
struct Side {
    points_mm: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    /// Those that reach to the other side of the plane.
    beyond: Vec<u32>,
}

impl Side {
    fn new(solids: &[&Solid], beyond: impl Fn([f64; 3]) -> bool) -> Self {
        let mut side = Self { points_mm: Vec::new(), triangles: Vec::new(), beyond: Vec::new() };
        for solid in solids {
            let first = side.points_mm.len() as u32;
            side.points_mm.extend(solid.points_mm());
            side.triangles.extend(solid.triangles().iter().map(|t| t.map(|i| first + i)));
        }
        let is_beyond: Vec<bool> = side.points_mm.iter().map(|&p| beyond(p)).collect();
        side.beyond = (0..side.triangles.len() as u32)
            .filter(|&t| side.triangles[t as usize].iter().any(|&i| is_beyond[i as usize]))
            .collect();
        side
    }

    /// Points as seen along a direction: two coordinates across it, then the depth along it.
    fn seen(&self, [u, v, along]: [[f64; 3]; 3]) -> Vec<[f64; 3]> {
        let seen = |&p: &[f64; 3]| [vec3::dot(u, p), vec3::dot(v, p), vec3::dot(along, p)];
        self.points_mm.iter().map(seen).collect()
    }
}

type Box3 = ([f64; 3], [f64; 3]);

/// Some triangles of a side as seen along a direction, each with its box.
struct Seen<'a> {
    side: &'a Side,
    points: &'a [[f64; 3]],
    list: Vec<(u32, Box3)>,
}

impl<'a> Seen<'a> {
    fn new(side: &'a Side, points: &'a [[f64; 3]], list: impl Iterator<Item = u32>) -> Self {
        let mut seen = Self { side, points, list: Vec::new() };
        seen.list = list.map(|t| (t, box_of(seen.corners(t).into_iter()))).collect();
        seen
    }

    fn corners(&self, triangle: u32) -> [[f64; 3]; 3] {
        self.side.triangles[triangle as usize].map(|i| self.points[i as usize])
    }

    fn outer_box(&self) -> Box3 {
        box_of(self.list.iter().flat_map(|(_, (low, high))| [*low, *high]))
    }
}

fn box_of(points: impl Iterator<Item = [f64; 3]>) -> Box3 {
    points.fold(([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]), |(low, high), p| {
        (std::array::from_fn(|k| low[k].min(p[k])), std::array::from_fn(|k| high[k].max(p[k])))
    })
}

/// Whether something in the first box may lie deeper than something in the second, one before the
/// other.
fn may_be_ahead(first: &Box3, second: &Box3) -> bool {
    (0..2).all(|k| first.0[k] < second.1[k] && second.0[k] < first.1[k])
        && first.1[2] > second.0[2] + GRAZE_MM
}

impl Joining {
    /// Looks at both sides of a plane; its normal points to what is above.
    pub fn new(below: &[&Solid], above: &[&Solid], plane: &Plane) -> Self {
        Self {
            below: Side::new(below, |p| plane.distance_mm(p) > OFF_PLANE_MM),
            above: Side::new(above, |p| plane.distance_mm(p) < -OFF_PLANE_MM),
            in_the_way: Vec::new(),
        }
    }

    /// Whether what is below can come along a unit vector that leads through the plane, from however
    /// far, without meeting what is above.
    pub fn is_free(&mut self, direction: [f64; 3]) -> bool {
        if self.below.beyond.is_empty() && self.above.beyond.is_empty() {
            return true;
        }
        let (u, v) = vec3::frame_of(direction);
        let seen = [&self.below, &self.above].map(|side| side.seen([u, v, direction]));
        let corners =
            |side: &Side, points: &[[f64; 3]], t: u32| side.triangles[t as usize].map(|i| points[i as usize]);
        // What was in the way before often is again.
        let blocks = |&[low, high]: &[u32; 2]| {
            is_ahead(corners(&self.below, &seen[0], low), corners(&self.above, &seen[1], high))
        };
        if self.in_the_way.iter().any(blocks) {
            return false;
        }
        let all = |side: &Side| 0..side.triangles.len() as u32;
        let below = |list: &mut dyn Iterator<Item = u32>| Seen::new(&self.below, &seen[0], list);
        let above = |list: &mut dyn Iterator<Item = u32>| Seen::new(&self.above, &seen[1], list);
        let first = met(below(&mut self.below.beyond.iter().copied()), above(&mut all(&self.above)))
            .or_else(|| met(below(&mut all(&self.below)), above(&mut self.above.beyond.iter().copied())));
        self.in_the_way.extend(first);
        first.is_none()
    }
}

/// A triangle below and one above that it would have to pass through.
fn met(mut below: Seen, mut above: Seen) -> Option<[u32; 2]> {
    // What is clear of the other's box is out, which may shrink the box: twice is enough in practice.
    for _ in 0..2 {
        let (low, high) = (below.outer_box(), above.outer_box());
        below.list.retain(|(_, at)| may_be_ahead(at, &high));
        above.list.retain(|(_, at)| may_be_ahead(&low, at));
    }
    let few_below = below.list.len() <= above.list.len();
    let (few, many) = if few_below { (&below, &above) } else { (&above, &below) };
    let triangles = few.list.iter().map(|(t, _)| few.side.triangles[*t as usize]).collect();
    let tree = Tree::new(few.points.to_vec(), triangles)?;
    for index in spread(many.list.len()) {
        let (other, (low, high)) = many.list[index];
        // From the depth where it begins to be met, without end.
        let far = f64::MAX / 4.0;
        let near = if few_below {
            tree.in_box([low[0], low[1], low[2] + GRAZE_MM], [high[0], high[1], far])
        } else {
            tree.in_box([low[0], low[1], -far], [high[0], high[1], high[2] - GRAZE_MM])
        };
        for found in near {
            let pair = if few_below { [few.list[found].0, other] } else { [other, few.list[found].0] };
            if is_ahead(below.corners(pair[0]), above.corners(pair[1])) {
                return Some(pair);
            }
        }
    }
    None
}

/// All numbers below `n` once, far apart one after the other, so that what is in the way shows soon.
fn spread(n: usize) -> impl Iterator<Item = usize> {
    let stride = n / 97 + 1;
    (0..stride).flat_map(move |start| (start..n).step_by(stride))
}

/// Whether somewhere on lines along the third axis the first triangle lies ahead of the second by
/// more than a graze, over an overlap that is no mere touching.
fn is_ahead(first: [[f64; 3]; 3], second: [[f64; 3]; 3]) -> bool {
    let turn =
        |a: [f64; 3], b: [f64; 3], c: [f64; 3]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let [a, b, c] = second;
    let twice = turn(a, b, c);
    let [b, c] = if twice < 0.0 { [c, b] } else { [b, c] };
    let mut overlap: Vec<[f64; 3]> = first.to_vec();
    for (from, to) in [(a, b), (b, c), (c, a)] {
        let before = std::mem::take(&mut overlap);
        for (k, &p) in before.iter().enumerate() {
            let q = before[(k + 1) % before.len()];
            let (at_p, at_q) = (turn(from, to, p), turn(from, to, q));
            if at_p >= 0.0 {
                overlap.push(p);
            }
            if (at_p >= 0.0) != (at_q >= 0.0) {
                let along = at_p / (at_p - at_q);
                overlap.push(std::array::from_fn(|i| p[i] + along * (q[i] - p[i])));
            }
        }
    }
    let Some(&start) = overlap.first() else { return false };
    let sides = || overlap.iter().enumerate().map(|(k, &p)| (p, overlap[(k + 1) % overlap.len()]));
    let twice_mm2: f64 = sides().map(|(p, q)| turn(start, p, q)).sum::<f64>().abs();
    let rim_mm: f64 = sides().map(|(p, q)| libm::hypot(q[0] - p[0], q[1] - p[1])).sum();
    if twice_mm2 <= THIN_MM * rim_mm {
        return false;
    }
    let twice = twice.abs();
    overlap.iter().any(|&p| {
        let depth = (turn(b, c, p) * a[2] + turn(c, a, p) * b[2] + turn(a, b, p) * c[2]) / twice;
        p[2] - depth > GRAZE_MM
    })
}
