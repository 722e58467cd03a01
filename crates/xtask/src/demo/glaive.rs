//! The glaive: a blade like a heron's wing on a long haft, 1.4 m, one closed body.
//!
//! Frame: z from the foot of the haft to the tip, -y the side of the cutting edge, x across the
//! blade. Even in x. Edges are left 2.4 mm wide: a prop, not a weapon.

use super::field::{Outline, bead, hollow, notch, ramp, segment, smooth_max, smooth_min, with_rivets};
use super::mesher::Sampling;
use libm::{atan2, cos, hypot};

/// The box to mesh.
pub fn sampling() -> Sampling {
    Sampling { low_mm: [0.0, -90.0, -12.0], high_mm: [40.0, 85.0, 1412.0], cell_mm: 1.5, mirrored: true }
}

/// Where the blade starts.
const SOCKET_MM: f64 = 950.0;

/// The glaive with its outline and rivets.
pub struct Glaive {
    blade: Outline,
    rivets: Vec<[f64; 3]>,
}

impl Glaive {
    /// Draws the blade's outline, seen from the side: [y, z].
    pub fn new() -> Self {
        let blade = Outline::through(&[
            [14.0, 930.0],
            [14.0, 930.0],
            [15.0, 985.0],
            [19.0, 1030.0],
            [30.0, 1068.0],
            [58.0, 1098.0],
            [58.0, 1098.0],
            [36.0, 1106.0],
            [22.0, 1126.0],
            [17.0, 1170.0],
            [14.0, 1220.0],
            [17.0, 1280.0],
            [30.0, 1345.0],
            [52.0, 1400.0],
            [52.0, 1400.0],
            [10.0, 1366.0],
            [-28.0, 1312.0],
            [-51.0, 1240.0],
            [-58.0, 1170.0],
            [-50.0, 1105.0],
            [-34.0, 1058.0],
            [-28.0, 1034.0],
            [-40.0, 1012.0],
            [-40.0, 1012.0],
            [-20.0, 1004.0],
            [-14.0, 975.0],
            [-14.0, 930.0],
            [-14.0, 930.0],
        ]);
        let rivets = [905.0, 860.0, 815.0].iter().map(|&z| [15.2, 0.0, z]).collect();
        Self { blade, rivets }
    }

    /// Signed distance of the whole glaive.
    pub fn distance(&self, p: [f64; 3]) -> f64 {
        let [x, y, z] = [p[0].abs(), p[1], p[2]];
        let haft = haft(x, y, z);
        let mut whole = haft;
        if z > 900.0 {
            whole = smooth_min(haft, self.blade(x, y, z), 5.0);
        }
        with_rivets(whole, [x, y, z], &self.rivets, 3.2)
    }

    fn blade(&self, x: f64, y: f64, z: f64) -> f64 {
        let outline = self.blade.distance([y, z]);
        let inside = -outline;
        // A flat core, a bevel to the edge, and a thin flat left along it.
        let mut half = 1.2 + 0.36 * inside.clamp(0.0, 15.0);
        // A fuller follows the back, and feathers are cut into the belly.
        let (from_fuller, along) = segment([y, z], [2.0, 1035.0], [8.0, 1290.0]);
        half -= 2.4 * hollow(from_fuller / 6.5) * ramp(0.0, 0.06, along) * ramp(1.0, 0.85, along);
        let bevel_line = inside - 15.0;
        half -= 0.7 * notch(bevel_line / 1.8);
        let barb = (z + 0.85 * y - 1010.0) / 46.0;
        if (0.0..6.0).contains(&barb) && y < 0.0 {
            let within = barb - barb.floor();
            half -= 1.1 * notch((within - 0.5) * 46.0 / 2.6) * ramp(3.0, 8.0, inside) * ramp(-6.0, -14.0, y);
        }
        let holes = (0..3)
            .map(|k| hypot(y - 18.0 + 3.0 * f64::from(k), z - 1058.0 - 14.0 * f64::from(k)) - 3.6)
            .fold(f64::MAX, f64::min);
        (x - half).max(outline * 0.95).max(-holes) * 0.93
    }
}

/// The haft: turned mouldings, a lattice of cord where the hands go, langets below the blade.
fn haft(x: f64, y: f64, z: f64) -> f64 {
    let from_axis = hypot(x, y);
    let mut radius = 14.0;
    // Foot: a pear on a collar.
    radius += 7.0 * hollow((z - 22.0) / 24.0) + 3.0 * bead((z - 52.0) / 5.0) + 1.6 * bead((z - 63.0) / 4.0);
    // Rings that divide the haft, each between two hollows.
    for middle in [270.0, 470.0, 640.0, 800.0] {
        let q = z - middle;
        radius +=
            2.8 * bead(q / 6.0) + 1.6 * bead((q.abs() - 10.0) / 3.6) - 1.0 * notch((q.abs() - 16.0) / 2.4);
    }
    // Cord: two windings crossing.
    let cord = ramp(288.0, 292.0, z) * ramp(452.0, 448.0, z);
    if cord > 0.0 {
        let angle = atan2(y, x);
        let (one, other) = (cos(angle + z / 5.2), cos(angle - z / 5.2));
        radius += cord * (1.3 * one.max(other).max(0.0) - 0.3);
    }
    // Socket: swells to carry the blade.
    radius += 5.5 * ramp(SOCKET_MM - 30.0, SOCKET_MM, z) * ramp(SOCKET_MM + 62.0, SOCKET_MM + 8.0, z)
        + 2.4 * bead((z - SOCKET_MM - 2.0) / 5.0)
        + 1.6 * bead((z - SOCKET_MM + 14.0) / 4.0)
        - 9.0 * ramp(SOCKET_MM + 10.0, SOCKET_MM + 62.0, z);
    let turned = smooth_max(smooth_max((from_axis - radius) * 0.85, -z, 8.0), z - SOCKET_MM - 62.0, 3.0);
    let langet = (y.abs() - 6.5 + 0.02 * (SOCKET_MM - z)).max(x - 15.8).max(z - SOCKET_MM).max(795.0 - z);
    turned.min(langet)
}
