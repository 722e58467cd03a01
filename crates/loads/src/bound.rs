//! Prove how few loads there can be, so that a lay known to be best is not searched further.
//!
//! How: two bounds that hold for any arrangement and any turn. Area: footprints grown by half the
//! gap share the bed grown by half the gap without overlap. Pairs: two pieces cannot share a bed if
//! their grown areas are too much for it, or if their widths and the gap together exceed the
//! longest distance on it (two convex footprints are parted by a line); pieces that exclude each
//! other pairwise need a load each.
//! Source: both are our own short arguments. Not here: finding a lay (`search.rs`).

use seamwright_bed::Bed;

use crate::footprint::{BedRoom, Ready};
use crate::job::{LayError, LayOptions, LayPiece};

/// Part of a bed by which the proof stays on the safe side. Fitting allows 1e-6 mm, which is less
/// than 1e-7 of the area of a bed of 40 mm; ten times that.
const SLACK: f64 = 1e-6;

/// A number of loads that cannot be undercut with these footprints (the hulls of the shadows) in
/// these poses; 0 without pieces.
///
/// # Errors
/// As [`crate::lay()`].
pub fn loads_at_least(pieces: &[LayPiece], beds: &[Bed], options: LayOptions) -> Result<usize, LayError> {
    let rooms: Vec<BedRoom> = beds.iter().map(BedRoom::new).collect();
    let ready =
        pieces.iter().map(|piece| Ready::new(piece, beds, &rooms, options)).collect::<Result<Vec<_>, _>>()?;
    Ok(at_least(&ready, &rooms))
}

pub(crate) fn at_least(ready: &[Ready], rooms: &[BedRoom]) -> usize {
    // A piece takes at least this part of whichever of its beds it lies on.
    let part = |piece: &Ready| {
        let parts = piece.alone.iter().map(|&(b, _)| rooms[b].share_mm2(piece) / rooms[b].shared_mm2);
        parts.fold(1.0, f64::min)
    };
    let by_area = (ready.iter().map(part).sum::<f64>() - SLACK).ceil().max(0.0) as usize;
    let excludes = |a: &Ready, b: &Ready| {
        a.alone.iter().filter(|(bed, _)| b.alone.iter().any(|(other, _)| other == bed)).all(|&(bed, _)| {
            let room = &rooms[bed];
            room.share_mm2(a) + room.share_mm2(b) > room.shared_mm2 * (1.0 + SLACK)
                || a.width_mm + b.width_mm + room.gap_mm > room.across_mm + 1e-6
        })
    };
    let mut largest_first: Vec<&Ready> = ready.iter().collect();
    largest_first.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2).then(a.index.cmp(&b.index)));
    let mut alone_each: Vec<&Ready> = Vec::new();
    for piece in largest_first {
        if alone_each.iter().all(|other| excludes(piece, other)) {
            alone_each.push(piece);
        }
    }
    by_area.max(alone_each.len())
}
