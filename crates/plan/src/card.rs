//! Beds as files hold them: in printer cards (`*.printer.json`), projects and plans.
//!
//! Not here: a card's speeds; they come with print times.

use crate::records::{self, BedShape as ShapeRecord};
use seamwright_bed::bed::LARGEST_MM;
use seamwright_bed::{Bed, BedShape};
use serde::Deserialize;

/// Why a card is of no use.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CardError {
    /// It is not a card.
    #[error("not a printer card: {0}")]
    Json(#[from] serde_json::Error),
    /// Its bed is none.
    #[error("its bed: {0}")]
    Bed(String),
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
/// [`CardError`] with the line where the text goes wrong, or what is wrong with the bed.
pub fn bed_of_card(text: &str) -> Result<Bed, CardError> {
    let Card { bed: card } = serde_json::from_str(text)?;
    let mut bed = Bed::new(shape_of(card.shape, card.size_mm), card.size_mm[2]);
    bed.margin_mm = card.margin_mm.unwrap_or(bed.margin_mm);
    bed.gap_mm = card.gap_mm.unwrap_or(bed.gap_mm);
    bed.count = card.count.unwrap_or(bed.count);
    bed.keep_out = card.keep_out;
    check(&bed, card.size_mm).map_err(CardError::Bed)?;
    Ok(bed)
}

/// The bed a record describes, checked; what it leaves out is as usual.
///
/// # Errors
/// Says what is wrong with it.
pub fn bed_of_record(record: &records::Bed) -> Result<Bed, String> {
    let mut bed = Bed::new(shape_of(record.shape, record.size_mm), record.size_mm[2]);
    bed.id.clone_from(&record.id);
    bed.margin_mm = record.margin_mm;
    bed.gap_mm = record.gap_mm.unwrap_or(bed.gap_mm);
    bed.count = record.count;
    bed.keep_out.clone_from(&record.keep_out);
    check(&bed, record.size_mm)?;
    Ok(bed)
}

/// A bed as `plan.json` and projects hold it.
pub fn bed_record(bed: &Bed) -> records::Bed {
    records::Bed {
        id: bed.id.clone(),
        shape: match bed.shape {
            BedShape::Rect { .. } => ShapeRecord::Rect,
            BedShape::Round { .. } => ShapeRecord::Round,
        },
        size_mm: bed.size_mm(),
        margin_mm: bed.margin_mm,
        gap_mm: Some(bed.gap_mm),
        count: bed.count,
        keep_out: bed.keep_out.clone(),
    }
}

fn shape_of(shape: ShapeRecord, [width_mm, depth_mm, _]: [f64; 3]) -> BedShape {
    match shape {
        ShapeRecord::Rect => BedShape::Rect { width_mm, depth_mm },
        ShapeRecord::Round => BedShape::Round { diameter_mm: width_mm },
    }
}

fn check(bed: &Bed, size_mm: [f64; 3]) -> Result<(), String> {
    if !records::is_id(&bed.id) {
        return Err("an id has 1 to 40 of a-z, 0-9 and -".into());
    }
    if let Some(size) = size_mm.into_iter().find(|&size| !(size > 0.0 && size <= LARGEST_MM)) {
        return Err(format!("a bed measures more than 0 and at most {LARGEST_MM} mm each way, not {size}"));
    }
    if bed.size_mm() != size_mm {
        return Err("a round bed has its diameter twice, then its height".into());
    }
    if !(1..=1000).contains(&bed.count) {
        return Err(format!("{} such printers; from 1 to 1000 there may be", bed.count));
    }
    let on_bed = |c: f64| c.abs() <= LARGEST_MM;
    if bed.keep_out.iter().any(|area| area.len() < 3 || !area.iter().flatten().all(|&c| on_bed(c))) {
        return Err(format!("an area to keep out of has three corners or more within {LARGEST_MM} mm"));
    }
    bed.check().map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_gives_its_bed_and_the_rest_is_as_usual() {
        let bed = bed_of_card(r#"{"bed":{"shape":"round","size_mm":[260,260,300],"count":2}}"#).unwrap();
        let mut due = Bed::parse("d260x300@2").unwrap();
        assert_eq!(bed, due);
        due.add_keep_out("1,2,3,4").unwrap();
        assert_eq!(bed_of_record(&bed_record(&due)).unwrap(), due);
    }

    #[test]
    fn beds_that_cannot_be_are_refused() {
        for (fields, due) in [
            (r#""shape":"round","size_mm":[260,250,300]"#, "diameter twice"),
            (r#""shape":"rect","size_mm":[260,0,300]"#, "more than 0"),
            (r#""shape":"rect","size_mm":[260,250,9000]"#, "at most 4096"),
            (r#""shape":"rect","size_mm":[260,250,300],"margin_mm":125"#, "leaves nothing"),
            (r#""shape":"rect","size_mm":[260,250,300],"count":0"#, "0 such printers"),
            (r#""shape":"rect","size_mm":[9,9,9],"margin_mm":0,"keep_out":[[[0,0],[1,9000],[1,1]]]"#, "4096"),
            (r#""shape":"rect","size_mm":[9,9,9],"margin_mm":0,"keep_out":[[[0,0],[1,1]]]"#, "three corners"),
            (r#""shape":"oval","size_mm":[260,250,300]"#, "unknown variant"),
        ] {
            let said = bed_of_card(&format!("{{\"bed\":{{{fields}}}}}")).unwrap_err().to_string();
            assert!(said.contains(due), "{said}");
        }
    }
}
