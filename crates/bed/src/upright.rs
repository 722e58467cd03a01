//! The best turn of a piece about a given up direction: exact, in closed form.
//!
//! Margin: the least of (usable size - extent) over the two axes of the bed and the height; on a
//! round bed, usable diameter - diameter of the smallest circle round the shadow. It is the room
//! left in all (both sides together), negative by what sticks out. Fits means >= -1e-6 ([`fits`]).
//! How: turning the shadow's hull by `a`, each extent between two calliper events is that of one
//! pair of corners, `|p| cos(a + phi)`. Room is a convex function of `a` there, so the best of the
//! lesser of two rooms lies at an event or where both are equal, which is one equation
//! `A cos a + B sin a = C`. A turn by 90 degrees swaps the axes, so `0 <= a < 180` holds both orders.
//! Cost: O(n log n) for n points.
//! Source: rotating callipers (1983, title from memory); the equation is ours.
//! Not here: choosing the up direction (`fit.rs`, `rest.rs`).

use std::f64::consts::PI;

use crate::bed::{Bed, BedShape};
use crate::convex2d::{self, P2};
use crate::turn::{self, Rows};

/// A margin from here on counts as fitting: what rounding may cost, a thousandth of a step of the
/// coordinate grid (contract).
pub const FITS_MM: f64 = -1e-6;

/// Whether a piece with this margin fits.
pub fn fits(margin_mm: f64) -> bool {
    margin_mm >= FITS_MM
}

/// The best turn about a given up direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Upright {
    /// Lesser of the two below.
    pub margin_mm: f64,
    /// Room left by the shadow on the bed.
    pub footprint_margin_mm: f64,
    /// Room left above.
    pub height_margin_mm: f64,
    /// Turn about the up direction, 0 to pi; see [`turn::upright`] for where it starts.
    pub turn_rad: f64,
    /// The whole rotation: row 2 is the up direction.
    pub rows: Rows,
}

/// The best turn of `points_mm` with the unit vector `up` upward.
pub fn fit_upright(points_mm: &[[f64; 3]], up: [f64; 3], bed: &Bed) -> Upright {
    let usable = bed.usable();
    let (shadow, height_mm) = shadow(points_mm, up);
    let (footprint_margin_mm, turn_rad) = best_turn(&shadow, usable.shape);
    let height_margin_mm = usable.height_mm - height_mm;
    Upright {
        margin_mm: footprint_margin_mm.min(height_margin_mm),
        footprint_margin_mm,
        height_margin_mm,
        turn_rad,
        rows: turn::upright(up, turn_rad),
    }
}

/// Hull of the shadow of `points_mm` along `up`, in the frame that [`turn::upright`] starts from,
/// and the height.
pub fn shadow(points_mm: &[[f64; 3]], up: [f64; 3]) -> (Vec<P2>, f64) {
    let rows = turn::upright(up, 0.0);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let flat: Vec<P2> = points_mm
        .iter()
        .map(|&p| {
            let [x, y, z] = turn::apply(&rows, p);
            low = low.min(z);
            high = high.max(z);
            [x, y]
        })
        .collect();
    (convex2d::hull(&flat), if flat.is_empty() { 0.0 } else { high - low })
}

/// The most room a convex polygon leaves in the outline `usable` over all turns, and the turn.
pub fn best_turn(polygon: &[P2], usable: BedShape) -> (f64, f64) {
    let (width_mm, depth_mm) = match usable {
        BedShape::Round { diameter_mm } => {
            return (diameter_mm - 2.0 * convex2d::smallest_circle(polygon).1, 0.0);
        }
        BedShape::Rect { width_mm, depth_mm } => (width_mm, depth_mm),
    };
    let mut best = (f64::NEG_INFINITY, 0.0);
    // Equal rooms keep the smaller turn, whatever the last bits say.
    let offer = |margin: f64, turn: f64, best: &mut (f64, f64)| {
        if margin > best.0 + 1e-10 {
            *best = (margin, turn);
        }
    };
    let rooms = |[x, y]: [f64; 2]| [width_mm - x, depth_mm - y];
    for stretch in stretches(polygon) {
        let (from, to) = (rooms(stretch.at_ends[0]), rooms(stretch.at_ends[1]));
        offer(from[0].min(from[1]), stretch.from, &mut best);
        offer(to[0].min(to[1]), stretch.to, &mut best);
        // Each room is convex between the ends, so inside neither exceeds its larger end.
        if from[0].max(to[0]).min(from[1].max(to[1])) > best.0 {
            for turn in stretch.where_difference_is(width_mm - depth_mm) {
                let room = rooms(stretch.extents(libm::sincos(turn)));
                offer(room[0].min(room[1]), turn, &mut best);
            }
        }
    }
    if polygon.is_empty() { (width_mm.min(depth_mm), 0.0) } else { best }
}

