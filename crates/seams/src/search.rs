//! The search for a first plan, as rounds of tasks.
//!
//! How: round 0 makes seeds: the plain grid, grids in the item's principal frame, and parallel
//! cuts along a few directions. Later rounds run beams (`beam.rs`) with settings drawn from the
//! seed. A round is a list of tasks fixed by the state at its start; nothing is shared inside a
//! round; results merge in task order. So the result is the same for any number of threads, and
//! the best so far can be had after every round.
//! Never worse than the plain grid: the grid is the first plan, and a plan replaces it only with
//! no more pieces.
//! Not here: threads and clocks (the caller runs tasks and decides when to stop).

use crate::beam::{self, Settings};
use crate::frames::{self, AXES, Frame};
use crate::grid::{NoGrid, PlainGrid};
use crate::partition::{Part, Partition};
use crate::sweep::Cloud;
use crate::{estimate, grid, slabs};
use seamwright_bed::Bed;
use seamwright_mesh::{Plane, Solid, lumps};
use std::sync::Arc;

/// What the maker prefers among plans that have no more pieces than the plain grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prefer {
    /// Fewest pieces, then the shorter seam.
    #[default]
    Balanced,
    /// Fewest pieces before all.
    Fewest,
    /// The shortest section lines.
    Hidden,
}

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

/// The search for one item.
pub struct Search {
    beds: Vec<Bed>,
    boxes: Vec<[f64; 3]>,
    whole: Partition,
    own_frame: Frame,
    seed: u64,
    prefer: Prefer,
    /// Counted from 0; the next round to run.
    round: usize,
    grid: PlainGrid,
    best: Option<Partition>,
    candidates: usize,
}

/// Tasks of a round; enough for two threads, few enough to stop soon.
const TASKS_A_ROUND: usize = 4;

/// Slots along a direction for parallel cuts: finer than a beam's, since there is one direction.
const SLAB_SLOTS: usize = 96;

/// Whether `a` is the better plan: fewer pieces, then fewer held, then the shorter section.
pub fn better(a: &Partition, b: &Partition) -> bool {
    (a.n_pieces(), a.n_held())
        .cmp(&(b.n_pieces(), b.n_held()))
        .then(a.section_mm.total_cmp(&b.section_mm))
        .is_lt()
}

impl Search {
    /// Starts with the plain grid, made and judged. `go_on` is told the cuts made and the cuts in
    /// all, and answers whether to go on.
    ///
    /// # Errors
    /// [`NoGrid`]: then there is no plan to improve.
    pub fn new(
        item: &Solid,
        beds: &[Bed],
        seed: u64,
        prefer: Prefer,
        go_on: &dyn Fn(usize, usize) -> bool,
    ) -> Result<Self, NoGrid> {
        let grid = grid::plain_grid(item, beds, go_on)?;
        let look = |solid: Solid| Part::new(solid, beds);
        let whole =
            Partition::of(lumps::lumps(item.clone()).into_iter().map(|lump| Arc::new(look(lump))).collect());
        let mut search = Self {
            beds: beds.to_vec(),
            boxes: estimate::boxes_of(beds),
            own_frame: frames::principal(item),
            best: None,
            candidates: 1,
            round: 0,
            whole,
            grid,
            seed,
            prefer,
        };
        if search.whole.all_fit() {
            search.best = Some(search.whole.clone());
        } else if search.grid.partition.all_fit() {
            search.best = Some(search.grid.partition.clone());
        }
        Ok(search)
    }

    /// The plain grid.
    pub fn grid(&self) -> &PlainGrid {
        &self.grid
    }

    /// The best plan so far; `None` only where the beds are too small for any cell of the grid.
    pub fn best(&self) -> Option<&Partition> {
        self.best.as_ref()
    }

    /// Rounds done.
    pub fn rounds(&self) -> usize {
        self.round
    }

    /// Complete plans looked at.
    pub fn candidates(&self) -> usize {
        self.candidates
    }

    /// Whether more rounds cannot help: the item fits as it is.
    pub fn is_done(&self) -> bool {
        self.whole.all_fit()
    }

    /// The tasks of the next round.
    pub fn tasks(&self) -> Vec<Task> {
        if self.is_done() {
            return Vec::new();
        }
        if self.round == 0 {
            let mut tasks = Vec::new();
            if self.own_frame != AXES {
                tasks.push(Task::Grid(self.own_frame));
            }
            let mut directions: Vec<[f64; 3]> = AXES.to_vec();
            directions.push(self.own_frame[0]);
            tasks.extend(directions.into_iter().map(Task::Slabs));
            return tasks;
        }
        (0..TASKS_A_ROUND)
            .map(|k| {
                let index = (self.round - 1) * TASKS_A_ROUND + k;
                Task::Beam(Box::new(settings(self.seed, index, self.own_frame)))
            })
            .collect()
    }

