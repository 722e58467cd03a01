//! Runs tasks of a round for a keeper in another memory.
//!
//! How: it gets each item once, makes the same ground of it as the keeper, and from then on
//! needs only the task's number and the limit on pieces. Tasks run in steps; what one finds travels
//! back as its outline and its cuts, as numbers (`seams::cuts`).

use super::messages::{Asked, ResultNote, TaskNote, asked_options};
use crate::PlanError;
use crate::item::SizedItem;
use seamwright_mesh::Solid;
use seamwright_mesh::transfer::{solid_from_bytes, solid_to_bytes};
use seamwright_seams::cuts;
use seamwright_seams::ground::Ground;
use seamwright_seams::round;
use seamwright_seams::task::{Ended, Found, Running};
use std::sync::Arc;

/// An item for searchers: what it is worn as (its length first, 0 for nothing), then its solid.
pub fn item_bytes(item: &SizedItem) -> Vec<u8> {
    let role = item.role.as_deref().unwrap_or_default().as_bytes();
    let mut bytes = vec![role.len() as u8];
    bytes.extend(role);
    bytes.extend(solid_to_bytes(&item.solid));
    bytes
}

fn item_of_bytes(bytes: &[u8]) -> Option<(Solid, Option<&str>)> {
    let (&n, rest) = bytes.split_first()?;
    let (role, solid) = rest.split_at_checked(usize::from(n))?;
    let role = std::str::from_utf8(role).ok()?;
    Some((solid_from_bytes(solid)?, (!role.is_empty()).then_some(role)))
}

/// Runs one task at a time.
#[derive(Default)]
pub struct Searcher {
    grounds: Vec<Option<Arc<Ground>>>,
    running: Option<Running>,
    ended: Option<Ended>,
}

impl Searcher {
    /// Takes an item as the keeper handed it ([`item_bytes`]).
    ///
    /// # Errors
    /// Where the bytes are not the keeper's or the beds are of no use.
    pub fn take_item(&mut self, item: usize, bytes: &[u8], asked: &Asked) -> Result<(), PlanError> {
        let broken = || PlanError::Write("an item did not reach a searcher whole".into());
        let (solid, role) = item_of_bytes(bytes).ok_or_else(broken)?;
        let options = asked_options(asked)?;
        if self.grounds.len() <= item {
            self.grounds.resize_with(item + 1, || None);
        }
        self.grounds[item] = Some(Arc::new(Ground::new(&solid, &options.wish(role))));
        Ok(())
    }

    /// Begins a task; whatever was running is dropped. Whether there is such a task.
    pub fn start(&mut self, note: TaskNote) -> bool {
        self.ended = None;
        self.running = None;
        let Some(Some(ground)) = self.grounds.get(note.item) else { return false };
        let Some(best) = cuts::from_numbers(&note.best) else { return false };
        let tasks = round::tasks(ground, note.round, &best);
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
        self.ended = self.running.take().map(Running::end);
        true
    }

    /// How the task ended, once it has.
    pub fn result(&self) -> Option<ResultNote> {
        self.ended.as_ref().map(ResultNote::of)
    }

    /// The cuts of a plan it found, as numbers.
    pub fn cuts(&self) -> Vec<f64> {
        match self.ended.as_ref().and_then(|ended| ended.found.as_ref()) {
            Some(Found::Plan(plan)) => cuts::to_numbers(&plan.cuts()),
            _ => Vec::new(),
        }
    }
}
