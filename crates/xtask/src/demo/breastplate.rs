//! The breastplate: a keeled shell with a lantern on the chest between two raised wings, a belted
//! waist and three pointed lames below it.
//!
//! Frame: x to the wearer's left, y backward (the plate bulges towards -y), z up from the lowest
//! point of the lames. Even in x. The inner skin follows the plain form at 4 mm.

use super::field::{
    Curve, Feather, Outline, almond, as_distance, band, bead, hollow, meet, notch, plates, ramp, with_rivets,
};
use super::mesher::Sampling;
use libm::{cos, hypot, pow, sin};

/// Thickness of the shell, mm.
const WALL_MM: f64 = 4.0;
/// Middle of the lantern's disc and its radius, front view.
const DISC_MM: ([f64; 2], f64) = ([0.0, 338.0], 45.0);
/// Height of the belt's middle.
const BELT_MM: f64 = 176.0;

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling { low_mm: [0.0, -185.0, -15.0], high_mm: [225.0, 25.0, 520.0], cell_mm: 1.55, mirrored: true }
}

const HALF_WIDTH: Curve<7> = Curve([
    (0.0, 196.0),
    (90.0, 172.0),
    (176.0, 160.0),
    (270.0, 184.0),
    (345.0, 196.0),
    (430.0, 184.0),
    (505.0, 150.0),
]);
const DEPTH: Curve<7> = Curve([
    (0.0, 132.0),
    (90.0, 120.0),
    (176.0, 118.0),
    (270.0, 142.0),
    (330.0, 148.0),
    (420.0, 124.0),
    (505.0, 82.0),
]);

/// The plain form: zero on the surface, not a distance.
fn form(p: [f64; 3]) -> f64 {
    let (x, y, z) = (p[0].abs(), p[1], p[2]);
    let (u, v) = (x / HALF_WIDTH.at(z), y / DEPTH.at(z));
    let radius = pow(pow(u, 2.25) + pow(v.abs(), 2.25), 1.0 / 2.25);
    let from_disc = hypot(x - DISC_MM.0[0], z - DISC_MM.0[1]);
    let keel =
        0.06 * pow((1.0 - x / 70.0).max(0.0), 2.0) * ramp(DISC_MM.1 + 4.0, DISC_MM.1 + 60.0, from_disc);
    // Two slight swells of the chest beside the keel.
    let swell = 0.035 * hollow((hypot((x - 88.0) / 92.0, (z - 345.0) / 95.0)).min(1.0));
    (radius - 1.0 - keel - swell) * 140.0
}

const WING: [Feather; 6] = [
    Feather { root: [22.0, 376.0], angle: 1.02, long: 92.0, bend: -7.0, half_wide: 14.0 },
    Feather { root: [30.0, 368.0], angle: 0.78, long: 122.0, bend: -9.0, half_wide: 15.0 },
    Feather { root: [36.0, 358.0], angle: 0.54, long: 128.0, bend: -9.0, half_wide: 15.0 },
    Feather { root: [40.0, 347.0], angle: 0.30, long: 124.0, bend: -8.0, half_wide: 15.0 },
    Feather { root: [41.0, 336.0], angle: 0.07, long: 116.0, bend: -7.0, half_wide: 14.0 },
    Feather { root: [38.0, 324.0], angle: -0.17, long: 98.0, bend: -6.0, half_wide: 13.0 },
];

/// Relief of the lantern on its disc, 0 to about 5 mm, front view around the disc's middle.
fn lantern(x: f64, z: f64) -> f64 {
    let from_middle = hypot(x, z);
    let mut up = 2.6 * bead((from_middle - DISC_MM.1 + 5.0) / 5.0);
    if from_middle < DISC_MM.1 - 6.0 {
        // Rays behind the lantern.
        let angle = libm::atan2(x, z);
        let ray = hollow((angle * 18.0 / std::f64::consts::PI).fract() * 2.0 - 1.0);
        up += 0.9 * ray * ramp(16.0, 24.0, from_middle) * ramp(DISC_MM.1 - 6.0, DISC_MM.1 - 9.0, from_middle);
    }
    // The frame tapers downward; its pane is let in and holds a flame.
    let half = 11.5 + 0.16 * z;
    let frame = (x - half).max((z + 1.0).abs() - 15.5);
    let pane = (x - half + 3.6).max((z + 1.0).abs() - 12.0);
    if frame < 0.0 {
        up = 2.2 + (-frame / 1.5).min(1.0) * 1.6;
    }
    if pane < 0.0 {
        up = 1.4 + 2.2 * (-almond([z + 2.0, x], 9.0, 4.2) / 2.0).clamp(0.0, 1.0);
    }
    let roof = (x - (27.0 - z) * 1.35).max(14.0 - z).max(z - 25.0);
    if roof < 0.0 {
        up = up.max(2.4 + (-roof / 1.5).min(1.0) * 2.0);
    }
    up.max(3.2 * bead((hypot(x, z - 29.5) - 5.0) / 2.0))
        .max(3.4 * bead(hypot(x * x * x / 2197.0, (z + 18.5) / 3.2)))
}