    /// Does one task; depends on nothing but the state at the round's start.
    pub fn run(&self, task: &Task, stop: &dyn Fn() -> bool) -> Option<Partition> {
        let look = |solid: Solid| Part::new(solid, &self.beds);
        // A plan with as many pieces may still be better; one with more cannot be taken.
        let limit = self.best.as_ref().map_or(usize::MAX, Partition::n_pieces).min(self.grid_pieces()) + 1;
        match task {
            Task::Grid(frame) => {
                let counts = grid::cell_counts(&self.whole_points(), frame, &self.beds);
                let least = counts.into_iter().min_by_key(|&n| grid::n_cells(n))?;
                if grid::n_cells(least) > grid::MOST_CELLS {
                    return None;
                }
                let planes = grid::planes(&self.whole_points(), frame, least);
                self.finish(&planes, limit, &look, stop)
            }
            Task::Slabs(normal) => {
                let frames = frames::for_estimates(self.own_frame, 4);
                let mut partition = self.whole.clone();
                for index in self.whole.pieces() {
                    let part = &self.whole.parts[index];
                    if part.posed.is_some() {
                        continue;
                    }
                    let cloud = Cloud::new(part, &frames);
                    let borders = cloud.sweep(part, *normal, SLAB_SLOTS, &self.boxes);
                    let planes = slabs::planes(&cloud, &borders, *normal, &self.beds)?;
                    let mut rest = vec![index];
                    for plane in planes {
                        for piece in std::mem::take(&mut rest) {
                            let before = partition.parts.len();
                            if stop() {
                                return None;
                            }
                            match partition.cut_near(piece, plane, &look) {
                                // Only what lies above can meet the next plane.
                                Ok(()) => {
                                    let above = &partition.steps.last()?.above;
                                    rest.extend(above.iter().copied().filter(|&i| i >= before));
                                }
                                Err(_) => rest.push(piece),
                            }
                        }
                    }
                }
                self.complete(partition, limit, &look, stop)
            }
            Task::Beam(settings) => beam::run(&self.whole, settings, &self.boxes, limit, &look, stop),
        }
    }

    /// Takes the results of the round's tasks, in task order. Returns whether the best changed.
    pub fn merge(&mut self, results: Vec<Option<Partition>>) -> bool {
        self.round += 1;
        let mut changed = false;
        for found in results.into_iter().flatten() {
            self.candidates += 1;
            if found.all_fit() && found.n_pieces() <= self.grid_pieces() && self.prefers(&found) {
                self.best = Some(found);
                changed = true;
            }
        }
        changed
    }

    fn prefers(&self, found: &Partition) -> bool {
        let Some(best) = &self.best else { return true };
        match self.prefer {
            Prefer::Hidden => found.section_mm < best.section_mm,
            Prefer::Balanced | Prefer::Fewest => better(found, best),
        }
    }

    fn grid_pieces(&self) -> usize {
        self.grid.partition.n_pieces()
    }

    fn whole_points(&self) -> Vec<[f64; 3]> {
        self.whole.parts.iter().flat_map(|part| part.hull.points_mm.clone()).collect()
    }

    fn finish(
        &self,
        planes: &[Plane],
        limit: usize,
        look: &dyn Fn(Solid) -> Part,
        stop: &dyn Fn() -> bool,
    ) -> Option<Partition> {
        let cut = grid::cut_all(self.whole.clone(), planes, look, &|_| !stop())?;
        self.complete(cut, limit, look, stop)
    }

    /// Cuts what does not fit yet by a beam.
    fn complete(
        &self,
        partition: Partition,
        limit: usize,
        look: &dyn Fn(Solid) -> Part,
        stop: &dyn Fn() -> bool,
    ) -> Option<Partition> {
        if partition.n_pieces() >= limit {
            return None;
        }
        if partition.all_fit() {
            return Some(partition);
        }
        beam::run(&partition, &settings(self.seed, 0, self.own_frame), &self.boxes, limit, look, stop)
    }
}

/// Settings of beam `index`: the first few are a fixed portfolio, since what works for a shell
/// fails for a block; later ones vary them by numbers drawn from the seed.
fn settings(seed: u64, index: usize, own: Frame) -> Settings {
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
