//! The best up direction of a piece for a round bed, with a certified bound.
//!
//! Margin: the lesser of usable diameter - diameter of the smallest circle round the shadow, and
//! usable height - extent along `u`. Only the direction `u` matters, and not its sign.
//! Bound: weights at least 0 with sum 1 on points `x` give `radius² >= sum w |Px|² - |P sum w x|²` for
//! the shadow map `P` along `u`, which is `trace C - u·C u` with `C` the weighted covariance in space. So
//! the two or three points that carry the circle at a cell's centre bound it over the whole cell:
//! there `u·C u` is a sinusoid of twice the angle along any great circle. Height as in `cells.rs`.
//! Cells: squares on three faces of a cube round the sphere of directions, halved each way.
//! Source: duality of the smallest enclosing ball (textbook); its use over turning shadows is ours.

use std::f64::consts::{FRAC_PI_2, PI};
use std::rc::Rc;

use seamwright_mesh::vec3;

use crate::cells::{CELLS_A_CLIMB, POINTS_A_CELL, Searched, Stop};
use crate::climb::{self, Best};
use crate::convex2d::{self, P2};
use crate::extent::Points;
use crate::frontier::Frontier;
use crate::room_lp::Limit;
use crate::turn::{self, Rows};

/// Usable sizes of a round bed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cylinder {
    pub diameter_mm: f64,
    pub height_mm: f64,
}

/// What carries the smallest circle round the shadow along a direction.
struct Circle {
    diameter_mm: f64,
    /// Weighted mean of the carrying points; over the circle's centre.
    mean: [f64; 3],
    /// How far a carrying point is above or below it at most.
    uneven_mm: f64,
    /// Weighted covariance of the carrying points.
    covariance: [[f64; 3]; 3],
}

fn circle(points: &Points, up: [f64; 3]) -> Circle {
    let (u, v) = vec3::frame_of(up);
    let flat: Vec<P2> = points.iter().map(|p| [vec3::dot(u, p), vec3::dot(v, p)]).collect();
    let (centre, radius, carriers) = carried_circle(&flat);
    let mut weighted = weights(&flat, centre, &carriers);
    if weighted.is_empty() {
        // Any weights hold; these cost tightness only.
        weighted = carriers.iter().take(2).map(|&i| (i, 0.5)).collect();
    }
    let total: f64 = weighted.iter().map(|w| w.1).sum();
    let mut mean = [0.0; 3];
    for &(i, w) in &weighted {
        mean = vec3::add(mean, vec3::scale(points.get(i), w / total));
    }
    let mut covariance = [[0.0; 3]; 3];
    for &(i, w) in &weighted {
        let from_mean = vec3::sub(points.get(i), mean);
        for (row, a) in covariance.iter_mut().zip(from_mean) {
            for (value, b) in row.iter_mut().zip(from_mean) {
                *value += w / total * a * b;
            }
        }
    }
    let above = |&(i, _): &(usize, f64)| vec3::dot(up, vec3::sub(points.get(i), mean)).abs();
    let uneven_mm = weighted.iter().map(above).fold(0.0, f64::max);
    Circle { diameter_mm: 2.0 * radius, mean, uneven_mm, covariance }
}

/// Those that may carry the circle or make the height while `up` tilts by at most `reach_rad`. A
/// point left out could still come to carry it; that costs tightness of a bound, no more.
pub(crate) fn near(points: &Points, up: [f64; 3], reach_rad: f64) -> Points {
    let (sin, cos) = libm::sincos(reach_rad.min(FRAC_PI_2));
    let circle = circle(points, up);
    let mut kept = vec![false; points.len()];
    points.mark_near(&[up], reach_rad, &mut kept);
    for (p, keep) in points.iter().zip(&mut kept) {
        let from_mean = vec3::sub(p, circle.mean);
        let above = vec3::dot(up, from_mean);
        let aside = (vec3::dot(from_mean, from_mean) - above * above).max(0.0).sqrt();
        // Tilted about the mean of the carriers it moves outward by its height above them; they
        // move inward, and the centre aside, by theirs.
        *keep |= aside + (above.abs() + 2.0 * circle.uneven_mm) * sin >= 0.5 * circle.diameter_mm * cos;
    }
    points.only(&kept)
}

/// Smallest circle round many points and those of them that it was drawn round last: few points
/// grow by the farthest outside until none is.
fn carried_circle(flat: &[P2]) -> (P2, f64, Vec<usize>) {
    let mut drawn: Vec<usize> = (0..flat.len().min(1)).collect();
    loop {
        let few: Vec<P2> = drawn.iter().map(|&i| flat[i]).collect();
        let (centre, radius) = convex2d::smallest_circle(&few);
        let mut farthest = (0.0, 0);
        for (i, p) in flat.iter().enumerate() {
            let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
            let square = x * x + y * y;
            if square > farthest.0 {
                farthest = (square, i);
            }
        }
        let reach = farthest.0.sqrt();
        if reach <= radius * (1.0 + 1e-12) || drawn.contains(&farthest.1) {
            let on = |&i: &usize| {
                libm::hypot(flat[i][0] - centre[0], flat[i][1] - centre[1]) >= radius * (1.0 - 1e-9)
            };
            return (centre, radius.max(reach), drawn.into_iter().filter(on).collect());
        }
        drawn.push(farthest.1);
    }
}

