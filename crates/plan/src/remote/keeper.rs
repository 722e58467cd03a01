//! Holds the session for a driver in another memory: models in, drawings and the plan folder out.
//!
//! How: every call is one short step, so that the worker it runs in answers messages between them.
//! Models read for an earlier plan are kept and used again where file and settings are the same.
//! Not here: which worker does what (`www/src/planner`).

mod others;

use super::drawing::{self, Drawing};
use super::messages::{
    Asked, FinishedNote, LaidPiece, Lay, LeastNote, ReadItem, ResultNote, RoundNote, TaskNote, UnitsFound,
    Winner, asked_options,
};
use super::searcher::item_bytes;
use super::shapes::{MOST_TRIANGLES, Shape, shape_of};
use crate::PlanError;
use crate::item::{SizedItem, Taken, read_item};
use crate::job::{ItemSettings, ModelInput, News, Watch};
use crate::make::Made;
use crate::pool::Pool;
use crate::project::{self, PROJECT_FILE, SettingsRecord};
use crate::records::NoticeRecord;
use crate::records::marks::{BegunRecord, MarksRecord};
use crate::session::Session;
use seamwright_mesh::write::archive::Packer;
use seamwright_seams::cuts;
use seamwright_seams::remaking::Remaking;
use seamwright_seams::search::{Beginning, Search};
use seamwright_seams::task::{Heard, Task};

/// A model read before, for the next plan.
struct Shelved {
    key: String,
    model: ModelInput,
    item: SizedItem,
}

/// The one holder of a plan that workers make together.
pub struct Keeper {
    session: Session,
    keys: Vec<String>,
    shelf: Vec<Shelved>,
    beginning: Option<Beginning>,
    searches: Vec<Search>,
    replaying: Option<Replay>,
    made: Option<Made>,
    /// A plan to choose beside the best, being cut to be drawn.
    other: Option<Replay>,
}

/// A winner being cut again.
struct Replay {
    item: usize,
    remaking: Remaking,
}

impl Keeper {
    /// Begins a plan.
    ///
    /// # Errors
    /// Where the beds are of no use.
    pub fn new(asked: &Asked) -> Result<Self, PlanError> {
        Ok(Self {
            session: Session::new(asked_options(asked)?)?,
            keys: Vec::new(),
            shelf: Vec::new(),
            beginning: None,
            searches: Vec::new(),
            replaying: None,
            made: None,
            other: None,
        })
    }

    /// Drops the plan and begins another; what was read is kept for it.
    ///
    /// # Errors
    /// Where the beds are of no use; the plan is gone all the same.
    pub fn begin_anew(&mut self, asked: &Asked) -> Result<(), PlanError> {
        let fresh = Self::new(asked)?;
        let old = std::mem::replace(self, fresh);
        let read = old.keys.into_iter().zip(old.session.into_items());
        self.shelf = read.map(|(key, (model, item))| Shelved { key, model, item }).collect();
        Ok(())
    }

    /// Reads a model, or takes it from the last plan where file and settings are the same.
    ///
    /// # Errors
    /// [`PlanError::Model`].
    pub fn add(
        &mut self,
        key: &str,
        name: &str,
        settings: &SettingsRecord,
        bytes: Vec<u8>,
    ) -> Result<ReadItem, PlanError> {
        let settings = project::settings_of_record(settings)
            .map_err(|why| PlanError::Model { name: name.into(), why })?;
        let model = ModelInput { name: name.into(), bytes, settings };
        let sizes_alike = |a: &ItemSettings, b: &ItemSettings| {
            // What the solid does not depend on may differ.
            let bare = |s: &ItemSettings| {
                let (marks, begun) = (MarksRecord::default(), BegunRecord::default());
                ItemSettings { role: None, pair: false, copies: None, marks, begun, ..s.clone() }
            };
            bare(a) == bare(b)
        };
        let known = self.shelf.iter().position(|kept| {
            kept.key == key
                && kept.model.name == name
                && sizes_alike(&kept.model.settings, &model.settings)
                && kept.model.bytes == model.bytes
        });
        let item = match known {
            Some(at) => {
                let kept = self.shelf.swap_remove(at);
                let id = crate::item::id_of(&kept.item.name);
                let item = SizedItem { id, role: model.settings.role.clone(), ..kept.item };
                item.marked(&model).map_err(|why| PlanError::Model { name: name.into(), why })?
            }
            None => read_item(&model)?,
        };
        self.keys.push(key.into());
        let item = self.session.add(model, item);
        Ok(ReadItem {
            item: item.id.clone(),
            name: item.name.clone(),
            triangles: item.solid.n_triangles(),
            size_mm: item.solid.size_mm(),
            notices: item.notices.iter().map(NoticeRecord::of).collect(),
            units: units_found(&item.taken),
        })
    }

