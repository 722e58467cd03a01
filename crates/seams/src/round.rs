//! The tasks of a round: first a grid and slabs, then beams, from the third round on also the best plan made
//! better and one that begins otherwise; in that one as few pieces as two or three cuts make, rows cut across,
//! halves cut alike, and cuts between the boxes of covers; in some rounds also a proof of the least number of pieces.
//!
//! Not here: what a task does (`task.rs`), what becomes of results (`search.rs`).

use crate::cuts::Cut;
use crate::frames::AXES;
use crate::ground::Ground;
use crate::portfolio;
use crate::task::Task;

/// Beams of the first round that has some, and of each later one: enough for two threads, few enough to stop
/// soon.
const N_BEAMS: [usize; 2] = [4, 2];

/// Times the best plan is made better in each of those, by different draws.
const N_BETTER: usize = 2;

/// Cells of the certified fit a proof is worth in the first rounds, about 5 microseconds each; each
/// begins anew, so the first is quick and the last thorough (ours).
const BOUND_CELLS: [u64; 3] = [60_000, 400_000, 1_600_000];

/// The tasks of a round, counted from 0, before which the best plan and perhaps another have these cuts; none where
/// the item fits as it is, or as the maker wants it cut.
pub fn tasks(ground: &Ground, round: usize, best: &[Cut], other: Option<&[Cut]>) -> Vec<Task> {
    if ground.start().all_fit() {
        return Vec::new();
    }
    if round == 0 {
        // The plain grid again: only here its lines are weighed.
        let mut tasks = vec![Task::Grid(AXES)];
        if ground.own_frame != AXES {
            tasks.push(Task::Grid(ground.own_frame));
        }
        let mut directions: Vec<[f64; 3]> = AXES.to_vec();
        directions.push(ground.own_frame[0]);
        tasks.extend(directions.into_iter().map(Task::Slabs));
        tasks.push(Task::Bound(BOUND_CELLS[0]));
        return tasks;
    }
    let first = if round == 1 { 0 } else { N_BEAMS[0] + (round - 2) * N_BEAMS[1] };
    let beam = |k: usize| Task::Beam(Box::new(portfolio::settings(ground.seed, first + k, ground.own_frame)));
    let bound = BOUND_CELLS.get(round).map(|&n_cells| Task::Bound(n_cells));
    let n_better = if round == 1 || best.is_empty() { 0 } else { N_BETTER };
    let better = |k: usize| Task::Better {
        // The other's turn comes every second time: what is cut otherwise may end better.
        cuts: other.filter(|_| k % 2 == 1).unwrap_or(best).to_vec(),
        index: (round - 2) * N_BETTER + k,
        // Once a round: what is asked does not depend on the draw.
        asks: k == 0,
    };
    let beams = (0..N_BEAMS[usize::from(round > 1)]).map(beam);
    let counted =
        (round == 2).then_some([Task::Few, Task::Rows, Task::Halves, Task::Cover]).into_iter().flatten();
    // Those that need the best plan come last: who makes another task is not told of it and counts without them.
    bound.into_iter().chain(beams).chain(counted).chain((0..n_better).map(better)).collect()
}
