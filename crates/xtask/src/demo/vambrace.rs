//! The vambrace: a tapered sleeve for the left forearm with a slit along its inside, a keel, two
//! riveted bands and one wing that wraps round from the thumb's side, so left and right differ.
//!
//! Frame: z from the wrist to the elbow, -y the outside of the forearm, the slit at +y. The inner
//! skin follows the plain form at 3.6 mm.

use super::field::{Curve, Feather, as_distance, band, bead, hollow, meet, notch, ramp, with_rivets};
use super::mesher::Sampling;
use libm::{atan2, cos, hypot, sin};

/// Thickness of the shell, mm.
const WALL_MM: f64 = 3.6;
/// Half the width of the slit, mm.
const HALF_SLIT_MM: f64 = 7.0;
/// Middles of the wrist and elbow bands.
const BANDS_MM: [f64; 2] = [32.0, 196.0];

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling {
        low_mm: [-100.0, -100.0, -12.0],
        high_mm: [100.0, 100.0, 290.0],
        cell_mm: 1.2,
        mirrored: false,
    }
}

const HALF_WIDTH: Curve<6> =
    Curve([(0.0, 40.0), (20.0, 36.5), (70.0, 41.0), (140.0, 52.0), (200.0, 58.5), (270.0, 67.0)]);
const HALF_DEPTH: Curve<6> =
    Curve([(0.0, 36.0), (20.0, 33.0), (70.0, 38.0), (140.0, 49.0), (200.0, 56.0), (270.0, 66.0)]);

/// The plain form: zero on the surface, not a distance.
fn form(p: [f64; 3]) -> f64 {
    let [x, y, z] = p;
    let radius = hypot(x / HALF_WIDTH.at(z), y / HALF_DEPTH.at(z));
    let keel = 0.09 * (1.0 - x.abs() / 26.0).max(0.0) * (1.0 - x.abs() / 26.0).max(0.0) * ramp(0.0, -20.0, y);
    (radius - 1.0 - keel) * 50.0
}

/// Upper edge: drawn up to a point over the elbow.
fn top(p: [f64; 3]) -> f64 {
    218.0 + 44.0 * ramp(20.0, -62.0, p[1]) - 0.20 * p[0].abs()
}

const WING: [Feather; 5] = [
    Feather { root: [34.0, 64.0], angle: 1.95, long: 104.0, bend: 9.0, half_wide: 11.5 },
    Feather { root: [36.0, 60.0], angle: 1.74, long: 112.0, bend: 9.0, half_wide: 12.0 },
    Feather { root: [38.0, 57.0], angle: 1.53, long: 112.0, bend: 8.0, half_wide: 12.0 },
    Feather { root: [41.0, 55.0], angle: 1.32, long: 104.0, bend: 7.0, half_wide: 11.5 },
    Feather { root: [44.0, 54.0], angle: 1.10, long: 90.0, bend: 6.0, half_wide: 10.5 },
];

/// The vambrace with the places of its rivets.
pub struct Vambrace {
    rivets: Vec<[f64; 3]>,
}

impl Vambrace {
    /// Finds where the rivets sit.
    pub fn new() -> Self {
        let mut rivets = Vec::new();
        for z in BANDS_MM {
            for k in 0..12 {
                let angle = 0.36 + 0.506 * f64::from(k);
                rivets.extend(meet(form, |r| [r * sin(angle), r * cos(angle), z], 100.0, 10.0, 1.3));
            }
        }
        Self { rivets }
    }

    /// Signed distance of the whole vambrace.
    pub fn distance(&self, p: [f64; 3]) -> f64 {
        let plain = as_distance(form, p);
        if plain.abs() > 14.0 {
            return if plain > 0.0 { plain - 5.0 } else { -plain - WALL_MM };
        }
        let [x, y, z] = p;
        let (under_top, over_wrist) = (top(p) - z, z);
        let slit = if y > 0.0 { HALF_SLIT_MM - x.abs() } else { -40.0 };
        let mut outer = plain;
        if plain.abs() < 9.0 {
            outer -= relief(p, under_top, over_wrist, slit);
            outer = with_rivets(outer, p, &self.rivets, 3.9);
        }
        let shell = outer.max(-(plain + WALL_MM));
        shell.max(-under_top * 0.85).max(-over_wrist).max(slit)
    }
}

fn relief(p: [f64; 3], under_top: f64, over_wrist: f64, slit: f64) -> f64 {
    let [x, y, z] = p;
    let mut up = 2.6 * bead((under_top - 4.0) / 5.0) - 1.2 * notch((under_top - 12.5) / 3.0);
    up += 2.6 * bead((over_wrist - 4.0) / 5.0) - 1.2 * notch((over_wrist - 12.5) / 3.0);
    let clear = ramp(10.0, 15.0, under_top) * ramp(6.0, 10.0, -slit);
    up += (1.4 * bead((-slit - 4.0) / 4.0)) * ramp(8.0, 14.0, under_top.min(over_wrist));
    for middle in BANDS_MM {
        let q = z - middle;
        up += (1.7 * band(q, 7.0, 2.2) - 1.4 * notch((q.abs() - 12.2) / 3.0)) * clear;
    }
    // The sleeve unrolled about the keel: u to the thumb's side, in mm at the mean radius.
    let u = atan2(x, -y) * 48.0;
    let mut wing: f64 = 0.0;
    for (k, feather) in WING.iter().enumerate() {
        let relief = feather.relief([u, z]);
        if relief > 0.0 {
            wing = wing.max(0.25 * (WING.len() - k) as f64 + 2.2 * relief);
        }
    }
    up += wing;
    // Three leaves let in on the other side.
    let climb = (z - 50.0) / 124.0;
    if (0.0..1.0).contains(&climb) && u < -14.0 {
        let spread = -u / (0.7 + 0.45 * climb);
        let nearest = (spread / 26.0 - 0.25).round().clamp(1.0, 4.0) + 0.25;
        let leaf = climb.sqrt() * (1.0 - climb) * 2.6;
        up -= 1.9 * hollow((spread - nearest * 26.0) / (7.0 * leaf + 1.0)) * leaf.min(1.0);
    }
    up
}