    /// Forgets what was read for earlier plans and is not used in this one.
    pub fn clear_shelf(&mut self) {
        self.shelf.clear();
    }

    /// An item's stand-in.
    pub fn shape(&self, item: usize) -> Shape {
        shape_of(&self.session.items()[item].solid, MOST_TRIANGLES)
    }

    /// An item for searchers, once its plain grid is cut.
    pub fn item_bytes(&self, item: usize) -> Vec<u8> {
        item_bytes(&self.session.items()[item], self.searches_so_far()[item].ground())
    }

    /// Begins the plain grid of the next item; `false` when all items have theirs. Then the rounds
    /// may begin.
    ///
    /// # Errors
    /// [`PlanError::TooSmallBeds`].
    pub fn begin_grid(&mut self, seconds: f64) -> Result<bool, PlanError> {
        let next = self.searches.len();
        if next < self.session.items().len() {
            self.beginning = Some(self.session.beginning(next)?);
            return Ok(true);
        }
        let searches = std::mem::take(&mut self.searches);
        self.session.begin(searches, seconds);
        Ok(false)
    }

    /// One cut of the grid begun last: cuts made, cuts in all, or `None` when it is done.
    pub fn step_grid(&mut self) -> Option<(usize, usize)> {
        let beginning = self.beginning.as_mut()?;
        if let Some(search) = beginning.step() {
            self.searches.push(search);
            self.beginning = None;
            return None;
        }
        Some(beginning.progress())
    }

    /// The tasks of the next round; none where no further round is due.
    pub fn tasks(&self) -> Vec<TaskNote> {
        if self.session.is_over() {
            return Vec::new();
        }
        let mut notes = Vec::new();
        for (item, search) in self.session.searches().iter().enumerate() {
            let limit = search.limit().min(u32::MAX as usize) as u32;
            let note = |(task, what): (usize, Task)| {
                let best = match what {
                    Task::Better { cuts, .. } => cuts::to_numbers(&cuts),
                    _ => Vec::new(),
                };
                TaskNote { item, round: search.round(), task, limit, best }
            };
            notes.extend(search.tasks().into_iter().enumerate().map(note));
        }
        notes
    }

    /// Ends the round, whose results come with the cuts of their plans; its winners must be replayed with [`Self::replay`], then
    /// [`Self::end_round`] called.
    pub fn merge(&mut self, results: Vec<(Option<ResultNote>, Vec<f64>)>) -> Vec<Winner> {
        let heard = |(note, cuts): (Option<ResultNote>, Vec<f64>)| {
            let cuts = cuts::from_numbers(&cuts).unwrap_or_default();
            note.map_or_else(Heard::default, |note| note.heard(cuts))
        };
        let heard: Vec<Heard> = results.into_iter().map(heard).collect();
        self.session.merge(&heard).into_iter().map(|(item, at)| Winner { item, at }).collect()
    }

    /// Begins to cut a winner again.
    ///
    /// # Errors
    /// Where the numbers are no cuts.
    pub fn replay(&mut self, item: usize, numbers: &[f64]) -> Result<(), PlanError> {
        let search = self.session.searches().get(item);
        let (Some(search), Some(cuts)) = (search, cuts::from_numbers(numbers)) else {
            return Err(PlanError::Write("a searcher sent cuts that are none".into()));
        };
        self.replaying = Some(Replay { item, remaking: Remaking::of_cuts(search.ground(), cuts) });
        Ok(())
    }

    /// Makes one cut of the winner; whether there are more to make.
    ///
    /// # Errors
    /// Where a cut cannot be made: a mistake of this program.
    pub fn step_replay(&mut self) -> Result<bool, PlanError> {
        let Some(replay) = &mut self.replaying else { return Ok(false) };
        if replay.remaking.step() {
            return Ok(true);
        }
        if let Some(Replay { item, remaking }) = self.replaying.take() {
            let broken = || PlanError::Write("a plan that was found cannot be cut again".into());
            self.session.take(item, remaking.end().ok_or_else(broken)?);
        }
        Ok(false)
    }

    /// The round is over and its winners are taken.
    pub fn end_round(&mut self, seconds: f64) -> RoundNote {
        self.session.end_round(seconds);
        self.round()
    }

