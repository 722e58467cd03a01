//! The Heron helm: a closed shell with a beaked face, a feathered comb and a tail of lames.
//!
//! Frame: x to the wearer's left, y backward, z up; origin at eye height in the middle of the head.
//! Even in x. The inner skin follows the plain form 4 mm below it, so relief never thins the wall
//! below about 2.4 mm. All shapes and figures are our own invention.

use super::field::{
    Curve, Feather, almond, as_distance, band, bead, fan_angle, hollow, meet, notch, plates, ramp, segment,
    smooth_max, smooth_min, turn, with_rivets,
};
use super::mesher::Sampling;
use libm::{cos, hypot, sin};

/// Thickness of the shell, mm.
const WALL_MM: f64 = 4.0;

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling { low_mm: [0.0, -190.0, -180.0], high_mm: [150.0, 240.0, 230.0], cell_mm: 1.25, mirrored: true }
}

/// Front, back and half width of the head form by height.
const FRONT: Curve<6> = Curve([
    (-175.0, -104.0),
    (-150.0, -106.0),
    (-110.0, -112.0),
    (-60.0, -118.0),
    (-10.0, -121.0),
    (30.0, -121.0),
]);
const BACK: Curve<6> =
    Curve([(-175.0, 206.0), (-150.0, 182.0), (-112.0, 141.0), (-70.0, 122.0), (-20.0, 124.0), (30.0, 130.0)]);
const HALF_WIDTH: Curve<6> =
    Curve([(-175.0, 160.0), (-150.0, 150.0), (-118.0, 125.0), (-72.0, 103.0), (-20.0, 103.0), (30.0, 106.0)]);
/// Where the sections stop and the dome starts, and how high the dome is.
const DOME_MM: (f64, f64) = (30.0, 122.0);

/// The plain form without relief: zero on the surface, not a distance.
fn form(p: [f64; 3]) -> f64 {
    let [x, y, z] = [p[0].abs(), p[1], p[2]];
    let level = z.min(DOME_MM.0);
    let (front, back, half_width) = (FRONT.at(level), BACK.at(level), HALF_WIDTH.at(level));
    let (middle, half_long) = ((front + back) / 2.0, (back - front) / 2.0);
    let v = (y - middle) / half_long;
    // Egg-shaped: narrower towards the face, and the flared tail comes to a soft point.
    let narrow = 1.0 - 0.13 * ramp(0.2, -1.0, v) - 0.10 * ramp(0.5, 1.0, v) * ramp(-70.0, -140.0, z);
    let u = x / (half_width * narrow);
    let rise = (z - DOME_MM.0).max(0.0) / DOME_MM.1;
    let radius = (u * u + v * v + rise * rise).sqrt();
    // A keel down the face and up the skull.
    let keel = 0.035 * (1.0 - x / 30.0).max(0.0) * (1.0 - x / 30.0).max(0.0) * ramp(0.1, -0.6, v);
    let head = (radius - 1.0 - keel) * 100.0;
    // The beak: a cone from the brow forward and down, flattened sideways.
    let beak = {
        let q = [y, z];
        let (distance, t) = segment(q, [-92.0, 44.0], [-157.0, -24.0]);
        let half = 30.0 * (1.0 - t) + 1.0;
        hypot(distance, x * 1.25) - half
    };
    smooth_min(head, beak, 26.0)
}

/// Distance to the face opening in the front view: eyes swept up and back, joined under the beak
/// to a slot that widens to the chin.
fn opening(p: [f64; 3]) -> f64 {
    let (x, z) = (p[0].abs(), p[2]);
    let eye = almond(turn([x - 50.0, z - 6.0], -0.24), 34.0, 14.0);
    let join = segment([x, z], [22.0, -2.0], [6.0, -52.0]).0 - 7.5;
    let slot = {
        let (distance, t) = segment([x, z], [0.0, -58.0], [0.0, -200.0]);
        distance - 7.0 - 15.0 * t
    };
    smooth_min(smooth_min(eye, join, 9.0), slot, 10.0)
}

/// Height of the lower edge: low at the chin, over the shoulders, down the tail.
const EDGE: Curve<5> =
    Curve([(-120.0, -150.0), (-70.0, -142.0), (20.0, -112.0), (120.0, -132.0), (215.0, -160.0)]);

