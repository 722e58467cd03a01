//! Plans to choose beside the best of an item: told, cut again in steps, drawn for a picture.

use super::{Keeper, Replay};
use crate::remote::drawing::{self, Drawing};
use crate::remote::messages::OtherNote;
use seamwright_seams::cuts::Cut;
use seamwright_seams::outline::Outline;
use seamwright_seams::remaking::Remaking;

/// Items of more triangles are offered no other plans: cutting them once more beside the finished plan would
/// take the page's memory past what it needed for that.
const MOST_TRIANGLES: usize = 500_000;

impl Keeper {
    /// Plans to choose beside the best of an item.
    pub fn others(&self, item: usize) -> Vec<OtherNote> {
        if self.session.items().get(item).is_none_or(|item| item.solid.n_triangles() > MOST_TRIANGLES) {
            return Vec::new();
        }
        let note = |(outline, _): &&(Outline, Vec<Cut>)| OtherNote {
            pieces: outline.n_pieces,
            held: outline.n_held,
            cost_min: outline.minutes(),
            detail_mm: outline.detail_mm,
        };
        self.session
            .searches()
            .get(item)
            .map_or(Vec::new(), |search| search.others().iter().map(note).collect())
    }

    /// Begins to cut one of [`Self::others`]; whether there is such a plan.
    pub fn begin_other(&mut self, item: usize, index: usize) -> bool {
        self.other = self.session.searches().get(item).and_then(|search| {
            let cuts = search.others().get(index)?.1.clone();
            Some(Replay { item, remaking: Remaking::of_cuts(search.ground(), cuts) })
        });
        self.other.is_some()
    }

    /// Makes one cut of it; whether there are more to make.
    pub fn step_other(&mut self) -> bool {
        self.other.as_mut().is_some_and(|other| other.remaking.step())
    }

    /// It as it is drawn, small enough for a picture; then it is gone.
    pub fn other_drawing(&mut self) -> Option<Drawing> {
        let Replay { item, remaking } = self.other.take()?;
        drawing::of_other(&self.session, item, &remaking.end()?.plan)
    }
}