/// Weights, at least 0, of two or three carriers whose mean is the centre; empty if none are found.
fn weights(flat: &[P2], centre: P2, carriers: &[usize]) -> Vec<(usize, f64)> {
    let at = |i: usize| [flat[i][0] - centre[0], flat[i][1] - centre[1]];
    let cross = |a: P2, b: P2| a[0] * b[1] - a[1] * b[0];
    for (n, &i) in carriers.iter().enumerate() {
        for &j in &carriers[..n] {
            let (a, b) = (at(i), at(j));
            let size = libm::hypot(a[0], a[1]);
            if libm::hypot(a[0] + b[0], a[1] + b[1]) <= 1e-7 * size {
                return vec![(i, 0.5), (j, 0.5)];
            }
        }
    }
    for (n, &i) in carriers.iter().enumerate() {
        for (m, &j) in carriers[..n].iter().enumerate() {
            for &k in &carriers[..m] {
                let (a, b, c) = (at(i), at(j), at(k));
                let parts = [cross(b, c), cross(c, a), cross(a, b)];
                let sign = if parts.iter().sum::<f64>() < 0.0 { -1.0 } else { 1.0 };
                let parts = parts.map(|p| sign * p);
                let total: f64 = parts.iter().sum();
                if total > 0.0 && parts.iter().all(|&p| p >= -1e-9 * total) {
                    return [i, j, k].into_iter().zip(parts.map(|p| p.max(0.0))).collect();
                }
            }
        }
    }
    Vec::new()
}

fn height(points: &Points, up: [f64; 3]) -> f64 {
    points.extents(&[up, up, up])[0]
}

pub(crate) fn margin_mm(points: &Points, up: [f64; 3], bed: Cylinder) -> f64 {
    let room_above = bed.height_mm - height(points, up);
    room_above.min(bed.diameter_mm - circle(points, up).diameter_mm)
}

/// Climbs from `start` (row 2 counts) to a direction no small turn improves; with `enough_mm` only until
/// that is reached or out of sight.
pub(crate) fn climb(
    points: &Points,
    start: Best,
    bed: Cylinder,
    first_reach_rad: f64,
    enough_mm: Option<f64>,
) -> Best {
    let limits_at = |rows: &Rows, reach: f64| {
        let mut limits: Vec<Limit> = Vec::with_capacity(10);
        let tilt = 0.7 * reach;
        let tilts = [[0.0, 0.0], [tilt, 0.0], [-tilt, 0.0], [0.0, tilt], [0.0, -tilt]];
        for [a, b] in tilts {
            let side = vec3::add(vec3::scale(rows[0], a), vec3::scale(rows[1], b));
            let Some(toward) = vec3::unit(vec3::add(rows[2], side)) else { continue };
            let covariance = circle(points, toward).covariance;
            let image = turn::apply(&covariance, rows[2]);
            let trace = covariance[0][0] + covariance[1][1] + covariance[2][2];
            let radius = (trace - vec3::dot(rows[2], image)).max(1e-12).sqrt();
            limits.push(Limit {
                room_mm: bed.diameter_mm - 2.0 * radius,
                slope: vec3::scale(vec3::cross(rows[2], image), -2.0 / radius),
                curve_mm: 0.0,
            });
        }
        for d in points.pairs(rows, tilt)[2] {
            limits.push(Limit {
                room_mm: bed.height_mm - vec3::dot(rows[2], d),
                slope: vec3::cross(rows[2], d),
                curve_mm: 0.0,
            });
        }
        limits
    };
    let margin_at = |rows: &Rows| margin_mm(points, rows[2], bed);
    climb::climb(start, first_reach_rad, enough_mm, limits_at, margin_at)
}

/// Below this reach (6 degrees) a cell is worth looking at all points again.
const FINE_RAD: f64 = 0.1;

struct Cell {
    face: usize,
    centre: P2,
    half: f64,
    points: Rc<Points>,
    fine: bool,
}

/// How far any direction of a cell is from its centre, in radians.
fn reach_rad(centre: P2, half: f64) -> f64 {
    let nearest: f64 = centre.iter().map(|c| (c.abs() - half).max(0.0)).map(|x| x * x).sum();
    let sine = std::f64::consts::SQRT_2 * half / (1.0 + nearest).sqrt();
    if sine >= 1.0 { PI } else { libm::asin(sine) }
}

/// The direction through a point of a cube's face.
pub(crate) fn direction(face: usize, at: P2) -> [f64; 3] {
    let mut d = [0.0; 3];
    d[face] = 1.0;
    d[(face + 1) % 3] = at[0];
    d[(face + 2) % 3] = at[1];
    vec3::scale(d, 1.0 / vec3::length(d))
}

