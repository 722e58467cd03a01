//! Re-checks a plan folder from its files alone, as somebody would who distrusts the planner.
//!
//! How: `plan.json` is taken as a list of claims; every claim that can be derived from the STL and
//! 3MF files is derived again here, with the audit's own small geometry. Nothing is asked of the
//! stages that made the plan (crates `seams`, `loads`, `bed`), with two exceptions that are said
//! where they happen: cells of the plain grid are cut with `mesh::split`, and what of a seam line
//! shows is measured by the one module that defines it, here on meshes read back from the files.
//! Of crate `mesh` only the search tree is used otherwise.
//! Units: mm in item coordinates, bed coordinates after a pose.
//! Not here: reading the folder (the caller hands over its bytes), joints (a seam that lists
//! joints is reported as not audited), masses and times.

mod bounds;
mod faces;
mod files;
mod flat;
mod grid;
mod items;
mod joins;
mod loads;
mod lumps;
mod marks;
mod mates;
mod patches;
mod pieces;
mod poses;
mod shadow;
mod shown;
mod stl;
mod threemf;
mod totals;

use std::collections::BTreeMap;

use seamwright_mesh::Solid;

use crate::records::{AuditFigures, Plan};

/// The files of a plan folder: path relative to the folder, with `/`, and bytes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Folder {
    /// Every file below the folder.
    pub files: BTreeMap<String, Vec<u8>>,
}

/// One thing that does not hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Stable name of the check, e.g. `not-closed`.
    pub code: &'static str,
    /// Id or path of what it is about.
    pub subject: String,
    /// One plain sentence without a dot at its end.
    pub text: String,
    /// The number found, where there is one.
    pub value: Option<f64>,
    /// The number claimed or the most (or least) allowed.
    pub allowed: Option<f64>,
}

/// What the audit found.
#[derive(Debug, Clone, PartialEq)]
pub struct AuditReport {
    /// Everything that does not hold, in order of checking; empty where all holds.
    pub findings: Vec<Finding>,
    /// The figures for `plan.json`; their `ok` says whether there are no findings.
    pub figures: AuditFigures,
}

impl AuditReport {
    /// Whether all holds.
    pub fn ok(&self) -> bool {
        self.figures.ok
    }
}

/// Re-checks a folder, its own audit figures included.
pub fn audit(folder: &Folder) -> AuditReport {
    let mut notes = Notes::default();
    let Some(plan) = files::read_plan(folder, &mut notes) else {
        return notes.report(Figures::default());
    };
    let figures = examine_plan(folder, &plan, &mut notes);
    compare_own_figures(&plan, &figures, &mut notes);
    notes.report(figures)
}

/// Re-checks a folder whose `plan.json` has no audit figures yet: what a planner calls to get them.
pub fn examine(folder: &Folder) -> AuditReport {
    let mut notes = Notes::default();
    let Some(plan) = files::read_plan(folder, &mut notes) else {
        return notes.report(Figures::default());
    };
    let figures = examine_plan(folder, &plan, &mut notes);
    notes.report(figures)
}

/// The figures as they grow.
#[derive(Debug, Clone, Copy)]
struct Figures {
    volume_error: f64,
    open_edges: usize,
    nonmanifold_edges: usize,
    worst_fit_margin_mm: f64,
    overlaps: usize,
}

impl Default for Figures {
    fn default() -> Self {
        Self {
            volume_error: 0.0,
            open_edges: 0,
            nonmanifold_edges: 0,
            worst_fit_margin_mm: f64::MAX,
            overlaps: 0,
        }
    }
}