/// All turns from 0 to pi at which a convex polygon fits the outline, as intervals in order.
/// A round bed takes every turn or none.
pub fn feasible_turns(polygon: &[P2], usable: BedShape) -> Vec<[f64; 2]> {
    let (width_mm, depth_mm) = match usable {
        BedShape::Round { .. } => {
            return if fits(best_turn(polygon, usable).0) { vec![[0.0, PI]] } else { Vec::new() };
        }
        BedShape::Rect { width_mm, depth_mm } => (width_mm, depth_mm),
    };
    let mut found: Vec<[f64; 2]> = Vec::new();
    for stretch in stretches(polygon) {
        let mut marks = vec![stretch.from, stretch.to];
        marks.extend(stretch.where_extent_is(0, width_mm - FITS_MM));
        marks.extend(stretch.where_extent_is(1, depth_mm - FITS_MM));
        marks.sort_by(f64::total_cmp);
        for pair in marks.windows(2) {
            let [x, y] = stretch.extents(libm::sincos(0.5 * (pair[0] + pair[1])));
            if fits((width_mm - x).min(depth_mm - y)) {
                match found.last_mut() {
                    Some(last) if last[1] >= pair[0] => last[1] = pair[1],
                    _ => found.push([pair[0], pair[1]]),
                }
            }
        }
    }
    found
}

/// Turns between two calliper events: both extents belong to one pair of corners each.
struct Stretch {
    from: f64,
    to: f64,
    /// Both extents at `from` and `to`.
    at_ends: [[f64; 2]; 2],
    /// The pair's difference for the X extent.
    x: P2,
    /// And for the Y extent.
    y: P2,
}

impl Stretch {
    /// X and Y extent at the turn with this sine and cosine.
    fn extents(&self, (sin, cos): (f64, f64)) -> [f64; 2] {
        [self.x[0] * cos - self.x[1] * sin, self.y[0] * sin + self.y[1] * cos]
    }

    /// Turns inside at which X extent - Y extent is `difference`.
    fn where_difference_is(&self, difference: f64) -> impl Iterator<Item = f64> {
        self.solve(self.x[0] - self.y[1], -self.x[1] - self.y[0], difference)
    }

    /// Turns inside at which the extent along `axis` is `size`.
    fn where_extent_is(&self, axis: usize, size: f64) -> impl Iterator<Item = f64> {
        let (a, b) = if axis == 0 { (self.x[0], -self.x[1]) } else { (self.y[1], self.y[0]) };
        self.solve(a, b, size)
    }

    /// Turns `t` inside with `a cos t + b sin t = c`.
    fn solve(&self, a: f64, b: f64, c: f64) -> impl Iterator<Item = f64> {
        let size = libm::hypot(a, b);
        let (from, to) = (self.from, self.to);
        let both = if c.abs() <= size && size > 0.0 {
            let (middle, half) = (libm::atan2(b, a), libm::acos(c / size));
            [middle - half, middle + half]
        } else {
            [f64::NAN; 2]
        };
        both.into_iter()
            .map(|t| if t < 0.0 { t + 2.0 * PI } else { t })
            .filter(move |&t| from <= t && t <= to)
    }
}

