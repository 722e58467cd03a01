//! Runs tasks of a round for a keeper in another memory.
//!
//! How: it gets each item once, makes the same ground of it as the keeper, and from then on
//! needs only the task's number and the limit on pieces. Tasks run in steps; what one finds travels
//! back as its outline and its cuts, as numbers (`seams::cuts`).

use super::messages::{Asked, ProbeAsked, ProbeNote, ResultNote, TaskNote, asked_options};
use crate::PlanError;
use crate::item::SizedItem;
use crate::records::PlaneRecord;
use crate::records::marks::{MarksRecord, SeamMark};
use seamwright_mesh::transfer::{solid_from_bytes, solid_to_bytes};
use seamwright_mesh::{Plane, Solid};
use seamwright_seams::cuts;
use seamwright_seams::ground::Ground;
use seamwright_seams::marks::Locked;
use seamwright_seams::probe::{Probed, Probing};
use seamwright_seams::round;
use seamwright_seams::task::{Ended, Found, Running};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What goes before an item's solid.
#[derive(Serialize, Deserialize)]
struct Head {
    role: Option<String>,
    marks: MarksRecord,
}

/// An item for searchers: what it is worn as and marked (as JSON, its length first), then its solid.
pub fn item_bytes(item: &SizedItem) -> Vec<u8> {
    let head = Head { role: item.role.clone(), marks: item.marks.clone() };
    // Where that fails nothing stands there, and the searcher says so.
    let head = serde_json::to_vec(&head).unwrap_or_default();
    let mut bytes = (head.len() as u32).to_le_bytes().to_vec();
    bytes.extend(head);
    bytes.extend(solid_to_bytes(&item.solid));
    bytes
}

fn item_of_bytes(bytes: &[u8]) -> Option<(Solid, Head)> {
    let (n, rest) = bytes.split_first_chunk::<4>()?;
    let (head, solid) = rest.split_at_checked(u32::from_le_bytes(*n) as usize)?;
    Some((solid_from_bytes(solid)?, serde_json::from_slice(head).ok()?))
}

/// Runs one task at a time.
#[derive(Default)]
pub struct Searcher {
    grounds: Vec<Option<Arc<Ground>>>,
    running: Option<Running>,
    ended: Option<Ended>,
    /// The part a maker moves a plane through, as it was asked for.
    probing: Option<(ProbeAsked, Probing)>,
    probed: Option<Probed>,
}

impl Searcher {
    /// Takes an item as the keeper handed it ([`item_bytes`]).
    ///
    /// # Errors
    /// Where the bytes are not the keeper's or the beds are of no use.
    pub fn take_item(&mut self, item: usize, bytes: &[u8], asked: &Asked) -> Result<(), PlanError> {
        let broken = || PlanError::Write("an item did not reach a searcher whole".into());
        let (solid, head) = item_of_bytes(bytes).ok_or_else(broken)?;
        let options = asked_options(asked)?;
        if self.grounds.len() <= item {
            self.grounds.resize_with(item + 1, || None);
        }
        self.probing = None;
        self.grounds[item] = Some(Arc::new(Ground::new(&solid, &options.wish_for(head.role, &head.marks))));
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

    /// Cuts a part by a plane, whatever task is at work; nothing where the plane misses it.
    pub fn probe(&mut self, asked: ProbeAsked) -> Option<ProbeNote> {
        self.probed = None;
        let ground = self.grounds.get(asked.item)?.as_ref()?;
        let is_same = |known: &ProbeAsked| {
            (known.item, known.at_mm, &known.before) == (asked.item, asked.at_mm, &asked.before)
        };
        if !self.probing.as_ref().is_some_and(|(known, _)| is_same(known)) {
            let before: Vec<Locked> = asked.before.iter().map(SeamMark::locked).collect();
            let probing = Probing::new(ground, &before, asked.at_mm)?;
            self.probing = Some((asked.clone(), probing));
        }
        let (_, probing) = self.probing.as_ref()?;
        let PlaneRecord { normal, offset_mm } = asked.plane;
        let probed = probing.cut(Plane { normal, offset_mm }, asked.at_mm)?;
        let note = ProbeNote::of(&probed);
        self.probed = Some(probed);
        Some(note)
    }

    /// The line of the plane asked for last: segments, pairs of points.
    pub fn probed_line(&self) -> Vec<f32> {
        let segments = self.probed.iter().flat_map(|probed| &probed.segments_mm);
        segments.flatten().flatten().map(|&c| c as f32).collect()
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
