//! Settings of the beams that a search tries, by their number.
//!
//! Not here: what a beam does with them (`beam.rs`), which round has which (`round.rs`).

use crate::beam::Settings;
use crate::draw::Draw;
use crate::frames::{self, AXES, Frame};
use crate::ground::Ground;
use crate::outline::Prefer;

/// Directions of a small beam (ours).
const N_DRAWN: usize = 14;

/// And where cheaper lines are looked for (ours).
const N_CHEAPER: usize = 40;

/// Mirror planes and hollows looked at just where they are (ours).
const N_JUST: usize = 4;

/// The same directions and those across hollows and mirror planes, these planes themselves looked at too. What is asked
/// of a round does not name them: who deals its tasks does not look at the skin.
pub(crate) fn with_planes(mut settings: Settings, ground: &Ground) -> Settings {
    for (index, plane) in ground.mirrors().iter().chain(ground.hollows()).enumerate() {
        // The first are looked at just where they are, whatever directions are near.
        if index < N_JUST || frames::is_new(plane.normal, &settings.normals) {
            settings.normals.push(plane.normal);
            settings.planes.push(*plane);
        }
    }
    settings
}

/// Settings of a small beam along drawn directions, for parts that are cut otherwise: into fewer pieces or along
/// cheaper lines.
pub(crate) fn drawn(draw: &mut Draw, is_cheaper: bool, own: Frame) -> Settings {
    let n = if is_cheaper { N_CHEAPER } else { N_DRAWN };
    let normals = (0..n).map(|_| frames::drawn(draw)).collect();
    Settings {
        index: 0,
        normals,
        planes: Vec::new(),
        frames: frames::for_estimates(own, 12),
        width: 2,
        tries: if is_cheaper { 10 } else { 5 },
        excess_weight: libm::exp(draw.unit() * 2.0 - 1.0),
        section_weight: if is_cheaper { 1.0 } else { 0.05 },
        takes_partial: true,
        least_share: 0.02,
        n_slots: 24,
    }
}

/// Where only seams count, a line as long as the bed's girth weighs as often again: as much as some pieces.
pub const HIDDEN_TIMES: f64 = 50.0;

/// Pieces more that a beam with another preference may make (ours).
const MORE_PIECES: usize = 2;

/// What a beam prefers and the pieces it must stay below: one in four looks for plans of another kind, to be
/// chosen instead, but none of the first: those make the plan that is seen first.
pub fn preferred(index: usize, asked: Prefer, limit: usize) -> (Prefer, usize) {
    if index < 4 || index % 4 != 2 {
        return (asked, limit);
    }
    let other = match asked {
        Prefer::Balanced => Prefer::Hidden,
        Prefer::Fewest | Prefer::Hidden => Prefer::Balanced,
    };
    (other, limit.saturating_add(MORE_PIECES))
}

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
        index,
        normals,
        planes: Vec::new(),
        frames: frames::for_estimates(own, 12),
        width: 2 + round.min(4),
        tries: 6 + 2 * round.min(4),
        excess_weight: excess_weight * vary(&mut draw),
        section_weight: section_weight * vary(&mut draw),
        takes_partial: true,
        least_share,
        n_slots: 24,
    }
}
