//! How far mending moved the surface, and how much of it is repaired.
//!
//! How: the same number of places a unit area on both surfaces, at fractions that spread evenly (the
//! additive sequence of the plastic number; Roberts 2018, from memory); each asks the nearest point
//! of the other surface. Places within 2 mm of a flaw count as repaired instead.

use crate::solid::Solid;
use crate::spatial::Tree;
use crate::vec3;

/// A place this close to a flaw of the file, or to what mending made, is repaired.
const REPAIRED_MM: f64 = 2.0;
/// Places asked on each surface.
const PLACES: usize = 20_000;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Compared {
    pub deviation_mm: f64,
    pub repaired_fraction: f64,
}

/// A surface as a list of corners.
pub(crate) type Corners = Vec<[[f64; 3]; 3]>;

/// Compares the surface of the file with the mended one; `flaws` are the flawed and the made places.
pub(super) fn compare(file: &Corners, mended: &Corners, flaws: &Corners) -> Compared {
    let (Some(file_tree), Some(mended_tree)) = (tree(file), tree(mended)) else { return Compared::default() };
    let flaw_tree = tree(flaws);
    let is_repaired =
        |at: [f64; 3]| flaw_tree.as_ref().is_some_and(|flaws| flaws.distance_mm(at) <= REPAIRED_MM);
    let mut compared = Compared::default();
    let on_mended = spread(mended);
    let mut n_repaired = 0;
    for &(at, _) in &on_mended {
        if is_repaired(at) {
            n_repaired += 1;
        } else {
            compared.deviation_mm = compared.deviation_mm.max(file_tree.distance_mm(at));
        }
    }
    for (at, _) in spread(file).into_iter().filter(|&(at, _)| !is_repaired(at)) {
        compared.deviation_mm = compared.deviation_mm.max(mended_tree.distance_mm(at));
    }
    compared.repaired_fraction = n_repaired as f64 / on_mended.len().max(1) as f64;
    compared
}

/// The corners of a solid's triangles.
pub(crate) fn corners_of(solid: &Solid) -> Corners {
    (0..solid.n_triangles()).map(|t| solid.corners_mm(t)).collect()
}

/// The farthest that evenly spread places of a surface, of those that count, lie from another, in mm. What counts is
/// asked by place and triangle.
pub(crate) fn farthest_mm(
    surface: &Corners,
    from: &Corners,
    counts: impl Fn([f64; 3], usize) -> bool,
) -> f64 {
    let Some(tree) = tree(from) else { return 0.0 };
    let places = spread(surface).into_iter().filter(|&(at, triangle)| counts(at, triangle));
    places.map(|(at, _)| tree.distance_mm(at)).fold(0.0, f64::max)
}

fn tree(corners: &Corners) -> Option<Tree> {
    let n = corners.len() as u32;
    let triangles = (0..n).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    Tree::new(corners.iter().flatten().copied().collect(), triangles)
}

/// Places spread evenly over a surface, each with its triangle.
fn spread(corners: &Corners) -> Vec<([f64; 3], usize)> {
    let step_mm2 = corners.iter().copied().map(vec3::area).sum::<f64>() / PLACES as f64;
    let (mut places, mut gone_mm2, mut next_mm2) = (Vec::with_capacity(PLACES + 1), 0.0, 0.5 * step_mm2);
    for (number, triangle) in corners.iter().enumerate() {
        gone_mm2 += vec3::area(*triangle);
        while next_mm2 < gone_mm2 {
            let i = places.len() as f64;
            let (mut u, mut v) =
                ((i * 0.754_877_666_246_692_7).fract(), (i * 0.569_840_290_998_053_2).fract());
            if u + v > 1.0 {
                (u, v) = (1.0 - u, 1.0 - v);
            }
            let [a, b, c] = *triangle;
            let along = vec3::add(vec3::scale(vec3::sub(b, a), u), vec3::scale(vec3::sub(c, a), v));
            places.push((vec3::add(a, along), number));
            next_mm2 += step_mm2;
        }
    }
    places
}
