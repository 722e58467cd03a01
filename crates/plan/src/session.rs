//! One plan being made, in steps: read, first plans, rounds, finish.
//!
//! How: a session holds the items, their searches and the curve so far. Whoever drives it - the
//! native program with its threads (`make.rs`), the page with its workers - does the steps in the
//! same order: `add` each model, `begin` with the searches, then rounds of `tasks`, `merge`, `take`
//! and `end_round` until `is_over`, then `finish` until it gives the folder. Where and how fast
//! tasks run is the driver's; nothing of it shows in the result.
//! Not here: threads, clocks, workers; what the files hold (`writing.rs`).

use crate::PlanError;
use crate::item::SizedItem;
use crate::job::{Budget, ModelInput, News, Options, Watch};
use crate::laying::{self, Resting};
use crate::pool::Pool;
use crate::project::{Decision, PROJECT_FILE, project_bytes};
use crate::records;
use crate::records::marks::BegunRecord;
use crate::side::{FinalPiece, Side};
use crate::writing::{Made, MadeItem, Moment, Writing};
use seamwright_mesh::Placement;
use seamwright_seams::grid::NoGrid;
use seamwright_seams::ground::Ground;
use seamwright_seams::remaking::Remade;
use seamwright_seams::search::{Beginning, Search};
use seamwright_seams::task::{Heard, Task};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Rounds without a better plan after which a search not bounded by effort ends.
const PATIENCE: u64 = 12;

/// Most item names kept apart by a number before giving up.
const SAME_NAMES: usize = 10_000;

/// A plan being made.
pub struct Session {
    options: Options,
    models: Vec<ModelInput>,
    items: Vec<SizedItem>,
    searches: Vec<Search>,
    history: Vec<Moment>,
    since_better: u64,
    /// Whether the round being merged made something better.
    got_better: bool,
    sides: Vec<Side>,
    mirrored: Vec<Option<Side>>,
    writing: Option<Writing>,
}

impl Session {
    /// Nothing is read yet.
    ///
    /// # Errors
    /// [`PlanError::NoBed`].
    pub fn new(options: Options) -> Result<Self, PlanError> {
        if options.beds.is_empty() {
            return Err(PlanError::NoBed);
        }
        Ok(Self {
            options,
            models: Vec::new(),
            items: Vec::new(),
            searches: Vec::new(),
            history: Vec::new(),
            since_better: 0,
            got_better: false,
            sides: Vec::new(),
            mirrored: Vec::new(),
            writing: None,
        })
    }

    /// Adds a model and the item read from it; its id is made different from those before it, their
    /// copies and mirrored sides included. Gives it back.
    pub fn add(&mut self, model: ModelInput, mut item: SizedItem) -> &SizedItem {
        // Leaves room for `-c99-mirrored-s999` within the 40 characters of an id.
        const LONGEST: usize = 22;
        let all = |model: &ModelInput, id: &str| -> Vec<String> {
            let copies = (1..=n_copies(model)).map(|copy| copy_id(id, copy));
            copies.flat_map(|id| [mirrored_id(&id), id]).collect()
        };
        let before = self.models.iter().zip(&self.items);
        let taken: BTreeSet<String> = before.flat_map(|(model, item)| all(model, &item.id)).collect();
        let named = |n: usize| {
            let suffix = if n == 1 { String::new() } else { format!("-{n}") };
            let kept: String = item.id.chars().take(LONGEST - suffix.len()).collect();
            format!("{}{suffix}", kept.trim_end_matches('-'))
        };
        let free = (1..SAME_NAMES).map(named).find(|id| all(&model, id).iter().all(|id| !taken.contains(id)));
        item.id = free.unwrap_or_else(|| named(1));
        self.models.push(model);
        self.items.push(item);
        &self.items[self.items.len() - 1]
    }

    /// What was asked beside the models.
    pub fn options(&self) -> &Options {
        &self.options
    }

    /// The items read so far.
    pub fn items(&self) -> &[SizedItem] {
        &self.items
    }

    /// The searches, one an item, once begun.
    pub fn searches(&self) -> &[Search] {
        &self.searches
    }

    /// Makes the ground of an item's search and begins its plain grid.
    ///
    /// # Errors
    /// [`PlanError::Marks`], [`PlanError::TooSmallBeds`].
    pub fn beginning(&self, item_index: usize) -> Result<Beginning, PlanError> {
        let item = &self.items[item_index];
        let ground = Arc::new(Ground::new(&item.solid, &self.options.wish(item)));
        let unmade = |why: String| PlanError::Marks { item: item.id.clone(), why };
        if let Some(index) = ground.missed.first() {
            return Err(unmade(format!(
                "seam {} of those that stay does not meet what the seams before it leave; take it off",
                index + 1
            )));
        }
        if ground.start().parts.iter().any(|part| part.is_printed && part.posed.is_none()) {
            return Err(unmade(
                "a piece marked as printed fits none of these beds; add the bed it was printed on, or take the \
                 mark off"
                    .into(),
            ));
        }
        let too_small = |why: NoGrid| PlanError::TooSmallBeds { item: item.id.clone(), why };
        Beginning::new(ground).map_err(too_small)
    }

