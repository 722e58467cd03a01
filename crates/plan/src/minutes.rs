//! Finishing minutes of a plan, and the numbers assumed for them.
//!
//! A seam takes its join and its line: what shows is filled and sanded, through detail with care, in a hollow
//! less; what is hidden is scraped. A piece takes its trimming, one that must be held its supports too.
//! The figures are those of the finished line (`seams::lines`); the search weighs lines alike before they are
//! measured (`seams::field`). A reader of a plan's files finds the same minutes from its `assumed`.
//! Source: none; times are common practice as makers tell it.

use crate::records::{Assumed, Piece, PoseKind, Seam};
use seamwright_seams::outline;
use std::collections::BTreeMap;

/// The numbers behind the minutes, by name; see [`assumed`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Times {
    piece_min: f64,
    held_min: f64,
    join_min: f64,
    visible_min: f64,
    hidden_min: f64,
    detail_times: f64,
    hollow_saves: f64,
}

const PIECE: &str = "finishing_piece";
const HELD: &str = "finishing_held_piece";
const JOIN: &str = "finishing_join";
const VISIBLE: &str = "finishing_visible_line";
const HIDDEN: &str = "finishing_hidden_line";
const DETAIL: &str = "finishing_detail_times";
const HOLLOW: &str = "finishing_hollow_saves";

/// The numbers assumed, as a plan lists them.
pub fn assumed() -> BTreeMap<String, Assumed> {
    let row = |name: &str, value: f64, unit: &str| {
        let source = "common practice, no source".to_owned();
        (name.to_owned(), Assumed { value, unit: unit.into(), source })
    };
    BTreeMap::from([
        row(PIECE, outline::PIECE_MIN, "min"),
        row(HELD, outline::HELD_MIN, "min"),
        row(JOIN, outline::JOIN_MIN, "min"),
        row(VISIBLE, outline::VISIBLE_MIN_PER_MM, "min/mm"),
        row(HIDDEN, outline::HIDDEN_MIN_PER_MM, "min/mm"),
        row(DETAIL, outline::DETAIL_TIMES, "as often again"),
        row(HOLLOW, outline::HOLLOW_SAVES, "share"),
    ])
}

impl Times {
    /// Reads them from a plan's `assumed`; `None` where one is missing.
    pub fn of(assumed: &BTreeMap<String, Assumed>) -> Option<Self> {
        let value = |name: &str| assumed.get(name).map(|row| row.value);
        Some(Self {
            piece_min: value(PIECE)?,
            held_min: value(HELD)?,
            join_min: value(JOIN)?,
            visible_min: value(VISIBLE)?,
            hidden_min: value(HIDDEN)?,
            detail_times: value(DETAIL)?,
            hollow_saves: value(HOLLOW)?,
        })
    }

    /// Minutes of one seam, from its line's figures in mm.
    pub fn seam_min(&self, seam: &Seam) -> f64 {
        let Seam { line_mm, visible_mm, through_detail_mm, in_hollow_mm, .. } = seam;
        let shown_mm = visible_mm + self.detail_times * through_detail_mm - self.hollow_saves * in_hollow_mm;
        self.join_min + self.visible_min * shown_mm + self.hidden_min * (line_mm - visible_mm)
    }

    /// Minutes of the pieces themselves.
    pub fn pieces_min(&self, pieces: &[Piece]) -> f64 {
        let held = pieces.iter().filter(|piece| piece.pose_kind == PoseKind::Held).count();
        self.piece_min * pieces.len() as f64 + self.held_min * held as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_without_one_of_the_numbers_has_no_times() {
        let all = assumed();
        assert!(Times::of(&all).is_some());
        for name in all.keys() {
            let mut fewer = all.clone();
            fewer.remove(name);
            assert_eq!(Times::of(&fewer), None, "without {name}");
        }
    }
}