/// Signed distance to the brow band's plane, along z.
fn above_band(p: [f64; 3]) -> f64 {
    (p[2] - 46.0 + 0.10 * p[1]) * 0.995
}

/// How far the surface is raised (or let in, negative) at a point near it.
fn relief(p: [f64; 3], opening_mm: f64) -> f64 {
    let [x, y, z] = [p[0].abs(), p[1], p[2]];
    let mut up = 0.0;
    // Rim round the face opening with a hollow beside it.
    if y < 0.0 {
        up += 2.4 * bead((opening_mm - 5.0) / 5.5) - 1.5 * notch((opening_mm - 14.0) / 3.2);
    }
    let clear_of_face = if y < 0.0 { ramp(12.0, 19.0, opening_mm) } else { 1.0 };
    // Rolled lower edge.
    let over_edge = z - EDGE.at(y);
    up += (3.0 * bead((over_edge - 4.5) / 5.0) - 1.5 * notch((over_edge - 13.5) / 3.2)) * clear_of_face;
    // Brow band: raised, with a straight hollow above and below, where a seam can lie.
    let q = above_band(p);
    up += (1.9 * band(q, 8.5, 2.2) - 1.7 * notch((q.abs() - 14.0) / 3.4)) * clear_of_face;
    // Flutes: hollows fanning over the skull from the band to the comb.
    let azimuth = fan_angle([y, x], [8.0, 0.0]);
    let climb = (q - 22.0) / 62.0;
    if (0.0..1.0).contains(&climb) {
        const FIRST: f64 = 0.42;
        const APART: f64 = 0.37;
        let flute = ((azimuth - FIRST) / APART).round().clamp(0.0, 6.0);
        let girth_mm = hypot(x, y - 8.0);
        let across = (azimuth - FIRST - flute * APART) * girth_mm;
        // A long leaf: widest at a third of its height.
        let leaf = climb.sqrt() * (1.0 - climb) * 2.6;
        up -= 2.3 * hollow(across / (9.0 * leaf + 1.0)) * leaf.min(1.0);
    }
    // Wing on the temple: feathers swept back, the lower ones under the upper.
    if y > -75.0 && x > 20.0 {
        let mut wing: f64 = 0.0;
        for (k, feather) in WING.iter().enumerate() {
            let relief = feather.relief([y, z]);
            if relief > 0.0 {
                wing = wing.max(0.3 * (WING.len() - k) as f64 + 2.6 * relief);
            }
        }
        up += wing;
    }
    // Tail of lames: each plate flares to its lower edge and steps back under it.
    let tail = ramp(20.0, 70.0, y);
    if tail > 0.0 && z < -76.0 {
        let lame = (-76.0 - z + 0.10 * (y - 120.0)) / 22.0;
        if lame > 0.0 && over_edge > 10.0 {
            up += tail * ramp(10.0, 17.0, over_edge) * (2.6 * plates(lame, 0.1) - 0.4);
        }
    }
    up
}

const WING: [Feather; 5] = [
    Feather { root: [-56.0, -24.0], angle: 0.24, long: 170.0, bend: -13.0, half_wide: 15.0 },
    Feather { root: [-57.0, -30.0], angle: 0.10, long: 166.0, bend: -12.0, half_wide: 15.0 },
    Feather { root: [-58.0, -36.0], angle: -0.05, long: 154.0, bend: -11.0, half_wide: 14.5 },
    Feather { root: [-59.0, -42.0], angle: -0.20, long: 134.0, bend: -9.0, half_wide: 13.5 },
    Feather { root: [-60.0, -48.0], angle: -0.36, long: 106.0, bend: -7.0, half_wide: 12.0 },
];

