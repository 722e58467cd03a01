//! From loose triangles on the grid to a proved [`Solid`].
//!
//! How: join equal points, drop what has no area or cancels, check that edges pair up, move edges
//! that only touch apart, give every pinched vertex one copy per fan, sort triangles by group.
//! Cost: O(n log n), three sorts of the edge list at most in the common case.
//! Not here: the steps themselves (`loose.rs`, `apart.rs`); filling holes, turning faces (mending).

use crate::apart::APART_PASSES;
use crate::bodies;
use crate::edges;
use crate::grid::GridPoint;
use crate::loose::{Loose, PLACES};
use crate::model::Notice;
use crate::solid::{NotSolid, Solid};

/// What to do with bodies that enclose nothing or less and lie in no other body.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Slivers {
    /// The surface faces inward: refuse the mesh.
    Refuse,
    /// They are left over from a cut that runs along a face within a grid step: drop them.
    Drop,
    /// Bodies of less than so many mm3, whichever way they face, are what gathering left behind: drop them. Any
    /// other that faces inward refuses the mesh.
    Specks(f64),
}

/// Builds a solid or says why not. `origin` is per triangle.
pub(crate) fn assemble(
    points: &[GridPoint],
    triangles: &[[u32; 3]],
    origin: &[u32],
    slivers: Slivers,
) -> Result<(Solid, Vec<Notice>), NotSolid> {
    let mut notices = Vec::new();
    let mut mesh = Loose::default();
    mesh.join_points(points, triangles, origin, &mut notices);
    mesh.drop_cancelling(&mut notices);
    if mesh.triangles.is_empty() {
        return Err(NotSolid::Empty);
    }
    let mut uses = edges::edge_uses(&mesh.triangles);
    mesh.check_pairs(&uses)?;
    let mut moved = Vec::new();
    for _ in 0..APART_PASSES {
        if !mesh.mend_touching(&uses, &mut moved) {
            break;
        }
        // Either may have put points on each other.
        let loose = std::mem::take(&mut mesh);
        mesh.join_points(&loose.points, &loose.triangles, &loose.origin, &mut Vec::new());
        mesh.drop_cancelling(&mut Vec::new());
        uses = edges::edge_uses(&mesh.triangles);
    }
    if mesh.triangles.is_empty() {
        return Err(NotSolid::Empty);
    }
    if !moved.is_empty() {
        notices.push(Notice {
            code: "touching-edges",
            text: "edges where the surface only touches itself were moved apart by 0.002 mm".into(),
            count: moved.len(),
            at_mm: moved.iter().take(PLACES).copied().collect(),
        });
    }
    mesh.split_pinched(&uses);
    bodies::into_groups(mesh.points, mesh.triangles, mesh.origin, slivers).map(|solid| (solid, notices))
}
