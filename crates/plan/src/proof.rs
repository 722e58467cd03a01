//! Proofs of least numbers of pieces: as the search has them, as files have them, in words.
//!
//! Not here: how they are found (`seams::bound`), their check (`audit/bounds.rs`).

use crate::records::{Bound, LumpProof, Proof, ProofBy};
use seamwright_seams::bound;

/// As `plan.json` has it.
pub fn record(proof: &bound::Proof) -> Proof {
    let lump = |lump: &bound::LumpProof| {
        let (by, points_mm, sets) = match &lump.reason {
            bound::Reason::One => (ProofBy::Lump, Vec::new(), Vec::new()),
            bound::Reason::Volume => (ProofBy::Volume, Vec::new(), Vec::new()),
            bound::Reason::Points { points_mm, sets } => (ProofBy::Points, points_mm.clone(), sets.clone()),
        };
        LumpProof { at_mm: lump.at_mm, pieces_at_least: lump.pieces_at_least, by, points_mm, sets }
    };
    Proof { lumps: proof.lumps.iter().map(lump).collect() }
}

/// As the search has it.
pub fn of_record(proof: Proof) -> bound::Proof {
    let lump = |lump: LumpProof| {
        let reason = match lump.by {
            ProofBy::Lump => bound::Reason::One,
            ProofBy::Volume => bound::Reason::Volume,
            ProofBy::Points => bound::Reason::Points { points_mm: lump.points_mm, sets: lump.sets },
        };
        bound::LumpProof { at_mm: lump.at_mm, pieces_at_least: lump.pieces_at_least, reason }
    };
    bound::Proof { lumps: proof.lumps.into_iter().map(lump).collect() }
}

/// The same proof on the item reflected in X.
pub fn mirrored(proof: &Proof, width_mm: f64) -> Proof {
    let flip = crate::mirror::flip(width_mm);
    let lump = |lump: &LumpProof| LumpProof {
        at_mm: flip.apply(lump.at_mm),
        points_mm: lump.points_mm.iter().map(|&p| flip.apply(p)).collect(),
        ..lump.clone()
    };
    Proof { lumps: proof.lumps.iter().map(lump).collect() }
}

/// The record of an item cut into `n_pieces`.
pub fn bound_record(item_id: &str, proof: &Proof, n_pieces: usize) -> Bound {
    let pieces_at_least = proof.lumps.iter().map(|lump| lump.pieces_at_least).sum();
    Bound {
        item: item_id.into(),
        pieces_at_least,
        proven_fewest: pieces_at_least == n_pieces,
        how: how(proof, pieces_at_least),
        proof: proof.clone(),
    }
}

/// One plain sentence without a dot at its end.
fn how(proof: &Proof, pieces_at_least: usize) -> String {
    let of = |by: ProofBy| proof.lumps.iter().filter(move |lump| lump.by == by);
    let (n_points, n_sets) = of(ProofBy::Points)
        .fold((0, 0), |(points, sets), lump| (points + lump.points_mm.len(), sets + lump.sets.len()));
    let lumps = if proof.lumps.len() > 1 {
        format!("its {} lumps are apart; ", proof.lumps.len())
    } else {
        String::new()
    };
    let why = if n_points > 0 {
        format!(
            "of {n_points} of its points no bed holds any of {n_sets} sets together, and any {} pieces would hold such a set",
            pieces_at_least - 1
        )
    } else if of(ProofBy::Volume).next().is_some() {
        "its volume needs the room of so many beds".into()
    } else {
        "it is there, so it is printed".into()
    };
    format!("{lumps}{why}")
}