/// The comb: a thin fin of swept feathers in the middle plane.
fn comb(p: [f64; 3]) -> f64 {
    const CENTRE: [f64; 2] = [10.0, 30.0];
    const FOOT_MM: f64 = 122.0;
    let [x, y, z] = [p[0].abs(), p[1], p[2]];
    let radius = hypot(y - CENTRE[0], z - CENTRE[1]);
    let angle = fan_angle([y, z], CENTRE);
    // Barbs lean back: further out means further round.
    let lean = angle - 0.55 * (radius - FOOT_MM) / FOOT_MM;
    const FEATHERS: f64 = 9.0;
    let share = (lean - 0.62) / 1.95;
    let within = (share.clamp(0.0, 0.9999) * FEATHERS).fract();
    let from_middle = (2.0 * within - 1.0).abs();
    let rim = FOOT_MM + 6.0 + 64.0 * ramp(-0.1, 0.8, share) + 16.0 * ramp(0.5, 1.0, share)
        - 9.0 * from_middle * from_middle * ramp(0.0, 0.2, share);
    let out = ((radius - FOOT_MM) / 70.0).clamp(0.0, 1.2);
    let foot_mould = 2.6 * bead((radius - FOOT_MM - 11.0) / 5.0) * ramp(0.02, 0.16, share);
    let vane = 1.3 * (1.0 - from_middle * from_middle) * ramp(0.1, 0.35, out);
    let half = 6.6 - 3.4 * out + foot_mould + vane - 1.3 * ramp(0.1, 0.35, out);
    let ends = (-share).max(share - 1.0) * 1.95 * radius;
    let flat = smooth_max((radius - rim) * 0.8, ends * 0.8, 3.0);
    smooth_max(flat, (x - half) * 0.95, 2.0)
}

/// Slots to breathe through, side view.
fn breaths(p: [f64; 3]) -> f64 {
    let [x, y, z] = [p[0].abs(), p[1], p[2]];
    if x < 30.0 || y > 0.0 {
        return 50.0;
    }
    (0..5)
        .map(|k| {
            let k = f64::from(k);
            let low = [-92.0 + 11.0 * k, -112.0 + 5.0 * k];
            segment([y, z], low, [low[0] - 7.0, low[1] + 32.0 - 3.0 * k]).0 - 3.1
        })
        .fold(50.0, f64::min)
}

/// Middles of the rivets on the right half, found on the surface by [`Helm::new`].
pub struct Helm {
    rivets: Vec<[f64; 3]>,
}

impl Helm {
    /// Finds where the rivets sit.
    pub fn new() -> Self {
        let mut rivets = Vec::new();
        // Along the brow band, every 30 degrees of azimuth, and above the lower edge.
        for k in 0..6 {
            let azimuth = 0.62 + 0.42 * f64::from(k);
            let towards = [sin(azimuth), -cos(azimuth)];
            let on_band = |r: f64| {
                let y = 8.0 + r * towards[1];
                [r * towards[0], y, 46.0 - 0.10 * y]
            };
            rivets.extend(meet(form, on_band, 230.0, 40.0, 1.6));
        }
        for k in 0..9 {
            let azimuth = 0.75 + 0.29 * f64::from(k);
            let towards = [sin(azimuth), -cos(azimuth)];
            let over_edge = |r: f64| {
                let y = 8.0 + r * towards[1];
                [r * towards[0], y, EDGE.at(y) + 21.0]
            };
            rivets.extend(meet(form, over_edge, 230.0, 40.0, 1.6));
        }
        rivets.retain(|p| opening(*p) > 24.0 || p[1] > 0.0);
        rivets.retain(|p| WING.iter().all(|feather| feather.relief([p[1], p[2] + 5.0]) == 0.0));
        Self { rivets }
    }

    /// Signed distance of the whole helm.
    pub fn distance(&self, p: [f64; 3]) -> f64 {
        let plain = as_distance(form, p);
        let fin = comb(p);
        if plain > 14.0 && fin > 14.0 {
            return (plain - 4.0).min(fin - 3.0);
        }
        let opening_mm = opening(p);
        let near = plain.abs() < 9.0;
        let raised = if near { relief(p, opening_mm) } else { 0.0 };
        let mut outer = smooth_min(plain - raised, fin, 7.0);
        if near {
            outer = with_rivets(outer, [p[0].abs(), p[1], p[2]], &self.rivets, 4.6);
        }
        let shell = outer.max(-(plain + WALL_MM));
        let front_cut = if p[1] < 0.0 { -opening_mm } else { -50.0 };
        let edge = (EDGE.at(p[1]) - p[2]) * 0.9;
        // Cuts are sharp: a rounding finer than the cells would only come out ragged.
        shell.max(front_cut).max(edge).max(-breaths(p))
    }
}