/// The stretches of turns from 0 to pi, in order; none for an empty polygon.
fn stretches(polygon: &[P2]) -> Vec<Stretch> {
    let n = polygon.len();
    if n == 0 {
        return Vec::new();
    }
    let mut events = vec![0.0, PI];
    for i in 0..n {
        let (a, b) = (polygon[i], polygon[(i + 1) % n]);
        let edge = [b[0] - a[0], b[1] - a[1]];
        if edge != [0.0, 0.0] {
            // The edge stands square to the X axis, and a quarter turn later to the Y axis.
            for turn in [libm::atan2(edge[0], edge[1]), libm::atan2(-edge[1], edge[0])] {
                let turn = if turn < 0.0 { turn + PI } else { turn };
                if turn < PI {
                    events.push(turn);
                }
            }
        }
    }
    events.sort_by(f64::total_cmp);
    let events: Vec<(f64, (f64, f64))> = events.into_iter().map(|turn| (turn, libm::sincos(turn))).collect();
    let mut ends = [0; 4];
    events
        .windows(2)
        .filter(|pair| pair[1].0 - pair[0].0 > 1e-15)
        .map(|pair| {
            let [(from, (sin_from, cos_from)), (to, (sin_to, cos_to))] = [pair[0], pair[1]];
            // Halfway between, of any length: only the order of corners along it counts.
            let (sin, cos) = (sin_from + sin_to, cos_from + cos_to);
            let along = [[cos, -sin], [-cos, sin], [sin, cos], [-sin, -cos]];
            for (end, direction) in ends.iter_mut().zip(along) {
                *end = climb(polygon, *end, direction);
            }
            let difference = |high: usize, low: usize| {
                [polygon[high][0] - polygon[low][0], polygon[high][1] - polygon[low][1]]
            };
            let (x, y) = (difference(ends[0], ends[1]), difference(ends[2], ends[3]));
            let mut stretch = Stretch { from, to, at_ends: [[0.0; 2]; 2], x, y };
            stretch.at_ends = [stretch.extents(pair[0].1), stretch.extents(pair[1].1)];
            stretch
        })
        .collect()
}

