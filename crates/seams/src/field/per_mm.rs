//! What a mm of line costs at one place, by direction.
//!
//! Weights are ours: no source gives any.

use crate::outline::{HIDDEN_MIN_PER_MM, HOLLOW_SAVES, VISIBLE_MIN_PER_MM};
use seamwright_mesh::curvature::Bend;

/// Mm of plain line a turn of one radian costs, beside what is sharp about it.
const TURN_MM: f64 = 6.0;

/// Bends gentler than a radius of 33 mm cost nothing more.
const GENTLE_PER_MM: f64 = 0.03;

/// Inward bends at which a hollow begins and from which on it is deep.
const HOLLOW_PER_MM: [f64; 2] = [0.04, 0.12];

/// No line costs less than this share of what its exposure says.
const LEAST: f64 = 0.2;

/// A line on the hidden side of a wall, and across another cut, beside a plain one: it is scraped, not
/// filled and sanded.
pub const HIDDEN: f64 = HIDDEN_MIN_PER_MM / VISIBLE_MIN_PER_MM;

/// What a mm costs, by direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerMm {
    /// What a mm of plain line costs there.
    pub seen: f64,
    /// What bends add of that, as a tensor: xx, yy, zz, yz, zx, xy.
    pub bend: [f64; 6],
}

impl PerMm {
    /// Across another cut.
    pub const CUT: Self = Self { seen: HIDDEN, bend: [0.0; 6] };
    /// On a smooth place in the open.
    pub const PLAIN: Self = Self { seen: 1.0, bend: [0.0; 6] };

    /// A mm along a unit tangent, in mm of plain line.
    pub fn along(&self, [x, y, z]: [f64; 3]) -> f64 {
        let [xx, yy, zz, yz, zx, xy] = self.bend;
        let bend = xx * x * x + yy * y * y + zz * z * z + 2.0 * (yz * y * z + zx * z * x + xy * x * y);
        self.seen * (1.0 + bend).max(LEAST)
    }

    /// Of a place that shows, as its surface bends.
    pub fn of(bend: &Bend) -> Self {
        let mut made = Self::PLAIN;
        let axes = [bend.along, bend.across()];
        for (axis, per_mm) in axes.iter().zip(bend.per_mm) {
            made.add(*axis, TURN_MM * (per_mm.abs() - GENTLE_PER_MM).max(0.0));
        }
        made.add(axes[1], -HOLLOW_SAVES * depth(bend));
        made
    }

    /// Adds to what lines along an axis cost.
    pub fn add(&mut self, [x, y, z]: [f64; 3], weight: f64) {
        let products = [x * x, y * y, z * z, y * z, z * x, x * y];
        (0..6).for_each(|k| self.bend[k] += weight * products[k]);
    }
}

/// How deep a hollow is, from 0 to 1.
pub fn depth(bend: &Bend) -> f64 {
    let [begins, deep] = HOLLOW_PER_MM;
    ((-bend.per_mm[0] - begins) / (deep - begins)).clamp(0.0, 1.0)
}
