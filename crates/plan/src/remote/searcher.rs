//! Runs tasks of a round for a keeper in another memory.
//!
//! How: it gets each item's solid once, makes the same ground of it as the keeper, and from then on
//! needs only the task's number and the limit on pieces. Tasks run in steps; what one finds travels
//! back as its outline and its cuts, as numbers (`seams::cuts`).

use super::messages::{Asked, ResultNote, TaskNote, asked_options};
use crate::PlanError;
use seamwright_mesh::transfer::solid_from_bytes;
use seamwright_seams::cuts;
use seamwright_seams::ground::Ground;
use seamwright_seams::round;
use seamwright_seams::task::{Found, Running};
use std::sync::Arc;

/// Runs one task at a time.
#[derive(Default)]
pub struct Searcher {
    grounds: Vec<Option<Arc<Ground>>>,
    running: Option<Running>,
    found: Option<Found>,
}

impl Searcher {
    /// Takes an item's solid, as the keeper wrote it.
    ///
    /// # Errors
    /// Where the bytes are not the keeper's or the beds are of no use.
    pub fn take_item(&mut self, item: usize, solid: &[u8], asked: &Asked) -> Result<(), PlanError> {
        let broken = || PlanError::Write("an item did not reach a searcher whole".into());
        let solid = solid_from_bytes(solid).ok_or_else(broken)?;
        let options = asked_options(asked)?;
        if self.grounds.len() <= item {
            self.grounds.resize_with(item + 1, || None);
        }
        self.grounds[item] = Some(Arc::new(Ground::new(&solid, &options.beds, options.seed)));
        Ok(())
    }

    /// Begins a task; whatever was running is dropped. Whether there is such a task.
    pub fn start(&mut self, note: TaskNote) -> bool {
        self.found = None;
        self.running = None;
        let Some(Some(ground)) = self.grounds.get(note.item) else { return false };
        let tasks = round::tasks(ground, note.round);
        let Some(task) = tasks.get(note.task) else { return false };
        self.running = Some(Running::new(ground.clone(), task, note.limit as usize));
        true
    }

    /// One step; whether the task has ended.
    pub fn step(&mut self) -> bool {
        let Some(running) = &mut self.running else { return true };
        running.step();
        if !running.is_done() {
            return false;
        }
        self.found = self.running.take().and_then(Running::end);
        true
    }

    /// What the ended task found, if it found something.
    pub fn result(&self) -> Option<ResultNote> {
        self.found.as_ref().map(ResultNote::of)
    }

    /// The cuts of a plan it found, as numbers.
    pub fn cuts(&self) -> Vec<f64> {
        match &self.found {
            Some(Found::Plan(plan)) => cuts::to_numbers(&plan.cuts()),
            _ => Vec::new(),
        }
    }
}
