//! The best rotation of a piece for a rectangular bed: local climbing and a certified search.
//!
//! Margin of a rotation: least (usable size - extent), largest extent against largest size; no
//! assignment of extents to sizes does better than this one, so the 24 turns of a box onto itself
//! need not be told apart, and rotation vectors stay in the cube `|r| <= sqrt(2) - 1` (Rodrigues
//! coordinates, cut off at `|x|+|y|+|z| <= 1`).
//! Certified search: cells of that cube, most promising first, halved each way. A cell with centre
//! `R` and reach `t` cannot leave more than the lesser of two bounds: each extent along `u` stays above
//! `u·d cos t - |d x u| sin t` for any pair `d`; and the linear programme of `room_lp.rs`, which
//! knows that one turn serves all three axes. Both hold for any subset of the points, so far
//! rotations are judged by few points and near ones by all that may still be outermost.
//! Cost: counted in cells of up to 64 points, about 5 microseconds each.
//! Source: branch and bound over rotations by Lipschitz bounds (textbook); the second bound is ours.
//! Not here: which rotations to start from, verification on all points (`fit.rs`).

use std::f64::consts::{FRAC_PI_2, PI, SQRT_2};
use std::rc::Rc;

use seamwright_mesh::vec3;

use crate::climb::{self, Best};
use crate::extent::{Pairs, Points};
use crate::frontier::Frontier;
use crate::room_lp::{self, Limit};
use crate::turn::{self, Rows};

/// Half the side of the cube of rotations: tan(45 degrees / 2).
pub(crate) const HALF_CUBE: f64 = SQRT_2 - 1.0;

/// Below this reach (11 degrees) a cell is worth looking at all points again.
const FINE_RAD: f64 = 0.2;

/// What the certified search knows when it ends.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Searched {
    pub best: Best,
    pub upper_bound_mm: f64,
    pub n_cells: u32,
}

/// When to stop.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stop {
    /// A margin from here on is enough.
    pub enough_mm: f64,
    /// Cells that cannot reach this are of no interest.
    pub hopeless_mm: f64,
    /// Nor cells that cannot beat the best by more than this.
    pub gap_mm: f64,
    /// The largest number of cells to look at, large ones counted as several.
    pub n_cells: u32,
}

impl Stop {
    /// Where a climb may end early: where only fitting counts.
    pub(crate) fn climb_to(&self) -> Option<f64> {
        (self.hopeless_mm > f64::NEG_INFINITY).then_some(self.enough_mm)
    }
}

/// Margin of extents in a box of these sizes: largest against largest.
pub(crate) fn margin_mm(extents: [f64; 3], sizes: [f64; 3]) -> f64 {
    let (extents, sizes) = (sorted(extents), sorted(sizes));
    (sizes[0] - extents[0]).min(sizes[1] - extents[1]).min(sizes[2] - extents[2])
}

fn sorted(mut v: [f64; 3]) -> [f64; 3] {
    v.sort_by(f64::total_cmp);
    v
}

/// Size index for each axis, largest against largest.
pub(crate) fn assignment(extents: [f64; 3], sizes: [f64; 3]) -> [usize; 3] {
    let order = |v: [f64; 3]| {
        let mut order = [0, 1, 2];
        order.sort_by(|&i, &j| v[i].total_cmp(&v[j]));
        order
    };
    let mut size_of = [0; 3];
    for (axis, size) in order(extents).into_iter().zip(order(sizes)) {
        size_of[axis] = size;
    }
    size_of
}

fn limits(pairs: &Pairs, rows: &Rows, sizes: [f64; 3], size_of: [usize; 3], angle_rad: f64) -> Vec<Limit> {
    let mut limits = Vec::with_capacity(15);
    for axis in 0..3 {
        for (index, d) in pairs[axis].iter().enumerate() {
            if !pairs[axis][..index].contains(d) {
                let (along, length) = (vec3::dot(rows[axis], *d), vec3::length(*d));
                limits.push(Limit {
                    room_mm: sizes[size_of[axis]] - along,
                    slope: vec3::cross(rows[axis], *d),
                    // Turned by the Rodrigues vector g (|g| = tan t/2), u·d falls short of its slope
                    // 2 g·(u x d) by at most sin²(t/2) (u·d + |d|) and by 2 tan(t/2) sin²(t/2) |d|; the
                    // latter is below 0.255 t³ up to one radian.
                    curve_mm: 0.5 * (along + length) + 0.51 * length * angle_rad,
                });
            }
        }
    }
    limits
}

