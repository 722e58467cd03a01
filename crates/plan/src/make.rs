//! Make a plan folder: read, search, measure, lay, write, audit.
//!
//! Stages follow each other; each is one function of its inputs. The files are written in
//! `writing.rs`.
//! The folder is a map from paths to bytes: who calls decides where it goes.
//! With [`Budget::Effort`] equal inputs give equal bytes in every file but `run.json`.

use crate::PlanError;
use crate::audit;
use crate::audit::Folder;
use crate::item::{SizedItem, read_item};
use crate::job::{Budget, ModelInput, News, Options, Watch};
use crate::pool::Pool;
use crate::project::{Decision, PROJECT_FILE, project_bytes};
use crate::records;
use crate::side::Side;
use crate::writing::Writing;
use seamwright_seams::grid::NoGrid;
use seamwright_seams::partition::Partition;
use seamwright_seams::search::Search;
use std::collections::BTreeSet;

/// A finished plan.
pub struct Made {
    /// All files of the plan folder.
    pub folder: Folder,
    /// What `plan.json` holds.
    pub plan: records::Plan,
    /// What the audit found against it; empty where all holds.
    pub findings: Vec<audit::Finding>,
}

/// Rounds without a better plan after which a search bounded by time ends.
const PATIENCE: u64 = 12;

/// Most item names kept apart by a number before giving up.
const SAME_NAMES: usize = 10_000;

/// Plans the costume.
///
/// # Errors
/// [`PlanError`] naming the file, where and why.
pub fn make_plan(models: &[ModelInput], options: &Options, watch: &dyn Watch) -> Result<Made, PlanError> {
    if options.beds.is_empty() {
        return Err(PlanError::NoBed);
    }
    let pool = Pool::new(options.n_threads);
    let mut items = Vec::new();
    for model in models {
        let item = read_item(model)?;
        watch.tell(News::Read {
            item: item.id.clone(),
            triangles: item.solid.n_triangles(),
            size_mm: item.solid.size_mm(),
        });
        items.push(item);
    }
    name_apart(models, &mut items);
    let (searches, history) = search_all(&items, options, &pool, watch)?;
    watch.tell(News::Stage("measuring seams"));
    let finished = |((model, item), search): ((&ModelInput, &SizedItem), &Search)| {
        let side = Side::new(item, search, &options.beds, &pool)?;
        let mirrored = model.settings.pair.then(|| side.mirrored(item, search, &options.beds, &pool));
        Ok((side, mirrored))
    };
    let sides: Vec<(Side, Option<Side>)> =
        models.iter().zip(&items).zip(&searches).map(finished).collect::<Result<_, PlanError>>()?;
    let made = expand(models, &items, &sides);
    watch.tell(News::Stage("laying pieces"));
    let mut writing = Writing::new(options, &history, &searches);
    writing.items(&made);
    writing.lay(&made, options)?;
    let decisions = items.iter().zip(&sides);
    let decisions =
        decisions.map(|(item, (side, _))| Decision { item: item.id.clone(), planes: side.planes.clone() });
    let project = project_bytes(models, options, decisions.collect())?;
    writing.folder.files.insert(PROJECT_FILE.into(), project);
    writing.finish(watch, &history, &searches, &pool)
}

/// Gives items different ids, their copies and mirrored sides included.
fn name_apart(models: &[ModelInput], items: &mut [SizedItem]) {
    // Leaves room for `-c99-mirrored-s999` within the 40 characters of an id.
    const LONGEST: usize = 22;
    let mut taken = BTreeSet::new();
    for (model, item) in models.iter().zip(items) {
        let named = |n: usize| {
            let suffix = if n == 1 { String::new() } else { format!("-{n}") };
            let kept: String = item.id.chars().take(LONGEST - suffix.len()).collect();
            format!("{}{suffix}", kept.trim_end_matches('-'))
        };
        let all = |id: &str| -> Vec<String> {
            let copies = (1..=n_copies(model)).map(|copy| copy_id(id, copy));
            copies.flat_map(|id| [mirrored_id(&id), id]).collect()
        };
        let free = (1..SAME_NAMES).map(named).find(|id| all(id).iter().all(|id| !taken.contains(id)));
        item.id = free.unwrap_or_else(|| named(1));
        taken.extend(all(&item.id));
    }
}

