//! Whether `plan.json` can be read, its ids and references are sound, and the folder holds exactly
//! the files it lists.
//!
//! Codes: `plan-unreadable`, `null`, `format`, `bad-id`, `repeated-id`, `unknown-id`, `bad-path`,
//! `missing-file`, `stray-file`, `run-unreadable`, `sha256`.

use std::collections::BTreeSet;

use crate::records::{PLAN_FORMAT, Plan, RUN_FORMAT, Run, VERSION, is_id};

use super::{Folder, Notes};

/// Parses `plan.json`; `None` (with a finding) where it cannot be read.
pub(super) fn read_plan(folder: &Folder, notes: &mut Notes) -> Option<Plan> {
    let Some(bytes) = folder.files.get("plan.json") else {
        notes.say("plan-unreadable", "plan.json", "there is no plan.json");
        return None;
    };
    match serde_json::from_slice::<serde_json::Value>(bytes) {
        Ok(value) => {
            if let Some(path) = null_in(&value, "") {
                notes.say("null", "plan.json", &format!("{path} is null; what is not known is left out"));
            }
        }
        Err(error) => {
            notes.say("plan-unreadable", "plan.json", &error.to_string());
            return None;
        }
    }
    match serde_json::from_slice(bytes) {
        Ok(plan) => Some(plan),
        Err(error) => {
            notes.say("plan-unreadable", "plan.json", &error.to_string());
            None
        }
    }
}

fn null_in(value: &serde_json::Value, path: &str) -> Option<String> {
    match value {
        serde_json::Value::Null => Some(path.to_owned()),
        serde_json::Value::Array(values) => {
            values.iter().enumerate().find_map(|(i, v)| null_in(v, &format!("{path}[{i}]")))
        }
        serde_json::Value::Object(fields) => {
            fields.iter().find_map(|(name, v)| null_in(v, &format!("{path}.{name}")))
        }
        _ => None,
    }
}

/// Checks ids, references, formats and hashes.
pub(super) fn check_records(plan: &Plan, notes: &mut Notes) {
    if plan.format != PLAN_FORMAT || plan.version != VERSION {
        notes.say("format", "plan.json", &format!("{} version {} is not known", plan.format, plan.version));
    }
    let items: Vec<&str> = plan.items.iter().map(|x| x.id.as_str()).collect();
    let beds: Vec<&str> = plan.beds.iter().map(|x| x.id.as_str()).collect();
    let pieces: Vec<&str> = plan.pieces.iter().map(|x| x.id.as_str()).collect();
    let extras: Vec<&str> = plan.extras.iter().map(|x| x.id.as_str()).collect();
    let seams: Vec<&str> = plan.seams.iter().map(|x| x.id.as_str()).collect();
    let loads: Vec<&str> = plan.loads.iter().map(|x| x.id.as_str()).collect();
    // Pieces and extras share the name space of a 3MF's objects.
    let printed: Vec<&str> = pieces.iter().chain(&extras).copied().collect();
    for ids in [&items, &beds, &printed, &seams, &loads] {
        let mut seen = BTreeSet::new();
        for id in ids {
            if !is_id(id) {
                notes.say("bad-id", id, "an id has 1 to 40 of a-z, 0-9 and -");
            }
            if !seen.insert(*id) {
                notes.say("repeated-id", id, "the id is used twice");
            }
        }
    }
    let mut known = |subject: &str, id: &str, ids: &[&str]| {
        if !ids.contains(&id) {
            notes.say("unknown-id", subject, &format!("{id:?} is not in the plan"));
        }
    };
    for item in &plan.items {
        for other in item.copy_of.iter().chain(&item.mirror_of) {
            known(&item.id, other, &items);
        }
    }
    for piece in &plan.pieces {
        known(&piece.id, &piece.item, &items);
        known(&piece.id, &piece.fit.bed, &beds);
        known(&piece.id, &piece.load, &loads);
    }
    for extra in &plan.extras {
        known(&extra.id, &extra.load, &loads);
    }
    for seam in &plan.seams {
        known(&seam.id, &seam.item, &items);
        seam.pieces.iter().for_each(|id| known(&seam.id, id, &pieces));
    }
    plan.bounds.iter().for_each(|row| known("bounds", &row.item, &items));
    plan.grid.iter().for_each(|row| known("grid", &row.item, &items));
    for load in &plan.loads {
        known(&load.id, &load.bed, &beds);
        load.pieces.iter().for_each(|id| known(&load.id, id, &pieces));
        load.extras.iter().flatten().for_each(|id| known(&load.id, id, &extras));
    }
    for step in &plan.join_order {
        let subject = format!("step {}", step.step);
        step.seams.iter().for_each(|id| known(&subject, id, &seams));
        step.from.iter().chain(&step.to).for_each(|id| known(&subject, id, &pieces));
    }
    for item in &plan.items {
        let sha = item.source_sha256.as_bytes();
        if sha.len() != 64 || !sha.iter().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(b)) {
            notes.say("sha256", &item.id, "source_sha256 is not 64 lower-case hex digits");
        }
    }
}

/// Checks that every listed file is there under its due name and no other stands beside it.
pub(super) fn check_listing(folder: &Folder, plan: &Plan, notes: &mut Notes) {
    let mut due: BTreeSet<String> = BTreeSet::new();
    let mut list = |id: &str, file: &str, expected: String, notes: &mut Notes| {
        if file != expected {
            notes.say("bad-path", id, &format!("the file is {file:?}, due is {expected:?}"));
        }
        if !folder.files.contains_key(file) {
            notes.say("missing-file", id, &format!("{file} is not there"));
        }
        due.insert(file.to_owned());
    };
    for x in &plan.items {
        list(&x.id, &x.file, format!("items/{}.stl", x.id), notes);
    }
    for x in &plan.pieces {
        list(&x.id, &x.file, format!("pieces/{}.stl", x.id), notes);
    }
    for x in &plan.extras {
        list(&x.id, &x.file, format!("extras/{}.stl", x.id), notes);
    }
    for x in &plan.loads {
        list(&x.id, &x.file, format!("loads/{}.3mf", x.id), notes);
    }
    due.extend(plan.loads.iter().map(|x| format!("loads/{}.svg", x.id)));
    due.extend(plan.pieces.iter().map(|x| format!("posed/{}.stl", x.id)));
    due.extend(plan.extras.iter().map(|x| format!("posed/{}.stl", x.id)));
    const OURS: [&str; 5] = ["items/", "pieces/", "extras/", "loads/", "posed/"];
    for path in folder.files.keys() {
        if OURS.iter().any(|dir| path.starts_with(dir)) && !due.contains(path) {
            notes.say("stray-file", path, "the plan does not list it");
        }
    }
    match folder.files.get("run.json").map(|bytes| serde_json::from_slice::<Run>(bytes)) {
        None => notes.say("missing-file", "run.json", "run.json is not there"),
        Some(Err(error)) => notes.say("run-unreadable", "run.json", &error.to_string()),
        Some(Ok(run)) if run.format != RUN_FORMAT || run.version != VERSION => {
            notes.say("format", "run.json", &format!("{} version {} is not known", run.format, run.version));
        }
        Some(Ok(_)) => {}
    }
}
