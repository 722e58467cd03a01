//! The left pauldron: a keeled cap over the shoulder and four plates down the arm that overlap,
//! each drawn to a point, with panel lines, rivets and a standing guard towards the neck.
//!
//! Frame: x outward along the arm, y backward, z up; origin in the shoulder. Front and back
//! differ slightly, so left and right do too. The inner skin follows the plain form at 4 mm.

use super::field::{
    Curve, as_distance, bead, fan_angle, hollow, meet, notch, plates, ramp, smooth_max, smooth_min,
    with_rivets,
};
use super::mesher::Sampling;
use libm::{exp, hypot};

/// Thickness of the shell, mm.
const WALL_MM: f64 = 4.0;

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling {
        low_mm: [-110.0, -140.0, -170.0],
        high_mm: [170.0, 140.0, 180.0],
        cell_mm: 1.35,
        mirrored: false,
    }
}

/// Below the cap: half depth (along y), reach outward and inward by height.
const HALF_DEPTH: Curve<4> = Curve([(-160.0, 64.0), (-90.0, 79.0), (-30.0, 98.0), (0.0, 103.0)]);
const REACH: Curve<4> = Curve([(-160.0, 96.0), (-90.0, 106.0), (-30.0, 112.0), (0.0, 112.0)]);
/// Height of the cap over the origin.
const CAP_MM: f64 = 96.0;

/// The plain form: zero on the surface, not a distance.
fn form(p: [f64; 3]) -> f64 {
    let [x, y, z] = p;
    let level = z.min(0.0);
    let u = x / REACH.at(level);
    let v = y / HALF_DEPTH.at(level);
    let w = z.max(0.0) / CAP_MM;
    let radius = (u * u + v * v + w * w).sqrt();
    let keel = 0.05 * (1.0 - y.abs() / 40.0).max(0.0) * (1.0 - y.abs() / 40.0).max(0.0);
    (radius - 1.0 - keel) * 100.0
}

/// How far down the plates a point lies: 0 at the cap's lower edge, one more for each plate.
/// Plates point downward in the middle and swing up to the back.
fn fall(p: [f64; 3]) -> f64 {
    const PLATE_MM: f64 = 33.0;
    let [x, y, z] = p;
    let point = 15.0 * exp(-y.abs() / 22.0);
    (26.0 - point - z + 0.0016 * y * y + 0.10 * y + 0.12 * (x - 100.0)) / PLATE_MM
}

/// Where the shell ends: towards the neck, and below the last plate.
fn ends(p: [f64; 3]) -> f64 {
    let [x, y, z] = p;
    let inward = -42.0 - 0.0022 * y * y - x - 0.20 * (z - 60.0);
    let lower = (fall(p) - 4.0) * 31.0;
    smooth_max(inward, lower, 14.0)
}

/// The guard: a plate that stands on the cap towards the neck and leans outward.
fn guard(p: [f64; 3]) -> f64 {
    let [x, y, z] = p;
    let spine = -18.0 - 0.0030 * y * y - 0.16 * (z - 90.0) - 0.0016 * (z - 90.0) * (z - 90.0);
    let high = 38.0 + 112.0 * ramp(84.0, 0.0, (y + 5.0).abs());
    let rolled = 1.9 * bead((z - high + 4.0) / 5.0);
    let plate = (x - spine).abs() * 0.93 - 2.6 - rolled;
    // Only over the cap; below, it would run on inside the shoulder.
    plate.max((z - high) * 0.7).max(y.abs() - 84.0).max(20.0 - z)
}

/// The pauldron with the places of its rivets.
pub struct Pauldron {
    rivets: Vec<[f64; 3]>,
}

impl Pauldron {
    /// Finds where the rivets sit: at both ends of each plate and along the cap's edge.
    pub fn new() -> Self {
        let mut rivets = Vec::new();
        for side in [-1.0, 1.0] {
            for k in 0..4 {
                // Down each plate's end, on the height where the plate is widest open.
                let y = side * 70.0;
                let at = |z: f64| fall([70.0, y, z]);
                let mut z = 20.0;
                while at(z) < f64::from(k) + 0.38 {
                    z -= 0.5;
                }
                rivets.extend(meet(form, |x| [x, y, z], 160.0, 0.0, 1.9));
            }
        }
        for k in 0..9 {
            let y = -72.0 + 18.0 * f64::from(k);
            let mut z = 80.0;
            while fall([95.0, y, z]) < -0.42 {
                z -= 0.25;
            }
            rivets.extend(meet(form, |x| [x, y, z], 160.0, 0.0, 2.4));
        }
        Self { rivets }
    }

    /// Signed distance of the whole pauldron.
    pub fn distance(&self, p: [f64; 3]) -> f64 {
        let plain = as_distance(form, p);
        let guard = guard(p).max(-(plain + 2.0));
        if plain.abs() > 16.0 {
            let shell = if plain > 0.0 { plain - 6.0 } else { -plain - WALL_MM };
            return shell.min(guard);
        }
        let ends = ends(p);
        let mut outer = plain;
        if plain.abs() < 10.0 {
            outer -= relief(p, -ends);
            outer = with_rivets(outer, p, &self.rivets, 5.2);
        }
        let shell = outer.max(-(plain + WALL_MM)).max(ends * 0.9);
        smooth_min(shell, guard, 6.0).max(-(plain + WALL_MM))
    }
}

fn relief(p: [f64; 3], inside_mm: f64) -> f64 {
    let [x, y, _] = p;
    let mut up = 2.8 * bead((inside_mm - 4.5) / 5.0);
    let clear = ramp(9.0, 14.0, inside_mm);
    let fall = fall(p);
    // The plates, with a panel line above each lower edge.
    if fall > -0.6 {
        let within = fall - fall.floor();
        up += clear * ramp(-0.6, -0.25, fall) * (3.4 * plates(fall, 0.09) - 0.8);
        up -= clear * 1.1 * ramp(-0.6, -0.5, fall) * notch((within - 0.68) * 33.0 / 3.2);
    }
    up -= clear * 1.4 * notch((fall + 0.70) * 33.0 / 3.2);
    // Rays over the cap from the guard to the arm.
    let climb = (-0.72 - fall) / 1.9;
    if (0.0..1.0).contains(&climb) && x > 0.0 {
        let angle = fan_angle([-x, y], [18.0, 0.0]);
        let nearest = (angle / 0.34 - 0.5).round() + 0.5;
        let across = (angle - nearest * 0.34) * hypot(x + 18.0, y);
        let leaf = climb.sqrt() * (1.0 - climb) * 2.6;
        up -= 2.2 * hollow(across / (10.0 * leaf + 1.0)) * leaf.min(1.0) * clear * ramp(2.0, 16.0, x);
    }
    up
}