/// Climbs from `start` to a rotation no small turn improves; with `enough_mm` only until that is
/// reached or out of sight.
pub(crate) fn climb(
    points: &Points,
    start: Best,
    sizes: [f64; 3],
    first_reach_rad: f64,
    enough_mm: Option<f64>,
) -> Best {
    let limits_at = |rows: &Rows, reach: f64| {
        let size_of = assignment(points.extents(rows), sizes);
        limits(&points.pairs(rows, 0.7 * reach), rows, sizes, size_of, reach)
    };
    let margin_at = |rows: &Rows| margin_mm(points.extents(rows), sizes);
    climb::climb(start, first_reach_rad, enough_mm, limits_at, margin_at)
}

/// Rotations on a grid of `n` cubes a side over the cube of rotations.
pub(crate) fn grid(n: usize) -> Vec<Rows> {
    let at = |i: usize| HALF_CUBE * ((2 * i + 1) as f64 / n as f64 - 1.0);
    let mut found = Vec::new();
    for i in 0..n {
        for j in 0..n {
            for k in 0..n {
                let r = [at(i), at(j), at(k)];
                if r.iter().map(|x| x.abs()).sum::<f64>() <= 1.0 {
                    found.push(turn::from_rodrigues(r));
                }
            }
        }
    }
    found
}

/// A cell with more points counts as several, so that the budget stands for a steady time.
pub(crate) const POINTS_A_CELL: u32 = 64;

/// A climb takes about as long as this many cells.
pub(crate) const CELLS_A_CLIMB: u32 = 30;

struct Cell {
    centre: [f64; 3],
    half: f64,
    points: Rc<Points>,
    fine: bool,
}

/// How far any rotation of the cell is from its centre, in radians.
fn reach_rad(centre: [f64; 3], half: f64) -> f64 {
    // (1, r) is the quaternion; the angle between two of them is half the angle between rotations,
    // and a step of length s seen from a distance of at least l spans at most asin(s / l).
    let nearest: f64 = centre.iter().map(|c| (c.abs() - half).max(0.0)).map(|x| x * x).sum();
    let sine = 3f64.sqrt() * half / (1.0 + nearest).sqrt();
    if sine >= 1.0 { PI } else { 2.0 * libm::asin(sine) }
}

/// Bound over the cell, and the rotation in it that looks best.
///
/// Seen from the centre `c`, a rotation `c + y` of the cell is the turn of the axes by the Rodrigues
/// vector `-(y - c x y) / (1 + c·c + c·y)`, which is linear in `y` but for a factor near one: the cube is grown
/// by that factor and the programme runs over `y`.
fn cell_bound(points: &Points, centre: [f64; 3], half: f64, sizes: [f64; 3], floor_mm: f64) -> (f64, Rows) {
    let rows = turn::from_rodrigues(centre);
    let reach = reach_rad(centre, half);
    let (sin, cos) = libm::sincos(reach.min(FRAC_PI_2));
    let sure = |axis: usize, d: &[f64; 3]| {
        let along = vec3::dot(rows[axis], *d);
        let aside = (vec3::dot(*d, *d) - along * along).max(0.0).sqrt();
        (along * cos - aside * sin).max(0.0)
    };
    // Far from fitting, the outermost pairs alone show it, for a third of the work.
    let outermost = points.outermost_pairs(&rows);
    let plain = margin_mm(std::array::from_fn(|axis| sure(axis, &outermost[axis])), sizes);
    if plain < floor_mm {
        return (plain, rows);
    }
    let pairs = points.pairs(&rows, libm::tan((0.6 * reach).min(0.9)));
    let least: [f64; 3] =
        std::array::from_fn(|axis| pairs[axis].iter().fold(0.0, |least: f64, d| least.max(sure(axis, d))));
    let plain = margin_mm(least, sizes);
    if plain < floor_mm || reach > MOST_LINEAR_RAD {
        return (plain, rows);
    }
    let square = 1.0 + vec3::dot(centre, centre);
    let uneven = half * centre.iter().map(|c| c.abs()).sum::<f64>() / square;
    let grown = half / (1.0 - uneven);
    let mut bound = (f64::NEG_INFINITY, [0.0; 3]);
    for (index, size_of) in ORDERS.iter().enumerate() {
        let ordered = |order: &[usize; 3]| order.map(|size| sizes[size]);
        if ORDERS[..index].iter().any(|earlier| ordered(earlier) == ordered(size_of)) {
            continue;
        }
        let each = (0..3).map(|axis| sizes[size_of[axis]] - least[axis]).fold(f64::INFINITY, f64::min);
        if each <= bound.0 {
            continue;
        }
        let mut limits = limits(&pairs, &rows, sizes, *size_of, reach);
        for limit in &mut limits {
            // 2 g·s = 2 (-(y - c x y)/(1 + c·c))·s = y·(-2 (s + c x s)/(1 + c·c)).
            let s = limit.slope;
            limit.slope = vec3::scale(vec3::add(s, vec3::cross(centre, s)), -2.0 / square);
        }
        let joint = room_lp::best_small_turn(&limits, grown, reach);
        let order_bound = each.min(joint.bound_mm);
        if order_bound > bound.0 {
            bound = (order_bound, joint.turn);
        }
    }
    let tried = turn::from_rodrigues(vec3::add(centre, bound.1));
    (bound.0.min(plain), tried)
}

