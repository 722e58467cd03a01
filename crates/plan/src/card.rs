//! The bed of a printer card (`*.printer.json`); the card's speeds come with print times.

use crate::records::{self, BedShape as ShapeRecord};
use seamwright_bed::{Bed, BedShape};
use serde::Deserialize;

/// Why a card is of no use.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CardError {
    /// It is not a card.
    #[error("not a printer card: {0}")]
    Json(#[from] serde_json::Error),
}

#[derive(Deserialize)]
struct Card {
    bed: CardBed,
}

#[derive(Deserialize)]
struct CardBed {
    shape: ShapeRecord,
    size_mm: [f64; 3],
    margin_mm: Option<f64>,
    gap_mm: Option<f64>,
    count: Option<u32>,
    #[serde(default)]
    keep_out: Vec<Vec<[f64; 2]>>,
}

/// The bed a card describes; what it leaves out is as usual.
///
/// # Errors
/// [`CardError`] with the line where the text goes wrong.
pub fn bed_of_card(text: &str) -> Result<Bed, CardError> {
    let card: Card = serde_json::from_str(text)?;
    let [width_mm, depth_mm, height_mm] = card.bed.size_mm;
    let shape = match card.bed.shape {
        records::BedShape::Rect => BedShape::Rect { width_mm, depth_mm },
        records::BedShape::Round => BedShape::Round { diameter_mm: width_mm },
    };
    let mut bed = Bed::new(shape, height_mm);
    bed.margin_mm = card.bed.margin_mm.unwrap_or(bed.margin_mm);
    bed.gap_mm = card.bed.gap_mm.unwrap_or(bed.gap_mm);
    bed.count = card.bed.count.unwrap_or(bed.count);
    bed.keep_out = card.bed.keep_out;
    Ok(bed)
}