/// The breastplate's outline and the places of its rivets.
pub struct Breastplate {
    outline: Outline,
    rivets: Vec<[f64; 3]>,
}

impl Breastplate {
    /// Draws the outline and finds where the rivets sit.
    pub fn new() -> Self {
        // Right half in the front view; it goes on a little past x = 0 so that no edge lies there.
        let outline = Outline::through(&[
            [-90.0, 12.0],
            [-45.0, 5.0],
            [0.0, 0.0],
            [0.0, 0.0],
            [45.0, 5.0],
            [110.0, 16.0],
            [205.0, 44.0],
            [260.0, 60.0],
            [260.0, 60.0],
            [260.0, 282.0],
            [260.0, 282.0],
            [205.0, 290.0],
            [172.0, 316.0],
            [150.0, 356.0],
            [138.0, 404.0],
            [136.0, 452.0],
            [143.0, 496.0],
            [143.0, 496.0],
            [92.0, 503.0],
            [92.0, 503.0],
            [86.0, 478.0],
            [66.0, 452.0],
            [36.0, 436.0],
            [0.0, 431.0],
            [-36.0, 436.0],
            [-90.0, 470.0],
            [-90.0, 470.0],
            [-90.0, 12.0],
        ]);
        let mut rivets = Vec::new();
        let mut rivet = |x: f64, z: f64| rivets.extend(meet(form, |y| [x, y, z], -200.0, 0.0, 1.5));
        for k in 0..6 {
            rivet(14.0 + 27.0 * f64::from(k), BELT_MM);
        }
        for k in 0..7 {
            let angle = 0.22 + 0.449 * f64::from(k);
            rivet(DISC_MM.0[0] + 52.5 * sin(angle), DISC_MM.0[1] - 52.5 * cos(angle));
        }
        for (x, z) in [(158.0, 366.0), (154.0, 408.0), (153.0, 450.0), (120.0, 482.0), (172.0, 334.0)] {
            rivet(x, z);
        }
        Self { outline, rivets }
    }

    fn relief(&self, p: [f64; 3], inside_mm: f64) -> f64 {
        let (x, z) = (p[0].abs(), p[2]);
        // Rolled edge and a hollow along it.
        let mut up = 3.2 * bead((inside_mm - 4.5) / 5.5) - 1.5 * notch((inside_mm - 14.0) / 3.6);
        let clear = ramp(9.0, 15.0, inside_mm);
        let (dx, dz) = (x - DISC_MM.0[0], z - DISC_MM.0[1]);
        if hypot(dx, dz) < DISC_MM.1 + 1.0 {
            return up + lantern(dx, dz);
        }
        let mut wing: f64 = 0.0;
        for (k, feather) in WING.iter().enumerate() {
            let relief = feather.relief([x, z]);
            if relief > 0.0 {
                wing = wing.max(0.3 * (WING.len() - k) as f64 + 2.8 * relief);
            }
        }
        up += wing * clear;
        // Belt: a raised band between two straight hollows.
        let q = z - BELT_MM;
        up += (2.0 * band(q, 9.0, 2.6) - 1.8 * notch((q.abs() - 15.5) / 3.8)) * clear;
        // Flutes of the waist: fan from the belt up towards the wings.
        let climb = (z - BELT_MM - 20.0) / 96.0;
        if (0.0..1.0).contains(&climb) {
            let spread = x / (1.0 + 0.75 * climb);
            let nearest = (spread / 24.0 - 0.5).round().clamp(0.0, 3.0) + 0.5;
            let leaf = climb.sqrt() * (1.0 - climb) * 2.6;
            up -= 2.2 * hollow((spread - nearest * 24.0) / (7.5 * leaf + 1.0)) * leaf.min(1.0);
        }
        // Lames below the belt: pointed plates, each stepping back under the one above.
        let fall = (BELT_MM - 22.0 - z + 0.2 * x) / 44.0;
        if fall > 0.0 {
            up += clear * ramp(0.0, 0.1, fall) * (3.2 * plates(fall, 0.08) - 0.6);
            let within = fall - fall.floor();
            up -= clear * 0.9 * notch((within - 0.76) * 44.0 / 3.4);
        }
        up
    }

    /// Signed distance of the whole breastplate.
    pub fn distance(&self, p: [f64; 3]) -> f64 {
        let plain = as_distance(form, p);
        if plain.abs() > 16.0 {
            return if plain > 0.0 { plain - 6.0 } else { -plain - WALL_MM };
        }
        let side = [p[0].abs(), p[2]];
        let outline = self.outline.distance(side);
        let near = plain.abs() < 10.0 && outline < 8.0;
        let mut outer = plain - if near { self.relief(p, -outline) } else { 0.0 };
        if near {
            outer = with_rivets(outer, [p[0].abs(), p[1], p[2]], &self.rivets, 4.8);
        }
        let shell = outer.max(-(plain + WALL_MM));
        shell.max(outline * 0.9).max(p[1] + 2.0)
    }
}
