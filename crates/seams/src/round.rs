//! The tasks of a round: first a grid and slabs, then beams.
//!
//! Not here: what a task does (`task.rs`), what becomes of results (`search.rs`).

use crate::frames::AXES;
use crate::ground::Ground;
use crate::portfolio;
use crate::task::Task;

/// Tasks of a round; enough for two threads, few enough to stop soon.
const TASKS_A_ROUND: usize = 4;

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
        return tasks;
    }
    (0..TASKS_A_ROUND)
        .map(|k| {
            let index = (round - 1) * TASKS_A_ROUND + k;
            Task::Beam(Box::new(portfolio::settings(ground.seed, index, ground.own_frame)))
        })
        .collect()
}
