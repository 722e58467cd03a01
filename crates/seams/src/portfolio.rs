//! Settings of the beams that a search tries, by their number.
//!
//! Not here: what a beam does with them (`beam.rs`), which round has which (`round.rs`).

use crate::beam::Settings;
use crate::frames::{self, AXES, Frame};

/// Settings of beam `index`: the first few are a fixed portfolio, since what works for a shell
/// fails for a block; later ones vary them by numbers drawn from the seed.
pub fn settings(seed: u64, index: usize, own: Frame) -> Settings {
    let mut draw = Draw::new(seed, index as u64);
    let (excess_weight, section_weight, least_share) = match index % 4 {
        0 => (1.0, 0.10, 0.04),
        1 => (0.3, 0.05, 0.02),
        2 => (1.0, 0.30, 0.08),
        _ => (2.0, 0.02, 0.03),
    };
    let round = index / 4;
    let mut normals: Vec<[f64; 3]> = AXES.to_vec();
    if own != AXES {
        normals.extend(own);
    }
    let spread = frames::half_sphere(if index % 4 == 1 { 30 } else { 14 });
    if round == 0 {
        normals.extend(spread);
    } else {
        // Turn the spread about Z, so that later rounds look elsewhere.
        let turn_rad = draw.unit() * std::f64::consts::TAU;
        let (c, s) = (libm::cos(turn_rad), libm::sin(turn_rad));
        normals.extend(spread.into_iter().map(|n| [c * n[0] - s * n[1], s * n[0] + c * n[1], n[2]]));
    }
    let vary = |draw: &mut Draw| if round == 0 { 1.0 } else { libm::exp(draw.unit() * 2.0 - 1.0) };
    Settings {
        normals,
        frames: frames::for_estimates(own, 12),
        width: 2 + round.min(4),
        tries: 6 + 2 * round.min(4),
        excess_weight: excess_weight * vary(&mut draw),
        section_weight: section_weight * vary(&mut draw),
        least_share,
        n_slots: 48,
    }
}

/// Numbers drawn from a seed: the splitmix64 sequence, "Fast splittable pseudorandom number
/// generators" (2014), doi:10.1145/2660193.2660195 (constants from memory).
struct Draw(u64);

impl Draw {
    fn new(seed: u64, stream: u64) -> Self {
        Self(seed ^ stream.wrapping_mul(0xD1B5_4A32_D192_ED03))
    }

    /// A number from 0 to 1.
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}
