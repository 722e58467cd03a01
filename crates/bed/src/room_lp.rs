//! How much room a small turn could gain at most: a linear programme in four unknowns.
//!
//! Each pair of points `d` along a bed axis `u` limits the margin after a small turn by `x` to
//! `size - u·d - x·slope`, up to a curvature term. Over a cube of turns `|x_i| <= h` the best margin is a
//! linear programme; its dual has four rows, so a simplex tableau solves it in a handful of pivots.
//! Any weights (at least 0, sum 1) of the limits prove a bound:
//! `sum(weight (size - u·d + curvature)) + h |sum(weight slope)|_1`. The bound is computed from the
//! weights alone, so an inexact solution costs tightness, never truth.
//! Source: linear programming duality and the simplex method, textbook; the use is ours.

use seamwright_mesh::vec3;

/// One pair's limit on the margin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limit {
    /// Margin it leaves where the axes are now.
    pub room_mm: f64,
    /// What the margin loses per radian of turn about each axis of the piece.
    pub slope: [f64; 3],
    /// The margin gains at most this times half the squared angle beyond the slope.
    pub curve_mm: f64,
}

/// The outcome.
#[derive(Debug, Clone, Copy)]
pub(crate) struct BestTurn {
    /// No turn in the cube leaves more.
    pub bound_mm: f64,
    /// What the linear model expects after `turn`.
    pub expected_mm: f64,
    /// The turn that is best in the linear model.
    pub turn: [f64; 3],
}

/// More limits than this are not looked at: five tilts of three axes.
const MOST: usize = 15;
const COLUMNS: usize = MOST + 6;

/// The best turn with no component beyond `half` under `limits` (at least one; the first 15
/// count), for turns by at most `angle_rad` altogether.
pub(crate) fn best_small_turn(limits: &[Limit], half: f64, angle_rad: f64) -> BestTurn {
    let limits = &limits[..limits.len().min(MOST)];
    let n = limits.len();
    let curve = 0.5 * angle_rad * angle_rad;
    let cost = |k: usize| limits[k].room_mm + limits[k].curve_mm * curve;
    let first = (0..n).min_by(|&i, &j| cost(i).total_cmp(&cost(j))).unwrap_or(0);

    // Columns: weights, then turns at their upper and lower ends. Row 0: weights sum to one.
    // Rows 1-3: slopes cancel. Last column of `rows`: right-hand side.
    let mut rows = [[0.0; COLUMNS + 1]; 4];
    let mut reduced = [0.0; COLUMNS];
    let mut basis = [first, 0, 0, 0];
    for k in 0..n {
        rows[0][k] = 1.0;
        reduced[k] = cost(k) - cost(first);
    }
    rows[0][COLUMNS] = 1.0;
    for axis in 0..3 {
        let row = &mut rows[axis + 1];
        let at_first = limits[first].slope[axis];
        // Turned round so that the column that starts in the basis has value |slope| >= 0.
        let sign = if at_first <= 0.0 { 1.0 } else { -1.0 };
        for k in 0..n {
            row[k] = sign * (limits[k].slope[axis] - at_first);
        }
        row[MOST + axis] = sign;
        row[MOST + 3 + axis] = -sign;
        row[COLUMNS] = at_first.abs();
        basis[axis + 1] = if sign > 0.0 { MOST + axis } else { MOST + 3 + axis };
        for k in 0..n {
            reduced[k] -= half * row[k];
        }
        // The one out of the basis: its own cost and that of the one in the basis it cancels.
        let out = if sign > 0.0 { MOST + 3 + axis } else { MOST + axis };
        reduced[out] = 2.0 * half;
    }
    pivot_to_optimum(&mut rows, &mut reduced, &mut basis, n);

    let mut weights = [0.0; MOST];
    for (row, &column) in rows.iter().zip(&basis) {
        if column < MOST {
            weights[column] = row[COLUMNS].max(0.0);
        }
    }
    let total: f64 = weights.iter().sum();
    if total > 0.5 {
        weights.iter_mut().for_each(|w| *w /= total);
    } else {
        // Rounding went astray; one limit alone is always a proof.
        weights = [0.0; MOST];
        weights[first] = 1.0;
    }
    let (mut curved, mut slope) = (0.0, [0.0; 3]);
    for k in 0..n {
        curved += weights[k] * cost(k);
        slope = vec3::add(slope, vec3::scale(limits[k].slope, weights[k]));
    }
    let turn: [f64; 3] = std::array::from_fn(|axis| {
        let turn = 0.5 * (reduced[MOST + 3 + axis] - reduced[MOST + axis]);
        turn.clamp(-half, half)
    });
    let expected_mm =
        limits.iter().map(|l| l.room_mm - vec3::dot(l.slope, turn)).fold(f64::INFINITY, f64::min);
    BestTurn { bound_mm: curved + half * slope.iter().map(|s| s.abs()).sum::<f64>(), expected_mm, turn }
}

