//! A model placed as an item: its solid, mended where it must be; its mirrored other side.
//!
//! Not here: how the placement is found (`units.rs`), what is wrong in detail (`flaws.rs`), how it is
//! mended (`mend/`).

use crate::flaws::{self, Flaws};
use crate::mend::{self, Wishes};
use crate::model::{Model, Notice};
use crate::placement::{Placement, placed};
use crate::solid::{NotSolid, Solid};

/// Why a model is no item; says what is wrong and where, in the item's frame.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.said())]
pub struct NotAnItem {
    /// Why it is no solid, after mending where that was tried.
    pub reason: NotSolid,
    /// Whether it was.
    pub was_mended: bool,
    /// All that was found, with places.
    pub flaws: Box<Flaws>,
}

impl NotAnItem {
    /// The counts of flaws, where there are any: the reason alone names one kind.
    fn said(&self) -> String {
        let reason = &self.reason;
        match (self.flaws.refusal(), reason) {
            (None, _) => reason.to_string(),
            (Some(flaws), _) if self.was_mended => format!("{flaws}; after mending: {reason}"),
            (Some(flaws), NotSolid::Open { .. } | NotSolid::Twisted { .. } | NotSolid::InsideOut { .. }) => {
                flaws
            }
            (Some(flaws), _) => format!("{reason}; {flaws}"),
        }
    }
}

/// The solid of a model, all parts together, with the notices of reading, mending and joining.
///
/// A mesh that is a solid is left as it is, to the point; any other is mended as `mending` wishes.
///
/// # Errors
/// [`NotAnItem`]: the mesh is open, twisted, inside out or too large, and mending is not wished or
/// does not help.
pub fn solid_of(
    model: &Model,
    placement: &Placement,
    mending: Option<&Wishes>,
) -> Result<(Solid, Vec<Notice>), NotAnItem> {
    let (points_mm, triangles) = placed(model, placement);
    let found = Solid::from_triangles(&points_mm, &triangles).or_else(|reason| {
        let Some(wishes) = mending else { return Err(reason) };
        let mended = mend::mend(&points_mm, &triangles, wishes)?;
        Ok((mended.solid, mended.steps))
    });
    match found {
        Ok((solid, further)) => {
            let mut notices = model.notices.clone();
            notices.extend(further);
            Ok((solid, notices))
        }
        Err(reason) => Err(NotAnItem {
            reason,
            was_mended: mending.is_some(),
            flaws: Box::new(flaws::flaws(model, placement)),
        }),
    }
}

/// The placement of the mirrored other side: left and right along X exchanged, the box still
/// starting at 0. `width_mm` is the item's extent along X.
pub fn mirrored(placement: &Placement, width_mm: f64) -> Placement {
    let mirror = [[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    placement.then(&Placement::from_rows(mirror, [width_mm, 0.0, 0.0]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::read_model;
    use crate::write::{letter_f, ply_bytes};

    fn letter() -> Model {
        let (points, triangles) = letter_f();
        read_model(&ply_bytes(&points, &triangles), "f.ply").unwrap()
    }

    #[test]
    fn the_mirrored_side_has_the_same_volume_and_starts_at_the_origin() {
        let (solid, _) = solid_of(&letter(), &Placement::IDENTITY, None).unwrap();
        let other_side = mirrored(&Placement::IDENTITY, solid.size_mm()[0]);
        let (mirror, _) = solid_of(&letter(), &other_side, None).unwrap();
        assert_eq!(mirror.volume_mm3(), solid.volume_mm3());
        assert_eq!(mirror.box_mm(), solid.box_mm());
        // Eight corners lie on the spine's inner side, 8 mm from the left, then from the right.
        let at = |solid: &Solid, x_mm: f64| solid.points_mm().iter().filter(|p| p[0] == x_mm).count();
        assert_eq!((at(&solid, 8.0), at(&solid, 22.0)), (8, 4));
        assert_eq!((at(&mirror, 8.0), at(&mirror, 22.0)), (4, 8));
        assert!(other_side.determinant() < 0.0);
        let back = mirrored(&other_side, solid.size_mm()[0]);
        assert_eq!(back, Placement::IDENTITY);
    }

    #[test]
    fn an_open_model_is_refused_with_the_counts_and_the_place() {
        let mut model = letter();
        model.parts[0].triangles.remove(0);
        let error = solid_of(&model, &Placement::IDENTITY, None).unwrap_err();
        assert_eq!(error.flaws.open_edges.count, 3);
        let text = error.to_string();
        assert!(text.contains("3 open edges in 1 loop, the first near (4.00, 0.00, 8.00) mm"), "{text}");
    }
}
