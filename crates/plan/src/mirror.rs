//! The mirrored other side of an item: solids, planes and poses reflected in X.
//!
//! The item's box starts at the origin, so reflecting in the middle of its width keeps it there,
//! and on the coordinate grid exactly. The bed is reflected in its own middle: a pose of the
//! original becomes a pose of the mirrored piece, again a turn without a mirror.

use crate::records::PlaneRecord;
use seamwright_mesh::item::mirrored;
use seamwright_mesh::{Placement, Solid};

/// `x -> width - x`.
pub fn flip(width_mm: f64) -> Placement {
    mirrored(&Placement::IDENTITY, width_mm)
}

/// The reflected solid.
pub fn solid(original: &Solid, width_mm: f64) -> Solid {
    original.mirrored_x(width_mm)
}

/// The reflected plane, its normal still from the same piece to the same piece.
pub fn plane(original: PlaneRecord, width_mm: f64) -> PlaneRecord {
    let [x, y, z] = original.normal;
    PlaneRecord { normal: [-x, y, z], offset_mm: original.offset_mm - x * width_mm }
}

/// The reflected direction.
pub fn direction([x, y, z]: [f64; 3]) -> [f64; 3] {
    [-x, y, z]
}

/// The pose of a mirrored piece on the reflected bed.
pub fn pose(original: &Placement, item_width_mm: f64, bed_width_mm: f64) -> Placement {
    mirrored(&flip(item_width_mm).then(original), bed_width_mm)
}