fn examine_plan(folder: &Folder, plan: &Plan, notes: &mut Notes) -> Figures {
    let mut figures = Figures::default();
    files::check_records(plan, notes);
    files::check_listing(folder, plan, notes);
    let items = items::read_and_check(folder, plan, notes);
    let pieces = pieces::read_and_check(folder, plan, &mut figures, notes);
    items::check_conservation(plan, &items, &pieces, &mut figures, notes);
    mates::check(plan, &items, &pieces, notes);
    let solids: Vec<Option<Solid>> = plan
        .items
        .iter()
        .zip(&items)
        .map(|(record, item)| shown::solid_of(&record.id, &item.as_ref()?.mesh, notes))
        .collect();
    shown::check(plan, &items, &solids, &pieces, notes);
    grid::check(plan, &solids, notes);
    // What follows goes by the files' own triangles.
    drop(solids);
    let posed = poses::check(folder, plan, &pieces, &mut figures, notes);
    loads::check(folder, plan, &posed, &mut figures, notes);
    joins::check(plan, &pieces, notes);
    marks::check(plan, &pieces, notes);
    bounds::check(plan, &items, notes);
    totals::check(plan, notes);
    figures
}

fn compare_own_figures(plan: &Plan, found: &Figures, notes: &mut Notes) {
    let Some(own) = &plan.audit else {
        notes.say("audit-figures", "plan.json", "the plan holds no audit figures");
        return;
    };
    // The plan is written after its own audit: if that was right, these agree to rounding.
    notes.expect_close(
        "audit-figures",
        "plan.json",
        "volume_error",
        found.volume_error,
        own.volume_error,
        1e-12,
    );
    notes.expect_close(
        "audit-figures",
        "plan.json",
        "worst_fit_margin_mm",
        found.worst_fit_margin_mm,
        own.worst_fit_margin_mm,
        1e-6,
    );
    for (name, found, own) in [
        ("open_edges", found.open_edges, own.open_edges),
        ("nonmanifold_edges", found.nonmanifold_edges, own.nonmanifold_edges),
        ("overlaps", found.overlaps, own.overlaps),
    ] {
        notes.expect_count("audit-figures", "plan.json", name, found, own);
    }
    let ok = notes.findings.is_empty();
    if own.ok != ok {
        let text = format!("the plan says its audit {}", if own.ok { "holds" } else { "does not hold" });
        notes.say("audit-figures", "plan.json", &text);
    }
}

/// Collects findings.
#[derive(Debug, Default)]
struct Notes {
    findings: Vec<Finding>,
}

impl Notes {
    fn say(&mut self, code: &'static str, subject: &str, text: &str) {
        self.findings.push(Finding {
            code,
            subject: subject.to_owned(),
            text: text.to_owned(),
            value: None,
            allowed: None,
        });
    }

    /// A finding about a number.
    fn number(&mut self, code: &'static str, subject: &str, text: &str, value: f64, allowed: f64) {
        self.findings.push(Finding {
            code,
            subject: subject.to_owned(),
            text: text.to_owned(),
            value: Some(value),
            allowed: Some(allowed),
        });
    }

    /// A finding unless `found` is within `tolerance` of `claimed` (never so for not-a-number).
    fn expect_close(
        &mut self,
        code: &'static str,
        subject: &str,
        name: &str,
        found: f64,
        claimed: f64,
        tolerance: f64,
    ) {
        let close = (found - claimed).abs() <= tolerance;
        if !close {
            let text = format!("{name} is {found:.6}, the plan says {claimed:.6}");
            self.number(code, subject, &text, found, claimed);
        }
    }

    fn expect_count(&mut self, code: &'static str, subject: &str, name: &str, found: usize, claimed: usize) {
        if found != claimed {
            let text = format!("{name} is {found}, the plan says {claimed}");
            self.number(code, subject, &text, found as f64, claimed as f64);
        }
    }

    fn report(self, figures: Figures) -> AuditReport {
        let ok = self.findings.is_empty();
        AuditReport {
            findings: self.findings,
            figures: AuditFigures {
                volume_error: figures.volume_error,
                open_edges: figures.open_edges,
                nonmanifold_edges: figures.nonmanifold_edges,
                // No piece was posed: nothing fits.
                worst_fit_margin_mm: if figures.worst_fit_margin_mm == f64::MAX {
                    -1.0
                } else {
                    figures.worst_fit_margin_mm
                },
                overlaps: figures.overlaps,
                ok,
            },
        }
    }
}
