//! The tasks of a round, each a machine that is run in small steps.
//!
//! How: a step is one exact cut with its fit, or one direction's sweep: from below a millisecond to
//! some tens on a large item. Who runs a task decides after each step whether to go on, so a worker
//! that shares its thread with messages answers soon. How many steps are taken in a row changes
//! nothing in the result.
//! Not here: which tasks a round has (`ground.rs`), what becomes of results (`search.rs`).

use crate::beam::{Beam, Settings};
use crate::frames::{self, AXES, Frame};
use crate::grid::{self, Cutting};
use crate::ground::Ground;
use crate::partition::Partition;
use crate::slabs::Slabs;
use std::sync::Arc;

/// Work that can be done apart from all other work of its round.
#[derive(Debug, Clone)]
pub enum Task {
    /// A grid in some frame.
    Grid(Frame),
    /// Parallel cuts across a direction.
    Slabs([f64; 3]),
    /// A beam.
    Beam(Box<Settings>),
}

/// A task at work.
pub struct Running {
    ground: Arc<Ground>,
    limit: usize,
    stage: Stage,
}

enum Stage {
    Cutting(Cutting),
    Slabs(Slabs),
    Beam(Beam),
    Done(Option<Partition>),
}

impl Running {
    /// Begins a task that may end in a partition with fewer than `limit` pieces.
    pub fn new(ground: Arc<Ground>, task: &Task, limit: usize) -> Self {
        let stage = match task {
            Task::Grid(frame) => {
                let points = ground.hull_points();
                let counts = grid::cell_counts(&points, frame, &ground.beds);
                let least = counts.into_iter().min_by_key(|&n| grid::n_cells(n));
                match least.filter(|&n| grid::n_cells(n) <= grid::MOST_CELLS) {
                    Some(least) => {
                        let planes = grid::planes(&points, frame, least);
                        Stage::Cutting(Cutting::new(ground.whole.clone(), planes))
                    }
                    None => Stage::Done(None),
                }
            }
            Task::Slabs(normal) => Stage::Slabs(Slabs::new(&ground, *normal)),
            Task::Beam(settings) => {
                Stage::Beam(Beam::new(ground.whole.clone(), settings.as_ref().clone(), limit))
            }
        };
        Self { ground, limit, stage }
    }

    /// Whether it has ended.
    pub fn is_done(&self) -> bool {
        matches!(self.stage, Stage::Done(_))
    }

    /// One step; nothing where it has ended.
    pub fn step(&mut self) {
        let next = match &mut self.stage {
            Stage::Cutting(cutting) => {
                cutting.step(&|solid| self.ground.look(solid));
                cutting.take_done().map(|partition| self.complete(partition))
            }
            Stage::Slabs(slabs) => {
                slabs.step(&self.ground).map(|found| found.map_or(Stage::Done(None), |p| self.complete(p)))
            }
            Stage::Beam(beam) => {
                if beam.step(&self.ground) {
                    None
                } else {
                    Some(Stage::Done(beam.take_best()))
                }
            }
            Stage::Done(_) => None,
        };
        if let Some(next) = next {
            self.stage = next;
        }
    }

    /// What it found; where it has not ended, what it has so far.
    pub fn end(self) -> Option<Partition> {
        match self.stage {
            Stage::Done(found) => found,
            Stage::Beam(mut beam) => beam.take_best(),
            Stage::Cutting(_) | Stage::Slabs(_) => None,
        }
    }

    /// Cuts what does not fit yet by a beam.
    fn complete(&self, partition: Partition) -> Stage {
        if partition.n_pieces() >= self.limit {
            return Stage::Done(None);
        }
        if partition.all_fit() {
            return Stage::Done(Some(partition));
        }
        let settings = settings(self.ground.seed, 0, self.ground.own_frame);
        Stage::Beam(Beam::new(partition, settings, self.limit))
    }
}

/// Settings of beam `index`: the first few are a fixed portfolio, since what works for a shell
/// fails for a block; later ones vary them by numbers drawn from the seed.
pub(crate) fn settings(seed: u64, index: usize, own: Frame) -> Settings {
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