fn cell_bound(points: &Points, up: [f64; 3], reach: f64, bed: Cylinder) -> (f64, f64) {
    let rows = turn::upright(up, 0.0);
    let (sin, cos) = libm::sincos(reach.min(FRAC_PI_2));
    let least_height =
        points.pairs(&rows, libm::tan(0.6 * reach.min(1.2)))[2].iter().fold(0.0, |least: f64, d| {
            let along = vec3::dot(up, *d);
            let aside = (vec3::dot(*d, *d) - along * along).max(0.0).sqrt();
            least.max(along * cos - aside * sin)
        });
    let carried = circle(points, up);
    let c = carried.covariance;
    let image = turn::apply(&c, up);
    let a = vec3::dot(up, image);
    let b = vec3::length(vec3::sub(image, vec3::scale(up, a)));
    // Largest eigenvalue of C across `up`.
    let [p, q] = [rows[0], rows[1]];
    let (cp, cq) = (turn::apply(&c, p), turn::apply(&c, q));
    let (pp, pq, qq) = (vec3::dot(p, cp), vec3::dot(p, cq), vec3::dot(q, cq));
    let e = 0.5 * (pp + qq) + libm::hypot(0.5 * (pp - qq), pq);
    // Greatest of (a+e)/2 + (a-e)/2 cos 2t + b sin 2t for t up to the reach.
    let (middle, swing) = (0.5 * (a + e), 0.5 * (a - e));
    let peak_at = 0.5 * libm::atan2(b, swing);
    let greatest = if peak_at <= reach {
        middle + libm::hypot(swing, b)
    } else {
        middle + swing * libm::cos(2.0 * reach) + b * libm::sin(2.0 * reach)
    };
    let trace = c[0][0] + c[1][1] + c[2][2];
    let least_diameter = 2.0 * (trace - greatest).max(0.0).sqrt();
    let bound = (bed.height_mm - least_height).min(bed.diameter_mm - least_diameter);
    let here = (bed.height_mm - height(points, up)).min(bed.diameter_mm - carried.diameter_mm);
    (bound, here)
}

/// Looks for the best up direction and proves what none can beat. `few` is a subset of `all`;
/// `start` holds a margin true for `all`.
pub(crate) fn search(all: &Points, few: &Points, bed: Cylinder, start: Best, stop: Stop) -> Searched {
    let mut best = start;
    let mut given_up_mm = f64::NEG_INFINITY;
    let (few, coarse_is_all) = (Rc::new(few.clone()), few.len() == all.len());
    let whole = |face| Cell { face, centre: [0.0; 2], half: 1.0, points: few.clone(), fine: coarse_is_all };
    let mut frontier = Frontier::new((0..3).map(whole));
    let mut n_cells = 0;
    while let Some((cell_bound_mm, cell)) = frontier.take() {
        let cutoff = stop.hopeless_mm.max(best.margin_mm + stop.gap_mm);
        if best.margin_mm >= stop.enough_mm || n_cells >= stop.n_cells || cell_bound_mm < cutoff {
            given_up_mm = given_up_mm.max(cell_bound_mm);
            break;
        }
        let (centre_up, reach) = (direction(cell.face, cell.centre), reach_rad(cell.centre, cell.half));
        let (points, fine) = if cell.fine {
            (Rc::new(near(&cell.points, centre_up, reach)), true)
        } else if reach < FINE_RAD {
            (Rc::new(near(all, centre_up, reach)), true)
        } else {
            (cell.points.clone(), false)
        };
        for corner in 0..4 {
            let half = 0.5 * cell.half;
            let centre: P2 =
                std::array::from_fn(|k| cell.centre[k] + if corner >> k & 1 == 1 { half } else { -half });
            let up = direction(cell.face, centre);
            let reach = reach_rad(centre, half);
            n_cells += 1 + points.len() as u32 / POINTS_A_CELL;
            let (bound_mm, here_mm) = cell_bound(&points, up, reach, bed);
            let bound_mm = bound_mm.min(cell_bound_mm);
            let cutoff = stop.hopeless_mm.max(best.margin_mm + stop.gap_mm);
            if bound_mm < cutoff {
                given_up_mm = given_up_mm.max(bound_mm);
                continue;
            }
            // Few points promise too much: all are asked before a climb.
            let ask_all = || Best { margin_mm: margin_mm(all, up, bed), rows: turn::upright(up, 0.0) };
            let from = (here_mm > best.margin_mm + 1e-9).then(ask_all);
            if let Some(from) = from.filter(|from| from.margin_mm > best.margin_mm + 1e-9) {
                n_cells += CELLS_A_CLIMB;
                // What counts is measured on all again: the climb may leave the near ones' reach.
                let near = near(all, up, 0.3);
                let found = climb(&near, from, bed, 0.5 * reach.min(0.2), stop.climb_to());
                let margin_mm = margin_mm(all, found.rows[2], bed);
                if margin_mm > best.margin_mm {
                    best = Best { margin_mm, rows: found.rows };
                }
            }
            let (face, points) = (cell.face, points.clone());
            frontier.add(bound_mm, Cell { face, centre, half, points, fine });
        }
    }
    let left_mm = frontier.highest_mm();
    Searched { best, upper_bound_mm: given_up_mm.max(left_mm).max(best.margin_mm), n_cells }
}