/// Beyond this reach the linear model says nothing.
const MOST_LINEAR_RAD: f64 = 1.0;

const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

/// Looks for the best rotation and proves what no rotation can beat.
/// `few` is a subset of `all`; `start` holds a margin true for `all`.
pub(crate) fn search(all: &Points, few: &Points, sizes: [f64; 3], start: Best, stop: Stop) -> Searched {
    let mut best = start;
    let mut given_up_mm = f64::NEG_INFINITY;
    let (few, coarse_is_all) = (Rc::new(few.clone()), few.len() == all.len());
    let whole = Cell { centre: [0.0; 3], half: HALF_CUBE, points: few, fine: coarse_is_all };
    let mut frontier = Frontier::new([whole]);
    let mut n_cells = 0;
    while let Some((cell_bound_mm, cell)) = frontier.take() {
        let cutoff = stop.hopeless_mm.max(best.margin_mm + stop.gap_mm);
        if best.margin_mm >= stop.enough_mm || n_cells >= stop.n_cells || cell_bound_mm < cutoff {
            given_up_mm = given_up_mm.max(cell_bound_mm);
            break;
        }
        let reach = reach_rad(cell.centre, cell.half);
        let centre_rows = turn::from_rodrigues(cell.centre);
        let (points, fine) = if cell.fine {
            (Rc::new(cell.points.near(&centre_rows, reach)), true)
        } else if reach < FINE_RAD {
            (Rc::new(all.near(&centre_rows, reach)), true)
        } else {
            (cell.points.clone(), false)
        };
        for corner in 0..8 {
            let half = 0.5 * cell.half;
            let centre: [f64; 3] =
                std::array::from_fn(|k| cell.centre[k] + if corner >> k & 1 == 1 { half } else { -half });
            if centre.iter().map(|c| (c.abs() - half).max(0.0)).sum::<f64>() > 1.0 {
                continue;
            }
            n_cells += 1 + points.len() as u32 / POINTS_A_CELL;
            let reach = reach_rad(centre, half);
            let cutoff = stop.hopeless_mm.max(best.margin_mm + stop.gap_mm);
            let (bound_mm, tried) = cell_bound(&points, centre, half, sizes, cutoff);
            let bound_mm = bound_mm.min(cell_bound_mm);
            if bound_mm < cutoff {
                given_up_mm = given_up_mm.max(bound_mm);
                continue;
            }
            // Few points promise too much: all are asked before a climb.
            let ask_all = || Best { margin_mm: margin_mm(all.extents(&tried), sizes), rows: tried };
            let from = (margin_mm(points.extents(&tried), sizes) > best.margin_mm + 1e-9).then(ask_all);
            if let Some(from) = from.filter(|from| from.margin_mm > best.margin_mm + 1e-9) {
                n_cells += CELLS_A_CLIMB;
                // What counts is measured on all again: the climb may leave the near ones' reach.
                let near = all.near(&tried, 0.3);
                let found = climb(&near, from, sizes, 0.5 * reach.min(0.2), stop.climb_to());
                let margin_mm = margin_mm(all.extents(&found.rows), sizes);
                if margin_mm > best.margin_mm {
                    best = Best { margin_mm, rows: found.rows };
                }
            }
            frontier.add(bound_mm, Cell { centre, half, points: points.clone(), fine });
        }
    }
    let left_mm = frontier.highest_mm();
    Searched { best, upper_bound_mm: given_up_mm.max(left_mm).max(best.margin_mm), n_cells }
}
