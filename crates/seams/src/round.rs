//! The tasks of a round: first a grid and slabs, then beams; in some rounds also a proof of the least
//! number of pieces.
//!
//! Not here: what a task does (`task.rs`), what becomes of results (`search.rs`).

use crate::frames::AXES;
use crate::ground::Ground;
use crate::portfolio;
use crate::task::Task;

/// Tasks of a round; enough for two threads, few enough to stop soon.
const TASKS_A_ROUND: usize = 4;

/// Cells of the certified fit a proof is worth in the first rounds, about 5 microseconds each; each
/// begins anew, so the first is quick and the last thorough (ours).
const BOUND_CELLS: [u64; 3] = [60_000, 400_000, 1_600_000];

/// The tasks of a round, counted from 0; none where the item fits as it is.
pub fn tasks(ground: &Ground, round: usize) -> Vec<Task> {
    if ground.whole.all_fit() {
        return Vec::new();
    }
    if round == 0 {
        let mut tasks = Vec::new();
        if ground.own_frame != AXES {
            tasks.push(Task::Grid(ground.own_frame));
        }
        let mut directions: Vec<[f64; 3]> = AXES.to_vec();
        directions.push(ground.own_frame[0]);
        tasks.extend(directions.into_iter().map(Task::Slabs));
        tasks.push(Task::Bound(BOUND_CELLS[0]));
        return tasks;
    }
    let beam = |k: usize| {
        let index = (round - 1) * TASKS_A_ROUND + k;
        Task::Beam(Box::new(portfolio::settings(ground.seed, index, ground.own_frame)))
    };
    let bound = BOUND_CELLS.get(round).map(|&n_cells| Task::Bound(n_cells));
    bound.into_iter().chain((0..TASKS_A_ROUND).map(beam)).collect()
}
