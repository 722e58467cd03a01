//! A stand-in of few triangles on which a search tries its cuts.
//!
//! How: points of a fine mesh are gathered in small cells, then edges that matter least collapse
//! (`mesh::gather`, `mesh::simplify`). What a search needs - which lumps a plane leaves, how large
//! they are, how they may stand - changes little, and by how much it is narrower is measured. How long
//! a section is does come from it during the search, and from the item in the plan that is kept.
//! The stand-in must be as sound as the item: closed, with as many lumps. Where it is not, or where
//! the item has few triangles, the item stands for itself.
//! Not here: the search (`task.rs`), the same cuts on the item (`realise.rs`).

mod flats;

use crate::{estimate, frames, part};
use seamwright_mesh::gather::gathered;
use seamwright_mesh::simplify::{Mesh, simplify};
use seamwright_mesh::{Solid, lumps, vec3};

/// Triangles of a stand-in: a cut with its lumps and fits then takes about a millisecond (ours).
const N_TRIANGLES: usize = 4_000;

/// Items with no more triangles stand for themselves (ours).
const FEW: usize = 6_000;

/// Finer meshes are gathered first: collapsing edges costs far more a triangle (ours).
const FINE: usize = 120_000;

/// Directions along which widths are compared (ours).
const N_WIDTHS: usize = 200;

/// Directions in which the stand-in is to reach as far as the item, and as many opposite (ours).
const N_KEPT: usize = 300;

/// A stand-in.
#[derive(Debug, Clone)]
pub struct Proxy {
    /// Where it sits in the item.
    pub solid: Solid,
    /// By how much the item is wider than it at most, over the directions looked at, mm.
    pub short_mm: f64,
}

impl Proxy {
    /// Makes the stand-in of an item; `None` where the item must stand for itself.
    pub fn of(item: &Solid) -> Option<Self> {
        if item.n_triangles() <= FEW {
            return None;
        }
        let kept = farthest_points(item, N_KEPT);
        let coarser = if item.n_triangles() > FINE {
            // Each cell the surface passes through leaves about two triangles.
            Some(gathered(item, (2.0 * item.area_mm2() / FINE as f64).sqrt(), &kept).ok()?)
        } else {
            None
        };
        let from = coarser.as_ref().unwrap_or(item);
        let mesh = Mesh { points: from.points_mm(), triangles: from.triangles().to_vec() };
        let few = simplify(mesh, N_TRIANGLES, false, &kept);
        let (solid, _) = Solid::from_triangles(&few.points, &few.triangles).ok()?;
        (n_lumps(&solid) == n_lumps(item)).then(|| Self {
            short_mm: short_mm(item, &solid),
            solid: solid.with_bent_skin(&flats::bent(item, &solid)),
        })
    }
}

/// Where the item reaches farthest, direction by direction: tips of horns and fingers are the first
/// to be collapsed and the last to fit a bed.
pub(crate) fn farthest_points(item: &Solid, n: usize) -> Vec<[f64; 3]> {
    let hull = part::hull_of(item);
    let directions = frames::half_sphere(n);
    let both = directions.into_iter().flat_map(|d| [d, vec3::scale(d, -1.0)]);
    let farthest = both.filter_map(|d| {
        let along = |p: &[f64; 3]| vec3::dot(d, *p);
        hull.points_mm.iter().copied().max_by(|a, b| along(a).total_cmp(&along(b)))
    });
    farthest.collect()
}

pub(crate) fn n_lumps(solid: &Solid) -> usize {
    lumps::lumps(solid.clone()).len()
}

/// By how much the item is wider than its stand-in at most, over an even spread of directions, mm.
pub(crate) fn short_mm(item: &Solid, solid: &Solid) -> f64 {
    let directions = frames::half_sphere(N_WIDTHS);
    let widths = |solid: &Solid| -> Vec<f64> {
        let hull = part::hull_of(solid);
        let width = |&along: &[f64; 3]| estimate::width_mm(&hull.points_mm, along);
        directions.iter().map(width).collect()
    };
    widths(item).into_iter().zip(widths(solid)).map(|(item, proxy)| item - proxy).fold(0.0, f64::max)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use seamwright_mesh::spatial::Tree;

    /// A hollow ball, 4 mm thick, of about `8 n n` triangles.
    pub(crate) fn hollow_ball(n: usize) -> Solid {
        let (mut points, mut triangles) = (Vec::new(), Vec::new());
        for (radius_mm, inward) in [(110.0, false), (106.0, true)] {
            let first = points.len() as u32;
            let at = |i: usize, k: usize| {
                let (a, b) = (
                    std::f64::consts::PI * i as f64 / n as f64,
                    std::f64::consts::TAU * k as f64 / (2 * n) as f64,
                );
                let flat = radius_mm * libm::sin(a);
                [flat * libm::cos(b), flat * libm::sin(b), radius_mm * libm::cos(a)]
            };
            let index = |i: usize, k: usize| match i {
                0 => first,
                i if i == n => first + 1,
                i => first + (2 + (i - 1) * 2 * n + k % (2 * n)) as u32,
            };
            points.extend([at(0, 0), at(n, 0)]);
            points.extend((1..n).flat_map(|i| (0..2 * n).map(move |k| (i, k))).map(|(i, k)| at(i, k)));
            for (i, k) in (0..n).flat_map(|i| (0..2 * n).map(move |k| (i, k))) {
                let [a, b, c, d] = [index(i, k), index(i + 1, k), index(i + 1, k + 1), index(i, k + 1)];
                let quad = if inward { [[a, c, b], [a, d, c]] } else { [[a, b, c], [a, c, d]] };
                triangles.extend(quad.into_iter().filter(|&[a, b, c]| a != b && b != c && c != a));
            }
        }
        Solid::from_triangles(&points, &triangles).expect("two closed skins").0
    }

    #[test]
    fn a_thin_wall_stays_a_wall_however_fine_the_mesh() {
        // 80k triangles are only collapsed, 320k are gathered first.
        for n in [100, 200] {
            let ball = hollow_ball(n);
            let proxy = Proxy::of(&ball).expect("a stand-in");
            assert!(proxy.solid.n_triangles() <= N_TRIANGLES);
            assert!(proxy.short_mm < 1.0, "{} mm", proxy.short_mm);
            assert_eq!(n_lumps(&proxy.solid), 1);
            let share = proxy.solid.volume_mm3() / ball.volume_mm3();
            assert!((0.9..1.1).contains(&share), "{share} of the volume");
            let tree = Tree::new(ball.points_mm(), ball.triangles().to_vec()).expect("triangles");
            let farthest =
                proxy.solid.points_mm().into_iter().map(|p| tree.distance_mm(p)).fold(0.0, f64::max);
            assert!(farthest < 2.0, "{farthest} mm off");
        }
    }

    #[test]
    fn few_triangles_stand_for_themselves() {
        assert!(Proxy::of(&hollow_ball(20)).is_none());
    }
}
