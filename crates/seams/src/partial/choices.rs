//! Which regions of a section are worth cutting alone: the small choices that part something.
//!
//! How: lumps are the nodes and regions the edges of a graph. Worth trying are each region that parts
//! its lumps alone (regions between the same two lumps count as one), pairs that do so only
//! together, and everything round one lump. Larger choices are several of these one after the other.
//! Not here: what they cost, whether the parts can be pulled apart (`joining.rs`).

use seamwright_mesh::split::regions::Regions;

/// Regions whose pairs are tried too; a section with more is a comb, and pairs of teeth are many.
const MOST_PAIRED: usize = 24;

/// Some regions of a section that part it when they alone are cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Indices of the regions, ascending.
    pub regions: Vec<usize>,
    /// The lumps of the full cut that stay together below the regions.
    pub below: Vec<Vec<usize>>,
    /// Those above.
    pub above: Vec<Vec<usize>>,
}

/// The choices worth trying, smallest first; never all regions, which is the cut by the whole plane.
pub fn choices(regions: &Regions) -> Vec<Choice> {
    let list = regions.list();
    let mut bundles: Vec<Vec<usize>> = Vec::new();
    for (index, region) in list.iter().enumerate() {
        match bundles.iter_mut().find(|bundle| list[bundle[0]].lumps == region.lumps) {
            Some(bundle) => bundle.push(index),
            None => bundles.push(vec![index]),
        }
    }
    let mut found: Vec<Choice> = Vec::new();
    let mut parts = |mut chosen: Vec<usize>| -> bool {
        chosen.sort_unstable();
        if chosen.len() == list.len() || found.iter().any(|choice| choice.regions == chosen) {
            return false;
        }
        let Ok([below, above]) = regions.groups(&chosen) else { return false };
        found.push(Choice { regions: chosen, below, above });
        true
    };
    let alone: Vec<bool> = bundles.iter().map(|bundle| parts(bundle.clone())).collect();
    let held: Vec<&Vec<usize>> =
        bundles.iter().zip(alone).filter(|(_, alone)| !alone).map(|(bundle, _)| bundle).collect();
    if held.len() <= MOST_PAIRED {
        for (n, first) in held.iter().enumerate() {
            for second in &held[n + 1..] {
                parts([first.as_slice(), second].concat());
            }
        }
    }
    for lump in 0..regions.n_lumps().iter().sum() {
        parts((0..list.len()).filter(|&index| list[index].lumps.contains(&lump)).collect());
    }
    found
}
