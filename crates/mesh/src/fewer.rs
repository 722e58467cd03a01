//! A solid of fewer triangles, with how far it lies from the one it came from.
//!
//! How: edges that matter least collapse (`simplify.rs`); points go back on the grid. What is measured is the
//! farthest of evenly spread places on either surface from the other, so a single spike between two places may be
//! missed.

use crate::mend::compare;
use crate::model::Notice;
use crate::simplify::{Mesh, simplify};
use crate::solid::{NotSolid, Solid};

/// A solid with fewer triangles.
#[derive(Debug, Clone)]
pub struct Fewer {
    /// The solid.
    pub solid: Solid,
    /// The farthest either surface lies from the other, over 20,000 places on each, in mm.
    pub error_mm: f64,
}

/// The solid with about `n_triangles`, or as many as it takes to stay closed.
///
/// # Errors
/// [`NotSolid`] where what is left does not close: so few cannot hold the shape.
pub fn fewer(solid: &Solid, n_triangles: usize) -> Result<Fewer, NotSolid> {
    let mesh = Mesh { points: solid.points_mm(), triangles: solid.triangles().to_vec() };
    let few = simplify(mesh, n_triangles, false, &[]);
    let (made, _) = Solid::from_triangles(&few.points, &few.triangles)?;
    let (before, after) = (compare::corners_of(solid), compare::corners_of(&made));
    let error_mm = compare::farthest_mm(&before, &after, |_, _| true).max(compare::farthest_mm(
        &after,
        &before,
        |_, _| true,
    ));
    Ok(Fewer { solid: made, error_mm })
}

impl Fewer {
    /// What was done.
    pub fn notice(&self, n_before: usize) -> Notice {
        let text = format!(
            "{n_before} triangles were simplified to {}; at 20000 places on each the surfaces are at most {:.3} mm apart",
            self.solid.n_triangles(),
            self.error_mm
        );
        Notice { code: "simplified", text, count: self.solid.n_triangles(), at_mm: Vec::new() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::block_mesh;

    #[test]
    fn a_block_of_many_triangles_needs_half_of_them_without_an_error() {
        let (points, triangles) = block_mesh([0.0; 3], [40.0, 30.0, 20.0]);
        let (mut points, mut faces) = (points, triangles);
        for _ in 0..4 {
            // Each triangle in three about its middle.
            let mut more = Vec::new();
            for [a, b, c] in faces {
                let middle = points.len() as u32;
                let [p, q, r] = [a, b, c].map(|i| points[i as usize]);
                points.push(std::array::from_fn(|i| (p[i] + q[i] + r[i]) / 3.0));
                more.extend([[a, b, middle], [b, c, middle], [c, a, middle]]);
            }
            faces = more;
        }
        let (solid, _) = Solid::from_triangles(&points, &faces).unwrap();
        assert_eq!(solid.n_triangles(), 12 * 81);
        let few = fewer(&solid, 486).unwrap();
        assert!(few.solid.n_triangles() <= 486, "{}", few.solid.n_triangles());
        assert!(few.error_mm < 0.002, "{}", few.error_mm);
        assert!((few.solid.volume_mm3() / 24_000.0 - 1.0).abs() < 1e-4);
    }
}