/// The anytime curve: seconds, round, pieces of the whole costume.
pub(crate) type History = Vec<(f64, u64, usize)>;

fn search_all(
    items: &[SizedItem],
    options: &Options,
    pool: &Pool,
    watch: &dyn Watch,
) -> Result<(Vec<Search>, History), PlanError> {
    let searches = pool.map(items, |item| first_plan(item, options, watch));
    let mut searches: Vec<Search> = searches.into_iter().collect::<Result<_, PlanError>>()?;
    let total = |searches: &[Search]| -> usize {
        searches.iter().filter_map(Search::best).map(Partition::n_pieces).sum()
    };
    let mut history = vec![(watch.seconds(), 0, total(&searches))];
    let stop = || watch.stop();
    let mut since_better = 0;
    for round in 1.. {
        let over = match options.budget {
            Budget::Effort(rounds) => round > rounds || watch.stop(),
            Budget::Watch => watch.stop() || since_better >= PATIENCE,
        };
        let tasks: Vec<(usize, seamwright_seams::search::Task)> = searches
            .iter()
            .enumerate()
            .flat_map(|(i, search)| search.tasks().into_iter().map(move |task| (i, task)))
            .collect();
        if over || tasks.is_empty() {
            break;
        }
        let mut results = pool.map(&tasks, |(i, task)| searches[*i].run(task, &stop)).into_iter();
        let mut changed = false;
        for (i, search) in searches.iter_mut().enumerate() {
            let n = tasks.iter().filter(|(of, _)| *of == i).count();
            let own: Vec<Option<Partition>> = results.by_ref().take(n).collect();
            if n > 0 {
                changed |= search.merge(own);
            }
        }
        since_better = if changed { 0 } else { since_better + 1 };
        let pieces = total(&searches);
        history.push((watch.seconds(), round, pieces));
        let candidates = searches.iter().map(|s| s.candidates() as u64).sum();
        watch.tell(News::Round { round, pieces, candidates });
    }
    Ok((searches, history))
}

fn first_plan(item: &SizedItem, options: &Options, watch: &dyn Watch) -> Result<Search, PlanError> {
    // The clock does not end this stage: whoever grants little time still wants a plan.
    let go_on = |n_done, n_all| {
        watch.tell(News::Grid { n_done, n_all });
        !watch.interrupted()
    };
    let search = Search::new(&item.solid, &options.beds, options.seed, options.prefer, &go_on);
    let search = search.map_err(|why| match why {
        NoGrid::Stopped => PlanError::Stopped,
        why => PlanError::TooSmallBeds { item: item.id.clone(), why },
    })?;
    let pieces = search.grid().partition.n_pieces();
    watch.tell(News::FirstPlan { item: item.id.clone(), pieces });
    Ok(search)
}

/// An item as it will be written: an original, a copy or a mirrored side.
pub(crate) struct MadeItem<'a> {
    pub id: String,
    pub source: &'a SizedItem,
    pub side: &'a Side,
    pub copy_of: Option<String>,
    pub mirror_of: Option<String>,
}

/// Id of copy `copy`, counted from 1, of an item.
fn copy_id(id: &str, copy: u32) -> String {
    if copy == 1 { id.to_owned() } else { format!("{id}-c{copy}") }
}

/// Id of the mirrored side of an item or copy.
fn mirrored_id(id: &str) -> String {
    format!("{id}-mirrored")
}

fn expand<'a>(
    models: &[ModelInput],
    items: &'a [SizedItem],
    sides: &'a [(Side, Option<Side>)],
) -> Vec<MadeItem<'a>> {
    let mut made = Vec::new();
    for ((model, source), (side, mirrored)) in models.iter().zip(items).zip(sides) {
        for copy in 1..=n_copies(model) {
            let id = copy_id(&source.id, copy);
            let copy_of = (copy > 1).then(|| source.id.clone());
            made.push(MadeItem { id: id.clone(), source, side, copy_of, mirror_of: None });
            if let Some(side) = mirrored {
                let mirror_of = Some(source.id.clone());
                made.push(MadeItem { id: mirrored_id(&id), source, side, copy_of: None, mirror_of });
            }
        }
    }
    made
}

fn n_copies(model: &ModelInput) -> u32 {
    model.settings.copies.unwrap_or(1).max(1)
}