/// The corner farthest along `direction`, climbing from `start`; a convex outline has one top.
fn climb(polygon: &[P2], start: usize, direction: P2) -> usize {
    let n = polygon.len();
    let along = |i: usize| polygon[i][0] * direction[0] + polygon[i][1] * direction[1];
    let mut at = start;
    // Each step climbs strictly, so the loop ends.
    loop {
        let (next, before) = ((at + 1) % n, (at + n - 1) % n);
        if along(next) > along(at) {
            at = next;
        } else if along(before) > along(at) {
            at = before;
        } else {
            return at;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::vec3;
    use std::f64::consts::SQRT_2;

    fn rect(w: f64, d: f64) -> Vec<P2> {
        vec![[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]]
    }

    fn square(side: f64) -> BedShape {
        BedShape::Rect { width_mm: side, depth_mm: side }
    }

    fn bare(text: &str) -> Bed {
        Bed { margin_mm: 0.0, ..Bed::parse(text).unwrap() }
    }

    fn box_points(size: [f64; 3]) -> Vec<[f64; 3]> {
        (0..8).map(|i| std::array::from_fn(|k| if i >> k & 1 == 1 { size[k] } else { 0.0 })).collect()
    }

    /// Largest shortfall a scan by `step` can have: extents move by at most diameter x step / 2.
    fn by_scan(polygon: &[P2], width: f64, depth: f64, n: usize) -> f64 {
        (0..n)
            .map(|i| {
                let points = convex2d::turned(polygon, PI * i as f64 / n as f64);
                let (low, high) = convex2d::bounds(&points);
                (width - high[0] + low[0]).min(depth - high[1] + low[1])
            })
            .fold(f64::NEG_INFINITY, f64::max)
    }

    #[test]
    fn a_strip_40_wide_on_a_220_square_may_be_271_13_long_at_45_degrees() {
        // A strip across the diagonal: length + width = 220 sqrt 2 (elementary).
        let longest = 220.0 * SQRT_2 - 40.0;
        assert!((longest - 271.13).abs() < 0.005);
        let (margin, turn) = best_turn(&rect(longest, 40.0), square(220.0));
        assert!(margin.abs() < 1e-9, "{margin}");
        assert!((turn - PI / 4.0).abs() < 1e-9 || (turn - 3.0 * PI / 4.0).abs() < 1e-9, "{turn}");
        assert!(fits(best_turn(&rect(longest - 0.001, 40.0), square(220.0)).0));
        assert!(!fits(best_turn(&rect(longest + 0.001, 40.0), square(220.0)).0));
    }

    #[test]
    fn squares_and_3_to_2_rectangles_fit_circles_up_to_their_diagonal() {
        // Diagonals: 100 sqrt 2 and 50 sqrt 13 (Pythagoras).
        for (w, d, diameter) in [(100.0, 100.0, 100.0 * SQRT_2), (150.0, 100.0, 50.0 * 13f64.sqrt())] {
            let margin = |diameter_mm| best_turn(&rect(w, d), BedShape::Round { diameter_mm }).0;
            assert!(margin(diameter).abs() < 1e-9);
            assert!((margin(diameter + 7.0) - 7.0).abs() < 1e-9);
            assert!(!fits(margin(diameter - 0.001)));
        }
    }

    #[test]
    fn an_upright_box_leaves_its_difference_to_the_bed() {
        let up = [0.0, 0.0, 1.0];
        let found = fit_upright(&box_points([100.0, 60.0, 30.0]), up, &bare("61x110x50"));
        assert!((found.margin_mm - 1.0).abs() < 1e-9, "{found:?}");
        assert!((found.height_margin_mm - 20.0).abs() < 1e-9);
        let bed = Bed::parse("71x120x35").unwrap();
        let found = fit_upright(&box_points([100.0, 60.0, 30.0]), up, &bed);
        assert!((found.margin_mm - 0.0).abs() < 1e-9 && fits(found.margin_mm), "{found:?}");
    }

    #[test]
    fn the_rotation_reproduces_the_margin() {
        let points = box_points([90.0, 20.0, 130.0]);
        let bed = bare("80x85x300");
        let up = vec3::unit([0.2, -0.3, 0.9]).unwrap();
        let found = fit_upright(&points, up, &bed);
        let turned: Vec<_> = points.iter().map(|&p| turn::apply(&found.rows, p)).collect();
        let extent = |axis: usize| {
            let high = turned.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
            high - turned.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min)
        };
        let margin = (80.0 - extent(0)).min(85.0 - extent(1)).min(300.0 - extent(2));
        assert!((margin - found.margin_mm).abs() < 1e-9, "{margin} {found:?}");
    }

    #[test]
    fn no_scan_over_turns_beats_the_closed_form_nor_falls_far_behind() {
        arbtest::arbtest(|u| {
            let mut number = |low: f64, high: f64| -> arbtest::arbitrary::Result<f64> {
                Ok(low + (high - low) * f64::from(u.int_in_range(0..=1_000_000)?) / 1e6)
            };
            let mut points = Vec::new();
            for _ in 0..8 {
                points.push([number(-100.0, 100.0)?, number(-60.0, 60.0)?]);
            }
            let polygon = convex2d::hull(&points);
            let (width, depth) = (number(50.0, 200.0)?, number(50.0, 200.0)?);
            let n = 2000;
            let scan = by_scan(&polygon, width, depth, n);
            let (exact, turn) = best_turn(&polygon, BedShape::Rect { width_mm: width, depth_mm: depth });
            assert!(exact >= scan - 1e-9, "{exact} {scan}");
            assert!(exact <= scan + 240.0 * PI / n as f64, "{exact} {scan}");
            assert!((0.0..=PI).contains(&turn));
            // Turning the shadow changes nothing.
            let again = convex2d::hull(&convex2d::turned(&points, number(0.0, 6.0)?));
            let (same, _) = best_turn(&again, BedShape::Rect { width_mm: width, depth_mm: depth });
            assert!((same - exact).abs() < 1e-6, "{same} {exact}");
            Ok(())
        })
        .budget_ms(2_000);
    }

    #[test]
    fn feasible_turns_are_those_a_scan_finds() {
        // Strip 250 x 40 on 220 square: turns from t0 to 90 - t0 with 250 cos t + 40 sin t = 220.
        let found = feasible_turns(&rect(250.0, 40.0), square(220.0));
        assert_eq!(found.len(), 2, "{found:?}");
        let size = libm::hypot(250.0, 40.0);
        let t0 = libm::acos(220.0 / size) + libm::atan2(40.0, 250.0);
        assert!((found[0][0] - t0).abs() < 1e-6, "{found:?} {t0}");
        assert!((found[0][1] - (PI / 2.0 - t0)).abs() < 1e-6, "{found:?} {t0}");
        for i in 0..1000 {
            let turn = PI * f64::from(i) / 1000.0;
            let points = convex2d::turned(&rect(250.0, 40.0), turn);
            let (low, high) = convex2d::bounds(&points);
            let inside = fits((220.0 - high[0] + low[0]).min(220.0 - high[1] + low[1]));
            assert_eq!(inside, found.iter().any(|f| f[0] <= turn && turn <= f[1]), "{turn}");
        }
        assert_eq!(feasible_turns(&rect(300.0, 40.0), square(220.0)), Vec::<[f64; 2]>::new());
    }

    #[test]
    fn points_and_stretches_are_shadows_too() {
        assert_eq!(best_turn(&[[3.0, 4.0]], square(50.0)).0, 50.0);
        assert_eq!(best_turn(&[], square(50.0)).0, 50.0);
        let (margin, _) = best_turn(&[[0.0, 0.0], [100.0 * SQRT_2, 0.0]], square(100.0));
        assert!(margin.abs() < 1e-9, "{margin}");
    }
}
