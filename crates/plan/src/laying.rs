//! Pieces onto beds: lays, poses, print jobs and lay drawings.

use seamwright_bed::{Bed, BedShape};
use seamwright_loads::{LayError, LayOptions, LayPiece, Load, lay};
use seamwright_mesh::{Placement, Solid, vec3};

/// A piece that has a pose and seeks a place.
pub struct Resting {
    /// Corners of its hull where it sits in its item.
    pub hull_mm: Vec<[f64; 3]>,
    /// A pose alone on its bed.
    pub pose: Placement,
    /// The bed it was judged on.
    pub bed_index: usize,
}

/// A piece's place.
pub struct LaidPose {
    /// Its load.
    pub load: usize,
    /// Final pose on the bed.
    pub pose: Placement,
    /// Room left in that rotation on that bed.
    pub margin_mm: f64,
}

/// Lays all pieces; one pose each, in their order.
///
/// # Errors
/// [`LayError`] where a piece cannot go on any bed.
pub fn lay_all(pieces: &[Resting], beds: &[Bed]) -> Result<(Vec<Load>, Vec<LaidPose>), LayError> {
    let posed: Vec<Vec<[f64; 3]>> =
        pieces.iter().map(|piece| piece.hull_mm.iter().map(|&p| piece.pose.apply(p)).collect()).collect();
    let asked: Vec<LayPiece> = pieces
        .iter()
        .enumerate()
        .map(|(index, piece)| {
            let mut allowed = vec![piece.bed_index];
            allowed.extend((0..beds.len()).filter(|&b| {
                b != piece.bed_index
                    && seamwright_bed::fits(
                        seamwright_bed::fit_upright(&posed[index], [0.0, 0.0, 1.0], &beds[b]).margin_mm,
                    )
            }));
            LayPiece { index, points_mm: posed[index].clone(), beds: allowed, fixed_turn_rad: None }
        })
        .collect();
    let loads = lay(&asked, beds, LayOptions::USUAL)?;
    let mut places: Vec<Option<LaidPose>> = pieces.iter().map(|_| None).collect();
    for (number, load) in loads.iter().enumerate() {
        for laid in &load.pieces {
            let (c, s) = (libm::cos(laid.turn_rad), libm::sin(laid.turn_rad));
            let turn = Placement::from_rows(
                [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]],
                [laid.move_mm[0], laid.move_mm[1], 0.0],
            );
            let pose = pieces[laid.index].pose.then(&turn);
            let points: Vec<[f64; 3]> = pieces[laid.index].hull_mm.iter().map(|&p| pose.apply(p)).collect();
            places[laid.index] =
                Some(LaidPose { load: number, pose, margin_mm: margin_mm(&points, &beds[load.bed_index]) });
        }
    }
    // `lay` places every piece or fails.
    Ok((loads, places.into_iter().flatten().collect()))
}

/// Room left on a bed by points in their final rotation, wherever they stand.
fn margin_mm(points_mm: &[[f64; 3]], bed: &Bed) -> f64 {
    let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
    for p in points_mm {
        for axis in 0..3 {
            low[axis] = low[axis].min(p[axis]);
            high[axis] = high[axis].max(p[axis]);
        }
    }
    let extent = vec3::sub(high, low);
    let usable = bed.usable();
    let flat = match usable.shape {
        BedShape::Rect { width_mm, depth_mm } => (width_mm - extent[0]).min(depth_mm - extent[1]),
        BedShape::Round { diameter_mm } => {
            let shadow: Vec<[f64; 2]> = points_mm.iter().map(|p| [p[0], p[1]]).collect();
            diameter_mm - 2.0 * seamwright_bed::convex2d::smallest_circle(&shadow).1
        }
    };
    flat.min(usable.height_mm - extent[2])
}

/// The footprint of a piece in its resting pose, before it is laid.
pub fn outline(piece: &Resting) -> Vec<[f64; 2]> {
    let shadow: Vec<[f64; 2]> = piece
        .hull_mm
        .iter()
        .map(|&p| {
            let q = piece.pose.apply(p);
            [q[0], q[1]]
        })
        .collect();
    seamwright_bed::convex2d::hull(&shadow)
}

/// Where the item's front (its -Y) faces in the resting pose, if it lies flat enough to say.
pub fn front(piece: &Resting) -> Option<[f64; 2]> {
    let rows = piece.pose.rows();
    let (x, y) = (-rows[0][1], -rows[1][1]);
    // Steeper than 60 degrees from the bed it says nothing.
    (x * x + y * y > 0.25).then_some([x, y])
}

/// A piece in its pose as binary STL.
pub fn posed_stl(solid: &Solid, pose: &Placement) -> Vec<u8> {
    let corners = (0..solid.n_triangles()).map(|t| solid.corners_mm(t).map(|p| pose.apply(p)));
    seamwright_mesh::write::stl::stl_of(corners)
}