fn pivot_to_optimum(
    rows: &mut [[f64; COLUMNS + 1]; 4],
    reduced: &mut [f64; COLUMNS],
    basis: &mut [usize; 4],
    n: usize,
) {
    // Far more than the few pivots four rows take; whatever is reached by then is still a proof.
    for _ in 0..60 {
        let mut entering = None;
        let mut least = -1e-10;
        for column in (0..n).chain(MOST..COLUMNS) {
            if reduced[column] < least {
                least = reduced[column];
                entering = Some(column);
            }
        }
        let Some(entering) = entering else { return };
        let mut leaving = None;
        let mut step = f64::INFINITY;
        for (index, row) in rows.iter().enumerate() {
            if row[entering] > 1e-11 {
                let ratio = row[COLUMNS] / row[entering];
                if ratio < step {
                    step = ratio;
                    leaving = Some(index);
                }
            }
        }
        let Some(leaving) = leaving else { return };
        let scale = 1.0 / rows[leaving][entering];
        rows[leaving].iter_mut().for_each(|value| *value *= scale);
        let pivot = rows[leaving];
        for (index, row) in rows.iter_mut().enumerate() {
            let factor = row[entering];
            if index != leaving && factor != 0.0 {
                row.iter_mut().zip(&pivot).for_each(|(value, p)| *value -= factor * p);
            }
        }
        let factor = reduced[entering];
        reduced.iter_mut().zip(&pivot).for_each(|(value, p)| *value -= factor * p);
        basis[leaving] = entering;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(room_mm: f64, slope: [f64; 3]) -> Limit {
        Limit { room_mm, slope, curve_mm: 0.0 }
    }

    #[test]
    fn one_limit_is_followed_to_the_end_of_the_reach() {
        let best = best_small_turn(&[limit(5.0, [10.0, 0.0, 0.0])], 0.1, 0.1);
        assert!((best.bound_mm - 6.0).abs() < 1e-12, "{best:?}");
        assert!((best.turn[0] + 0.1).abs() < 1e-12, "{best:?}");
    }

    #[test]
    fn opposed_limits_meet_in_the_middle() {
        let limits = [limit(5.0, [10.0, 0.0, 0.0]), limit(4.0, [-10.0, 0.0, 0.0])];
        let best = best_small_turn(&limits, 1.0, 1.0);
        assert!((best.bound_mm - 4.5).abs() < 1e-12, "{best:?}");
        assert!((best.turn[0] - 0.05).abs() < 1e-12, "{best:?}");
    }

    #[test]
    fn no_turn_in_the_cube_beats_the_bound_and_the_turn_reaches_what_it_expects() {
        arbtest::arbtest(|u| {
            let mut number =
                || -> arbtest::arbitrary::Result<f64> { Ok(f64::from(u.int_in_range(-1000..=1000)?) / 10.0) };
            let mut limits = Vec::new();
            for _ in 0..9 {
                limits.push(limit(number()?, [number()?, number()?, number()?]));
            }
            let reach = 0.2;
            let best = best_small_turn(&limits, reach, reach);
            let room = |turn: [f64; 3]| {
                limits.iter().map(|l| l.room_mm - vec3::dot(l.slope, turn)).fold(f64::INFINITY, f64::min)
            };
            assert_eq!(room(best.turn), best.expected_mm);
            // Without curvature the bound is reached: strong duality.
            assert!((best.expected_mm - best.bound_mm).abs() < 1e-6, "{best:?}");
            for _ in 0..100 {
                let turn = [number()?, number()?, number()?].map(|x| x * reach / 100.0);
                assert!(room(turn) <= best.bound_mm + 1e-9);
            }
            Ok(())
        })
        .budget_ms(1_000);
    }
}