    /// How far the search is.
    pub fn round(&self) -> RoundNote {
        let least = |(item, search): (&SizedItem, &Search)| LeastNote {
            item: item.id.clone(),
            pieces: search.proof().pieces_at_least(),
        };
        RoundNote {
            round: self.session.n_rounds(),
            pieces: self.session.n_pieces(),
            at_least: self.session.items().iter().zip(self.session.searches()).map(least).collect(),
            candidates: self.session.n_candidates(),
            over: self.session.is_over(),
        }
    }

    /// The best plan of an item so far, to draw.
    pub fn drawing(&self, item: usize) -> Option<Drawing> {
        drawing::of(&self.session, self.searches_so_far(), item)
    }

    fn searches_so_far(&self) -> &[Search] {
        if self.searches.is_empty() { self.session.searches() } else { &self.searches }
    }

    /// One step of finishing at `seconds` since the start: the stage it is in, or `None` when the
    /// plan is finished.
    ///
    /// # Errors
    /// [`PlanError`] where an item has no plan or a piece cannot be laid.
    pub fn finish(&mut self, seconds: f64) -> Result<Option<&'static str>, PlanError> {
        let clock = Clock { seconds };
        let made = self.session.finish(&Pool::new(1), &clock)?;
        if made.is_some() {
            self.made = made;
            return Ok(None);
        }
        Ok(Some(self.session.next_stage()))
    }

    /// What [`Self::finish`] does next: measuring, laying or auditing.
    pub fn next_stage(&self) -> &'static str {
        self.session.next_stage()
    }

    /// `plan.json` of the finished plan.
    pub fn plan_json(&self) -> Option<&[u8]> {
        self.made.as_ref()?.folder.files.get("plan.json").map(Vec::as_slice)
    }

    /// Lays and findings of the finished plan.
    pub fn finished(&self) -> Option<FinishedNote> {
        let made = self.made.as_ref()?;
        let outlines = self.session.laid_outlines(&made.plan);
        let laid = |id: &String| {
            let index = made.plan.pieces.iter().position(|piece| piece.id == *id)?;
            let pose = made.plan.pieces[index].pose;
            let (x, y) = (-pose[1], -pose[5]);
            let flat = libm::hypot(x, y);
            // Steeper than 60 degrees from the bed it says nothing.
            let front = (flat > 0.5).then(|| [x / flat, y / flat]);
            Some(LaidPiece {
                id: id.clone(),
                number: index + 1,
                outline_mm: vec![outlines.get(index)?.clone()],
                front,
            })
        };
        let lays = made.plan.loads.iter().filter_map(|load| {
            let bed = made.plan.beds.iter().find(|bed| bed.id == load.bed)?.clone();
            Some(Lay { load: load.id.clone(), bed, pieces: load.pieces.iter().filter_map(laid).collect() })
        });
        let findings = made.findings.iter().map(|f| format!("{}: {}", f.subject, f.text)).collect();
        Some(FinishedNote { lays: lays.collect(), findings })
    }

    /// The finished plan folder as one archive, in the parts it is laid end to end of: whole, it would
    /// take as much again as the folder.
    pub fn zip(&self) -> Option<impl Iterator<Item = Vec<u8>> + '_> {
        let mut files = self.made.as_ref()?.folder.files.iter();
        let mut packer = Some(Packer::default());
        Some(std::iter::from_fn(move || match files.next() {
            Some((name, bytes)) => Some(packer.as_mut()?.part(name, bytes)),
            None => Some(packer.take()?.end()),
        }))
    }

    /// The project file of the finished plan.
    pub fn project(&self) -> Option<&[u8]> {
        self.made.as_ref()?.folder.files.get(PROJECT_FILE).map(Vec::as_slice)
    }
}

/// A clock that stands still for one step.
struct Clock {
    seconds: f64,
}

impl Watch for Clock {
    fn seconds(&self) -> f64 {
        self.seconds
    }
    fn stop(&self) -> bool {
        false
    }
    fn interrupted(&self) -> bool {
        false
    }
    fn tell(&self, _news: News) {}
}

fn units_found(taken: &Taken) -> UnitsFound {
    let up = project::UPS.iter().find(|(axis, _)| *axis == taken.up).map_or("z", |(_, name)| name);
    UnitsFound {
        guess: taken.unit.name().into(),
        why: taken.unit_why.clone(),
        in_doubt: !taken.unit_sure,
        up: up.into(),
        up_why: taken.up_why.clone(),
        up_in_doubt: !taken.up_sure,
    }
}

/// Bytes of any record as JSON.
///
/// # Errors
/// [`PlanError::Write`] where a number is not finite.
pub fn json<T: serde::Serialize>(record: &T) -> Result<String, PlanError> {
    serde_json::to_string(record).map_err(|e| PlanError::Write(e.to_string()))
}

#[cfg(test)]
mod tests;
