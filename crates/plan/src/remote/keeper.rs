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
mod tests {
    use super::*;
    use crate::make::make_plan;
    use crate::remote::finder::Finder;
    use crate::remote::messages::{Ray, RayStart};
    use crate::remote::searcher::Searcher;

    /// A block of 300 x 250 x 60 mm: more than a bed each way, so that rounds have something to do.
    const BLOCK: &str = "v 0 0 0\nv 300 0 0\nv 300 250 0\nv 0 250 0\nv 0 0 60\nv 300 0 60\nv 300 250 60\nv 0 250 60\n\
        f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";

    fn asked() -> Asked {
        let bed = crate::card::bed_record(&seamwright_bed::Bed::parse("180x180x180").unwrap());
        Asked { beds: vec![bed], prefer: "balanced".into(), seed: 1, effort: Some(2) }
    }

    fn settings() -> SettingsRecord {
        project::settings_record(&ItemSettings { pair: true, ..ItemSettings::default() })
    }

    /// Plans with tasks dealt to `n` searchers, the last task first.
    fn plan<'a>(keeper: &'a mut Keeper, asked: &Asked, n: usize) -> &'a Made {
        let mut searchers: Vec<Searcher> = (0..n).map(|_| Searcher::default()).collect();
        while keeper.begin_grid(0.0).unwrap() {
            while keeper.step_grid().is_some() {}
        }
        for searcher in &mut searchers {
            searcher.take_item(0, &keeper.item_bytes(0), asked).unwrap();
        }
        while !keeper.tasks().is_empty() {
            let tasks = keeper.tasks();
            let mut found = vec![(None, Vec::new()); tasks.len()];
            for (at, task) in tasks.iter().enumerate().rev() {
                let searcher = &mut searchers[at % n];
                assert!(searcher.start(task.clone()));
                while !searcher.step() {}
                found[at] = (searcher.result(), searcher.cuts());
            }
            for winner in keeper.merge(found.clone()) {
                keeper.replay(winner.item, &found[winner.at].1).unwrap();
                while keeper.step_replay().unwrap() {}
            }
            keeper.end_round(0.0);
        }
        while keeper.finish(0.0).unwrap().is_some() {}
        keeper.made.as_ref().unwrap()
    }

    #[test]
    fn a_plan_by_keeper_and_searchers_is_the_native_one_to_the_byte() {
        let options = asked_options(&asked()).unwrap();
        let settings_of = project::settings_of_record(&settings()).unwrap();
        let model = ModelInput { name: "block.obj".into(), bytes: BLOCK.into(), settings: settings_of };
        let native = make_plan(vec![model], &options, &Clock { seconds: 0.0 }).unwrap();
        assert!(native.plan.search.rounds > 0 && native.plan.pieces.len() > 2);
        let mut keeper = Keeper::new(&asked()).unwrap();
        for n in [1, 2] {
            // The second time the model comes from the shelf.
            keeper.begin_anew(&asked()).unwrap();
            keeper.add("k", "block.obj", &settings(), BLOCK.into()).unwrap();
            let made = plan(&mut keeper, &asked(), n);
            assert!(made.folder == native.folder, "{n} searchers");
            // The block is one of a pair, and the count told is that of the costume.
            assert_eq!(keeper.round().pieces, native.plan.totals.pieces);
        }
        let lays = keeper.finished().unwrap().lays;
        assert_eq!(lays.iter().map(|lay| lay.pieces.len()).sum::<usize>(), native.plan.pieces.len());
    }

    /// A block of 300 x 250 x 60 mm whose sides are divided so finely that a copy is searched in its place: STL.
    fn fine_block() -> Vec<u8> {
        const N: usize = 190;
        let size_mm = [300.0_f32, 250.0, 60.0];
        let mut triangles = Vec::new();
        for axis in 0..3 {
            let [u, v] = [(axis + 1) % 3, (axis + 2) % 3];
            for (i, k, top) in (0..N * N).flat_map(|at| [0.0_f32, 1.0].map(|top| (at / N, at % N, top))) {
                let corner = |i: usize, k: usize| {
                    let mut p = [0.0_f32; 3];
                    (p[axis], p[u], p[v]) = (
                        top * size_mm[axis],
                        i as f32 / N as f32 * size_mm[u],
                        k as f32 / N as f32 * size_mm[v],
                    );
                    p
                };
                let [a, b, c, d] = [corner(i, k), corner(i + 1, k), corner(i + 1, k + 1), corner(i, k + 1)];
                let outward = if top > 0.0 { [[a, b, c], [a, c, d]] } else { [[a, c, b], [a, d, c]] };
                triangles.extend(outward);
            }
        }
        let mut bytes = vec![0; 80];
        bytes.extend((triangles.len() as u32).to_le_bytes());
        for corners in triangles {
            bytes.extend([0; 12]);
            bytes.extend(corners.iter().flatten().flat_map(|c| c.to_le_bytes()));
            bytes.extend([0; 2]);
        }
        bytes
    }

    #[test]
    fn an_item_searched_on_a_copy_is_planned_alike_and_its_plan_is_cut_on_the_item() {
        let asked = Asked { prefer: "fewest".into(), effort: Some(1), ..asked() };
        let settings = project::settings_record(&ItemSettings::default());
        let bytes = fine_block();
        let model = ModelInput {
            name: "block.stl".into(),
            bytes: bytes.clone(),
            settings: project::settings_of_record(&settings).unwrap(),
        };
        let native =
            make_plan(vec![model], &asked_options(&asked).unwrap(), &Clock { seconds: 0.0 }).unwrap();
        // 300 x 250 of 170 x 170 each, whatever the copy is like. The proof stands on points of the item.
        assert_eq!((native.plan.totals.pieces, native.plan.bounds[0].pieces_at_least), (4, 3));
        assert!(!native.plan.bounds[0].proof.lumps[0].points_mm.is_empty());
        assert!(native.plan.search.history.last().unwrap().cost_min.is_some());
        assert!(native.findings.is_empty(), "{:?}", native.findings);
        let mut keeper = Keeper::new(&asked).unwrap();
        keeper.add("k", "block.stl", &settings, bytes).unwrap();
        let n_sent = |keeper: &Keeper| keeper.item_bytes(0).len();
        let made = plan(&mut keeper, &asked, 2);
        assert!(made.folder == native.folder);
        // Searchers get the copy: a third of what the item would be.
        let whole = seamwright_mesh::transfer::solid_to_bytes(&keeper.session.items()[0].solid).len();
        assert!(3 * n_sent(&keeper) < 2 * whole, "{} of {whole} bytes", n_sent(&keeper));
    }

    #[test]
    fn a_ray_meets_the_drawn_piece_it_points_at_where_it_was_pulled_to() {
        let mut keeper = Keeper::new(&asked()).unwrap();
        keeper.add("k", "block.obj", &settings(), BLOCK.into()).unwrap();
        plan(&mut keeper, &asked(), 1);
        let Drawing { note, shapes, .. } = keeper.drawing(0).unwrap();
        let mut finder = Finder::default();
        for (piece, shape) in note.pieces.iter().zip(&shapes) {
            finder.take("block", Some(piece.id.clone()), piece.pull_mm, &shape.points_mm, &shape.triangles);
        }
        let down = |x: f64, y: f64, pull: f64| {
            let starts = vec![RayStart { item: "block".into(), at_mm: [x, y, 500.0] }];
            finder.find(&Ray { direction: [0.0, 0.0, -1.0], pull, starts })
        };
        let first = down(10.0, 10.0, 0.0).unwrap();
        assert!((first.at_mm[2] - 60.0).abs() < 1e-9);
        let last = down(290.0, 240.0, 0.0).unwrap();
        assert_ne!(first.piece, last.piece);
        assert_eq!(down(310.0, 10.0, 0.0), None);
        let pulled = note.pieces.iter().find(|piece| Some(&piece.id) == last.piece.as_ref()).unwrap().pull_mm;
        let same = down(290.0 + pulled[0], 240.0 + pulled[1], 1.0).unwrap();
        assert_eq!(same.piece, last.piece);
        // The place is told where it lies in the item, not where it was pulled to.
        assert!((same.at_mm[0] - 290.0).abs() < 1e-9 && (same.at_mm[2] - 60.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_asked_is_checked() {
        let two = Asked { beds: [asked().beds, asked().beds].concat(), ..asked() };
        let other = Asked { prefer: "pretty".into(), ..asked() };
        let none = Asked { beds: Vec::new(), ..asked() };
        for (asked, due) in [(two, "same id"), (other, "pretty"), (none, "no bed")] {
            let said = Keeper::new(&asked).err().unwrap().to_string();
            assert!(said.contains(due), "{said}");
        }
    }
}
