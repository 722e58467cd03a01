//! Makes a plan folder in one call, on threads: the native driver of a [`Session`].
//!
//! The folder is a map from paths to bytes: who calls decides where it goes.
//! With [`crate::job::Budget::Effort`] equal inputs give equal bytes in every file but `run.json`.
//! Not here: the order of the stages (`session.rs`), the files (`writing.rs`).

use crate::PlanError;
use crate::item::read_item;
use crate::job::{ModelInput, News, Options, Watch};
use crate::pool::Pool;
use crate::session::Session;
pub use crate::writing::Made;
use seamwright_seams::remaking::Remaking;
use seamwright_seams::search::Search;
use seamwright_seams::task::{Ended, Found, Heard, Task};

/// Plans the costume.
///
/// # Errors
/// [`PlanError`] naming the file, where and why.
pub fn make_plan(models: Vec<ModelInput>, options: &Options, watch: &dyn Watch) -> Result<Made, PlanError> {
    let mut session = Session::new(options.clone())?;
    let pool = Pool::new(options.n_threads);
    let mut unusable = Vec::new();
    for model in models {
        watch.tell(News::Reading { name: model.name.clone() });
        match read_item(&model) {
            Ok(item) => {
                let (triangles, size_mm) = (item.solid.n_triangles(), item.solid.size_mm());
                watch.tell(News::Read { item: item.id.clone(), triangles, size_mm });
                session.add(model, item);
            }
            // Whoever gave ten files wants to know of all that are broken, not of one after another.
            Err(error) => unusable.push(error),
        }
    }
    match unusable.pop() {
        Some(only) if unusable.is_empty() => return Err(only),
        Some(last) => {
            unusable.push(last);
            return Err(PlanError::Models(unusable));
        }
        None => {}
    }
    let all: Vec<usize> = (0..session.items().len()).collect();
    let searches = pool.map(&all, |&i| first_plan(&session, i, watch));
    session.begin(searches.into_iter().collect::<Result<_, PlanError>>()?, watch.seconds());
    while !watch.stop() && !session.is_over() {
        let tasks = session.tasks();
        let mut ended = pool.map(&tasks, |(i, task)| run(&session.searches()[*i], task, watch));
        let heard: Vec<Heard> = ended.iter().map(Ended::heard).collect();
        for (item, at) in session.merge(&heard) {
            if let Some(Found::Plan(winner)) = ended[at].found.take() {
                let ground = session.searches()[item].ground();
                if let Some(remade) = Remaking::of_plan(ground, winner).end() {
                    session.take(item, remade);
                }
            }
        }
        session.end_round(watch.seconds());
        let (pieces, candidates) = (session.n_pieces(), session.n_candidates());
        watch.tell(News::Round { round: session.n_rounds(), pieces, candidates });
    }
    loop {
        if let Some(made) = session.finish(&pool, watch)? {
            return Ok(made);
        }
    }
}

fn first_plan(session: &Session, item_index: usize, watch: &dyn Watch) -> Result<Search, PlanError> {
    let mut beginning = session.beginning(item_index)?;
    loop {
        // The clock does not end this stage: whoever grants little time still wants a plan.
        if watch.interrupted() {
            return Err(PlanError::Stopped);
        }
        let (n_done, n_all) = beginning.progress();
        watch.tell(News::Grid { n_done, n_all });
        if let Some(search) = beginning.step() {
            let pieces = search.grid().partition.n_pieces();
            watch.tell(News::FirstPlan { item: session.items()[item_index].id.clone(), pieces });
            return Ok(search);
        }
    }
}

fn run(search: &Search, task: &Task, watch: &dyn Watch) -> Ended {
    let mut running = search.start(task);
    while !running.is_done() && !watch.stop() {
        running.step();
    }
    running.end()
}