    /// Takes the searches, one an item in their order; the first plan is there.
    pub fn begin(&mut self, searches: Vec<Search>, seconds: f64) {
        self.searches = searches;
        self.history = vec![self.moment(seconds, 0)];
    }

    /// Pieces that the costume has if the search ends now, those of the plain grid where an item has no plan yet;
    /// mirrored sides and copies included.
    pub fn n_pieces(&self) -> usize {
        self.n_pieces_before(&self.searches, self.searches.len())
    }

    /// Finishing minutes of the costume as the search weighs them, mirrored sides and copies included; none
    /// while the lines of some plain grid are not weighed.
    pub fn cost_min(&self) -> Option<f64> {
        let of = |(model, search): (&ModelInput, &Search)| {
            search.best().map_or(f64::INFINITY, |best| best.outline().minutes()) * n_made(model) as f64
        };
        let sum: f64 = self.models.iter().zip(&self.searches).map(of).sum();
        sum.is_finite().then_some(sum)
    }

    fn moment(&self, seconds: f64, round: u64) -> Moment {
        let is_plan = self.searches.iter().all(|search| search.best().is_some());
        Moment { seconds, round, is_plan, pieces: self.n_pieces(), cost_min: self.cost_min() }
    }

    /// Planes looked at.
    pub fn n_candidates(&self) -> u64 {
        self.searches.iter().map(Search::candidates).sum()
    }

    /// Rounds done.
    pub fn n_rounds(&self) -> u64 {
        self.history.last().map_or(0, |row| row.round)
    }

    /// Whether no further round is due: the effort is spent, or nothing got better for long, or
    /// every item fits as it is.
    pub fn is_over(&self) -> bool {
        let spent = match self.options.budget {
            Budget::Effort(rounds) => self.n_rounds() >= rounds,
            Budget::Watch => self.since_better >= PATIENCE,
        };
        spent || self.tasks().is_empty()
    }

    /// The tasks of the next round, each with the position of its item, items in order.
    pub fn tasks(&self) -> Vec<(usize, Task)> {
        let of = |(i, search): (usize, &Search)| search.tasks().into_iter().map(move |task| (i, task));
        self.searches.iter().enumerate().flat_map(of).collect()
    }

    /// Ends the round with what is told of its results, in the order of [`Self::tasks`]. Returns
    /// which results are new bests: item, position in that order; each must be taken.
    pub fn merge(&mut self, results: &[Heard]) -> Vec<(usize, usize)> {
        let mut winners = Vec::new();
        let mut first = 0;
        for (i, search) in self.searches.iter_mut().enumerate() {
            let n = search.tasks().len();
            if n > 0 {
                let own = results.get(first..first + n).unwrap_or_default();
                winners.extend(search.merge(own).map(|at| (i, first + at)));
            }
            first += n;
        }
        self.got_better = !winners.is_empty();
        winners
    }

    /// Keeps a new best.
    pub fn take(&mut self, item_index: usize, winner: Remade) {
        self.searches[item_index].take(winner);
    }

    /// The round is over and its bests are taken.
    pub fn end_round(&mut self, seconds: f64) {
        self.since_better = if self.got_better { 0 } else { self.since_better + 1 };
        self.history.push(self.moment(seconds, self.n_rounds() + 1));
    }

    /// One step of finishing: measures an item or its other side, lays, then audits. The plan once
    /// all is done.
    ///
    /// # Errors
    /// [`PlanError`] where an item has no plan or a piece cannot be laid.
    pub fn finish(&mut self, pool: &Pool, watch: &dyn Watch) -> Result<Option<Made>, PlanError> {
        let beds = &self.options.beds;
        if let Some(writing) = self.writing.take() {
            let mut made = writing.finish(watch, &self.history, &self.searches, pool)?;
            // The audit looks at what is printed; the models would only lie there meanwhile.
            made.folder.files.insert(PROJECT_FILE.into(), self.project()?);
            return Ok(Some(made));
        }
        if self.mirrored.len() < self.sides.len() {
            let i = self.mirrored.len();
            let mirrored = || self.sides[i].mirrored(&self.items[i], &self.searches[i], beds, pool);
            let side = self.models[i].settings.pair.then(mirrored);
            self.mirrored.push(side);
            return Ok(None);
        }
        if let Some(search) = self.searches.get(self.sides.len()) {
            if self.sides.is_empty() {
                watch.tell(News::Stage("measuring seams"));
            }
            self.sides.push(Side::new(&self.items[self.sides.len()], search, beds, pool)?);
            return Ok(None);
        }
        watch.tell(News::Stage("laying pieces"));
        if self.searches.iter().all(|search| search.best().is_some()) {
            self.searches.iter_mut().for_each(Search::forget_grid);
        }
        let made = self.made_items();
        let mut writing = Writing::new(&self.options, &self.history, &self.searches);
        writing.items(&made);
        writing.lay(&made, &self.options)?;
        self.writing = Some(writing);
        Ok(None)
    }

