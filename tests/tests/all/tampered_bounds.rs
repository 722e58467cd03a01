//! False least numbers of pieces, each of which the audit must catch.

use super::*;
use seamwright_plan::records::{Bound, LumpProof, Proof, ProofBy};

fn proof(points_mm: &[[f64; 3]], sets: &[&[usize]], pieces_at_least: usize) -> Bound {
    let lump = LumpProof {
        at_mm: [0.0; 3],
        pieces_at_least,
        by: ProofBy::Points,
        points_mm: points_mm.to_vec(),
        sets: sets.iter().map(|set| set.to_vec()).collect(),
    };
    Bound {
        item: "box".into(),
        pieces_at_least,
        proven_fewest: pieces_at_least == 2,
        how: "by its corners".into(),
        proof: Proof { lumps: vec![lump] },
    }
}

#[test]
fn a_false_least_number_is_caught() {
    // The bed of the box in two has 96 x 62 x 55 mm of room: its diagonal is 127 mm.
    let corners: Vec<[f64; 3]> = (0..8)
        .map(|i| [0, 1, 2].map(|k| if i >> k & 1 == 1 { [100.0, 60.0, 40.0][k] } else { 0.0 }))
        .collect();
    let all: Vec<usize> = (0..8).collect();
    let with = |bound: Bound| {
        let mut draft = box_in_two();
        draft.plan.bounds = vec![bound];
        draft
    };
    // 100 x 60 x 40 in 96 x 62 x 55: two of three sides have little room, so no turn helps.
    let good = with(proof(&corners, &[&all], 2));
    let report = audit(&good.folder());
    assert!(report.ok(), "{:#?}", says(&report));
    // More than the plan has.
    caught("bound", &with(proof(&corners, &[&all], 3)));
    caught("bound-dealing", &with(proof(&corners, &[&all], 3)));
    // A set that fits: one end of the box.
    let end: Vec<usize> = all.iter().copied().filter(|i| i & 1 == 0).collect();
    caught("bound-set", &with(proof(&corners, &[&end], 2)));
    // Points that are not the item's.
    let far: Vec<[f64; 3]> = corners.iter().map(|p| [p[0] * 1.01, p[1], p[2]]).collect();
    caught("bound-point", &with(proof(&far, &[&all], 2)));
    // A set of a point that is not there, a lump that is not there, an item that is not there.
    caught("bound-set", &with(proof(&corners, &[&[0, 9]], 2)));
    let elsewhere = |change: &dyn Fn(&mut Bound)| {
        let mut bound = proof(&corners, &[&all], 2);
        change(&mut bound);
        with(bound)
    };
    caught("bound-lumps", &elsewhere(&|bound| bound.proof.lumps[0].at_mm = [50.0, 30.0, 20.0]));
    caught("bound-lumps", &elsewhere(&|bound| bound.proof.lumps[0].by = ProofBy::Lump));
    caught("bound-volume", &elsewhere(&|bound| bound.proof.lumps[0].by = ProofBy::Volume));
    caught("bound", &elsewhere(&|bound| bound.item = "other".into()));
    caught("bound", &elsewhere(&|bound| bound.proof.lumps.clear()));
    // Fewest is claimed of a plan that has more pieces than proved.
    caught(
        "bound",
        &elsewhere(&|bound| {
            bound.proof.lumps[0].pieces_at_least = 1;
            bound.pieces_at_least = 1;
            bound.proven_fewest = true;
        }),
    );
    // A deal that avoids every set: no pair is whole in two pieces, so two pieces may be enough.
    let pairs: [&[usize]; 2] = [&[0, 7], &[1, 6]];
    caught("bound-dealing", &with(proof(&corners, &pairs, 3)));
}

#[test]
fn a_least_number_on_a_round_bed_is_checked_too() {
    let round = Bed { shape: BedShape::Round, size_mm: [100.0, 100.0, 45.0], ..rect_bed([0.0; 3], 5.0) };
    let with = |points_mm: &[[f64; 3]]| {
        let mut draft = letter_in_two(round.clone());
        let set: Vec<usize> = (0..points_mm.len()).collect();
        let bound = proof(points_mm, &[&set], 2);
        draft.plan.bounds = vec![Bound { item: draft.plan.items[0].id.clone(), ..bound }];
        draft
    };
    // The base of 60 x 90 mm is 108 mm from corner to corner; the cylinder of 90 x 40 mm has room for 98.
    let across = [[0.0; 3], [60.0, 0.0, 0.0], [60.0, 90.0, 0.0], [0.0, 90.0, 0.0]];
    // No two of these are so far apart, but they lie on a circle of 100 mm, and tilted as far as 40 mm of
    // height allow still on one of 91 mm.
    let pointed = [[0.0; 3], [60.0, 0.0, 0.0], [30.0, 90.0, 0.0]];
    for points_mm in [&across[..], &pointed] {
        let report = audit(&with(points_mm).folder());
        assert!(report.ok(), "{points_mm:?}: {:#?}", says(&report));
    }
    caught("bound-set", &with(&across[..2]));
}
