//! One scale of the bend: larger cells for larger scales, and the fit round every sample.
//!
//! Cells and samples are taken in the order of buckets, so that those near each other are found once.

use super::buckets::{Buckets, Nearby};
use super::cells::{Cells, Piece};
use super::fit::{self, Patch};
use super::{SCALES_MM, Sample, patch_of};

/// Weights fall to zero at this many times the scale: the mean distance is then about half the scale.
const REACH: f64 = 1.25;

/// Larger cells for larger scales: this share of the reach, so that some 20 cells decide.
const CELL_SHARE: f64 = 0.4;

/// Fits made in one step.
const FITS_A_STEP: usize = 10_000;

/// One scale at work.
pub(super) struct Fitting {
    pub scale_index: usize,
    radius_mm: f64,
    /// The larger cells of this scale, in buckets of one radius.
    patches: Vec<Patch>,
    buckets: Buckets,
    /// Samples by the same buckets.
    order: Vec<u32>,
    pub done: usize,
    nearby: Nearby,
    kept: Vec<(u32, f64)>,
}

impl Fitting {
    pub fn new(scale_index: usize, fine: &[Patch], fine_side_mm: f64, samples: &[Sample]) -> Self {
        // At least the nearest cells all round, where samples lie far apart.
        let radius_mm = (REACH * SCALES_MM[scale_index]).max(1.8 * fine_side_mm);
        let side_mm = CELL_SHARE * radius_mm;
        let mut patches = fine.to_vec();
        if side_mm > 1.2 * fine_side_mm {
            let mut cells = Cells::new(side_mm);
            for &Patch { place_mm, normal, area_mm2 } in fine {
                cells.add(&Piece { place_mm, normal, area_mm2, triangle: 0 });
            }
            patches = cells.all.iter().map(patch_of).collect();
        }
        // Those of one bucket side by side, since they are asked for together.
        let by_place = |patches: &[Patch]| Buckets::new(patches.iter().map(|p| p.place_mm), radius_mm);
        patches = by_place(&patches).in_order().iter().map(|&i| patches[i as usize]).collect();
        let buckets = by_place(&patches);
        let order = Buckets::new(samples.iter().map(|s| s.place_mm), radius_mm).in_order().to_vec();
        let (nearby, kept) = (Nearby::default(), Vec::new());
        Self { scale_index, radius_mm, patches, buckets, order, done: 0, nearby, kept }
    }

    pub fn step(&mut self, samples: &mut [Sample]) {
        let to = (self.done + FITS_A_STEP).min(self.order.len());
        for &index in &self.order[self.done..to] {
            let sample = &mut samples[index as usize];
            self.buckets.gather(sample.place_mm, &mut self.nearby);
            let found = fit::fit(
                sample.place_mm,
                sample.normal,
                self.radius_mm,
                &self.patches,
                &self.nearby.found,
                &mut self.kept,
            );
            sample.bends[self.scale_index] = found.bend;
            if self.scale_index == 0 {
                sample.spread = found.spread;
            }
        }
        self.done = to;
    }
}