    /// The project file: what was asked, where all items are cut, and by which cuts a search goes on.
    fn project(&self) -> Result<Vec<u8>, PlanError> {
        let decided = |(item, side): (&SizedItem, &Side)| Decision {
            item: item.id.clone(),
            planes: side.planes.clone(),
        };
        let all = || self.items.iter().zip(&self.sides);
        // A plan of fixed effort follows from what it was asked; any other is found again from its cuts.
        let begun = |(item, side): (&SizedItem, &Side)| BegunRecord {
            size_mm: item.solid.size_mm(),
            cuts: side.cuts.clone(),
        };
        let begun = matches!(self.options.budget, Budget::Watch).then(|| all().map(begun).collect());
        let begun: Vec<BegunRecord> =
            begun.unwrap_or_else(|| self.models.iter().map(|model| model.settings.begun.clone()).collect());
        project_bytes(&self.models, &self.options, &begun, all().map(decided).collect())
    }

    /// Measured sides of the items, as far as they are finished.
    pub fn sides(&self) -> &[Side] {
        &self.sides
    }

    /// What [`Self::finish`] does next.
    pub fn next_stage(&self) -> &'static str {
        if self.writing.is_some() {
            "auditing"
        } else if self.sides.len() < self.searches.len() || self.mirrored.len() < self.sides.len() {
            "measuring"
        } else {
            "laying"
        }
    }

    /// How many pieces stand in the plan before those of item `item_index` if `searches`, some of the
    /// first, have their best plans; other items' copies and mirrored sides included.
    pub fn n_pieces_before(&self, searches: &[Search], item_index: usize) -> usize {
        let of = |(model, search): (&ModelInput, &Search)| search.best_or_grid().n_pieces() * n_made(model);
        self.models.iter().zip(searches).take(item_index).map(of).sum()
    }

    /// Outlines of all pieces of the finished plan on their beds, in its order.
    pub fn laid_outlines(&self, plan: &records::Plan) -> Vec<Vec<[f64; 2]>> {
        let made = self.made_items();
        let pieces = made.iter().flat_map(|item| &item.side.pieces);
        let outline = |(piece, record): (&FinalPiece, &records::Piece)| {
            let pose = Placement(record.pose);
            laying::outline(&Resting { hull_mm: piece.hull_mm.clone(), pose, bed_index: piece.bed_index })
        };
        pieces.zip(&plan.pieces).map(outline).collect()
    }

    /// Models and items read, for another session.
    pub fn into_items(self) -> Vec<(ModelInput, SizedItem)> {
        self.models.into_iter().zip(self.items).collect()
    }

    fn made_items(&self) -> Vec<MadeItem<'_>> {
        let mut made = Vec::new();
        for (i, (model, source)) in self.models.iter().zip(&self.items).enumerate() {
            let side = &self.sides[i];
            for copy in 1..=n_copies(model) {
                let id = copy_id(&source.id, copy);
                let copy_of = (copy > 1).then(|| source.id.clone());
                made.push(MadeItem { id: id.clone(), source, side, copy_of, mirror_of: None });
                if let Some(side) = &self.mirrored[i] {
                    let mirror_of = Some(source.id.clone());
                    made.push(MadeItem { id: mirrored_id(&id), source, side, copy_of: None, mirror_of });
                }
            }
        }
        made
    }
}

/// Id of copy `copy`, counted from 1, of an item.
fn copy_id(id: &str, copy: u32) -> String {
    if copy == 1 { id.to_owned() } else { format!("{id}-c{copy}") }
}

/// Id of the mirrored side of an item or copy.
fn mirrored_id(id: &str) -> String {
    format!("{id}-mirrored")
}

/// How often a model is printed: each copy, and its mirrored side where it is one of a pair.
fn n_made(model: &ModelInput) -> usize {
    n_copies(model) as usize * if model.settings.pair { 2 } else { 1 }
}

fn n_copies(model: &ModelInput) -> u32 {
    model.settings.copies.unwrap_or(1).max(1)
}
