//! Sums: the totals are those of the parts, bounds agree with the pieces.
//!
//! Codes: `totals`, `bound`, `line-parts`, `minutes`.
//! Not here: re-checking a bound from its proof (`bounds.rs`).

use crate::minutes::Times;
use crate::records::Plan;

use super::Notes;

/// Sums of at most some hundred numbers written in full.
const SUM_FRACTION: f64 = 1e-9;

/// Minutes are those of the figures beside them and of the numbers assumed.
fn check_minutes(plan: &Plan, notes: &mut Notes) {
    let Some(times) = Times::of(&plan.assumed) else {
        notes.say("minutes", "assumed", "a number behind the finishing minutes is missing");
        return;
    };
    let mut sum = times.pieces_min(&plan.pieces);
    for seam in &plan.seams {
        let found = times.seam_min(seam);
        sum += found;
        let said = seam.cost_min.unwrap_or(0.0);
        notes.expect_close("minutes", &seam.id, "cost_min", found, said, SUM_FRACTION * found.max(1.0));
    }
    let said = plan.totals.finishing_min.unwrap_or(0.0);
    notes.expect_close("minutes", "totals", "finishing_min", sum, said, SUM_FRACTION * sum.max(1.0));
}

/// Checks sums and counts of records against each other.
pub(super) fn check(plan: &Plan, notes: &mut Notes) {
    let totals = &plan.totals;
    let held = plan.pieces.iter().filter(|p| p.pose_kind == crate::records::PoseKind::Held).count();
    for (name, found, said) in [
        ("pieces", plan.pieces.len(), totals.pieces),
        ("loads", plan.loads.len(), totals.loads),
        ("held", held, totals.held),
    ] {
        notes.expect_count("totals", "totals", name, found, said);
    }
    let sum = |f: fn(&crate::records::Seam) -> f64| plan.seams.iter().map(f).sum::<f64>();
    for (name, found, said) in [
        ("seam_mm", sum(|s| s.line_mm), totals.seam_mm),
        ("visible_mm", sum(|s| s.visible_mm), totals.visible_mm),
        ("through_detail_mm", sum(|s| s.through_detail_mm), totals.through_detail_mm),
    ] {
        notes.expect_close("totals", "totals", name, found, said, SUM_FRACTION * found.abs().max(1.0));
    }
    check_minutes(plan, notes);
    for seam in &plan.seams {
        let slack = 1e-6 * seam.line_mm.abs().max(1.0);
        let ordered = 0.0 <= seam.visible_mm
            && seam.visible_mm <= seam.line_mm + slack
            && 0.0 <= seam.through_detail_mm
            && seam.through_detail_mm <= seam.visible_mm + slack
            && 0.0 <= seam.in_hollow_mm
            && seam.in_hollow_mm <= seam.visible_mm + slack;
        if !ordered {
            let text = "a part of its line is longer than the whole";
            notes.number("line-parts", &seam.id, text, seam.visible_mm, seam.line_mm);
        }
    }
    for item in &plan.items {
        let pieces = plan.pieces.iter().filter(|p| p.item == item.id).count();
        for bound in plan.bounds.iter().filter(|b| b.item == item.id) {
            let (least, proven) = (bound.pieces_at_least, bound.proven_fewest);
            if least > pieces || proven != (least == pieces) {
                let text = format!("at least {least} with {pieces} pieces, proven fewest: {proven}");
                notes.say("bound", &item.id, &text);
            }
        }
    }
}
