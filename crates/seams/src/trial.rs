//! A copy of an item of very many triangles on which its search works in its place.
//!
//! How: points are gathered in small cells (`mesh::gather`), some 150,000 triangles stay: enough to measure the
//! lines of seams on, few enough that a cut with its fits takes tens of ms and every worker has room for
//! one. By how much the copy is narrower than the item is measured, and its beds are smaller by that. The plan
//! that wins a round is cut on the item again (`remaking.rs`). What is proved is proved of the item: points and
//! volumes for that are the item's own (`bound/footing.rs`).
//! The copy must be as sound as the item: closed, with as many lumps. Where it is not, the search works on the item.
//! Not here: the stand-in of a few thousand triangles (`proxy.rs`); a copy has one too.

use crate::bound::Footing;
use crate::proxy;
use seamwright_mesh::Solid;
use seamwright_mesh::gather::gathered;

/// Items with no more triangles are searched as they are (ours).
const FEW: usize = 400_000;

/// Cells are as large as if they left so many triangles; about half as many more stay (ours).
const N_TRIANGLES: f64 = 100_000.0;

/// Directions in which a copy is to reach as far as the item, and as many opposite (ours).
const N_KEPT: usize = 2_000;

/// A copy, and what is known of the item it is of.
#[derive(Debug, Clone)]
pub struct Trial {
    /// Where it sits in the item.
    pub solid: Solid,
    /// By how much the item is wider than it at most, over the directions looked at, mm.
    pub short_mm: f64,
    /// What proofs of the item stand on.
    pub footing: Footing,
}

impl Trial {
    /// Makes the copy of an item; `None` where the item is searched itself.
    pub(crate) fn of(item: &Solid, footing: impl Fn() -> Footing) -> Option<Self> {
        if item.n_triangles() <= FEW {
            return None;
        }
        // Each cell the surface passes through leaves two triangles.
        let cell_mm = (2.0 * item.area_mm2() / N_TRIANGLES).sqrt();
        let solid = gathered(item, cell_mm, &proxy::farthest_points(item, N_KEPT)).ok()?;
        let is_sound =
            solid.n_triangles() < item.n_triangles() && proxy::n_lumps(&solid) == proxy::n_lumps(item);
        is_sound.then(|| Self { short_mm: proxy::short_mm(item, &solid), solid, footing: footing() })
    }
}
