//! Runs tasks of a round for a keeper in another memory.
//!
//! How: it gets each item once, or the copy that is searched in its place, makes the same ground of it as the
//! keeper, and from then on needs only the task's number and the limit on pieces. Tasks run in steps; what one
//! finds travels back as its outline and its cuts, as numbers (`seams::cuts`).

use super::messages::{Asked, ProbeAsked, ProbeNote, ResultNote, TaskNote, asked_options};
use crate::PlanError;
use crate::item::SizedItem;
use crate::job::Options;
use crate::records::PlaneRecord;
use crate::records::marks::{MarksRecord, SeamMark};
use seamwright_mesh::Plane;
use seamwright_mesh::transfer::{solid_from_bytes, solid_to_bytes};
use seamwright_seams::bound::Footing;
use seamwright_seams::cuts;
use seamwright_seams::ground::Ground;
use seamwright_seams::marks::Locked;
use seamwright_seams::probe::{Probed, Probing};
use seamwright_seams::round;
use seamwright_seams::task::{Ended, Found, Running};
use seamwright_seams::trial::Trial;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What goes before an item's solid.
#[derive(Serialize, Deserialize)]
struct Head {
    role: Option<String>,
    marks: MarksRecord,
    trial: Option<TrialHead>,
}

/// What is known of the item where the solid is its copy.
#[derive(Serialize, Deserialize)]
struct TrialHead {
    /// The bits of a number in mm.
    short: u64,
    /// Numbers that follow the head.
    n_footing: usize,
}

/// An item for searchers: what it is worn as and marked (as JSON, its length first), then its solid; where a copy is
/// searched in its place, what proofs stand on and that copy.
pub fn item_bytes(item: &SizedItem, ground: &Ground) -> Vec<u8> {
    let trial = ground.trial();
    let footing = trial.map_or(Vec::new(), |trial| trial.footing.to_numbers());
    let known = trial.map(|trial| TrialHead { short: trial.short_mm.to_bits(), n_footing: footing.len() });
    let head = Head { role: item.role.clone(), marks: item.marks.clone(), trial: known };
    // Where that fails nothing stands there, and the searcher says so.
    let head = serde_json::to_vec(&head).unwrap_or_default();
    let mut bytes = (head.len() as u32).to_le_bytes().to_vec();
    bytes.extend(head);
    bytes.extend(footing.iter().flat_map(|number| number.to_le_bytes()));
    bytes.extend(solid_to_bytes(trial.map_or(&item.solid, |trial| &trial.solid)));
    bytes
}

/// The ground of an item as the keeper handed it.
fn ground_of_bytes(bytes: &[u8], options: &Options) -> Option<Ground> {
    let (n, rest) = bytes.split_first_chunk::<4>()?;
    let (head, rest) = rest.split_at_checked(u32::from_le_bytes(*n) as usize)?;
    let head: Head = serde_json::from_slice(head).ok()?;
    let wish = options.wish_for(head.role, &head.marks);
    let Some(TrialHead { short, n_footing }) = head.trial else {
        return Some(Ground::new(&solid_from_bytes(rest)?, &wish));
    };
    let (numbers, solid) = rest.split_at_checked(n_footing.checked_mul(8)?)?;
    let (numbers, _) = numbers.as_chunks::<8>();
    let numbers: Vec<f64> = numbers.iter().map(|&bytes| f64::from_le_bytes(bytes)).collect();
    let footing = Footing::from_numbers(&numbers, &wish.beds)?;
    let trial = Trial { solid: solid_from_bytes(solid)?, short_mm: f64::from_bits(short), footing };
    Some(Ground::on_trial(&trial, &wish))
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
        let ground = ground_of_bytes(bytes, &asked_options(asked)?).ok_or_else(broken)?;
        if self.grounds.len() <= item {
            self.grounds.resize_with(item + 1, || None);
        }
        self.probing = None;
        self.grounds[item] = Some(Arc::new(ground));
        Ok(())
    }

    /// Begins a task; whatever was running is dropped. Whether there is such a task.
    pub fn start(&mut self, note: TaskNote) -> bool {
        self.ended = None;
        self.running = None;
        let Some(Some(ground)) = self.grounds.get(note.item) else { return false };
        let Some(best) = cuts::from_numbers(&note.best) else { return false };
        let tasks = round::tasks(ground, note.round, &best, None);
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
        let probed = probing.cut(Plane { normal, offset_mm }, asked.at_mm, &asked.inside_mm)?;
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
