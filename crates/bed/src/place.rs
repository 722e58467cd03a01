//! Put one footprint among others: of all free spots the best by a given rank.
//!
//! How: around each obstacle lies a no-fit polygon, grown by the gap, that the footprint's origin
//! must avoid; inside the room lies the region it must keep to. A best spot is pressed against its
//! limits, so it lies on an edge of a no-fit polygon or is a corner of the region. Each edge is cut
//! down to the region, what lies in other no-fit polygons is taken out of it, and the ends of what
//! is left are the spots. The winner is tested once more from the footprints themselves, by distance.
//! Units and frame: millimetres, x right, y up, the frame of the bed.
//! Cost: O(e n) interval cuts for e edges of n no-fit polygons, less what their boxes and the best
//! rank so far rule out.
//! Source: no-fit polygon and bottom-left rule, textbook; the gap's band is cut by tangents at
//! corners (`convex2d::grown`), so a spot may be up to 2 % of the gap farther than need be there.
//! Not here: which piece goes where, and turning (crate `loads`).

use crate::convex2d::{
    P2, bounds, cross, dot, edges, grown, holds_point, length, moved, no_fit, separation_mm, smallest_circle,
    sub,
};
use crate::room::{Edge, Room, TOUCH_MM};

/// Where to move the footprint so that it lies in the room, at least `gap_mm` from every obstacle,
/// lowest first and then leftmost; `None` where it has no room.
///
/// `footprint` and `obstacles` are convex, counter-clockwise ([`crate::convex2d::hull`]), mm.
/// Keep-outs of the room may be touched: the gap is one between footprints.
pub fn place(footprint: &[P2], room: &Room, obstacles: &[Vec<P2>], gap_mm: f64) -> Option<P2> {
    let among = Among { room, obstacles, gap_mm };
    let region = Region::new(footprint, room)?;
    among.best_spot(footprint, &region, None, |step| [step[1], step[0]], &mut 0).map(|(step, _)| step)
}

/// What a footprint is to be placed among; see [`place`].
#[derive(Debug, Clone, Copy)]
pub struct Among<'a> {
    /// Where footprints may lie.
    pub room: &'a Room,
    /// Those that lie there already, convex, counter-clockwise.
    pub obstacles: &'a [Vec<P2>],
    /// Kept free between footprints, mm.
    pub gap_mm: f64,
}

impl Among<'_> {
    /// As [`place`], but the spot with the least rank wins, and only ranks below `limit` count.
    /// Returns the move and its rank.
    ///
    /// `region` is that of this footprint in this room: it depends on neither obstacles nor gap, so
    /// that whoever asks often makes it once.
    ///
    /// `rank` must not be less inside a straight stretch than at both its ends (a height, minus a
    /// distance). Ranks are compared to a millionth, so that rounding does not choose between equal
    /// spots. Each edge cut by a polygon adds one to `work`, each corner of such a
    /// polygon two.
    pub fn best_spot(
        &self,
        footprint: &[P2],
        region: &Region,
        limit: Option<[f64; 2]>,
        rank: impl Fn(P2) -> [f64; 2],
        work: &mut u64,
    ) -> Option<(P2, [f64; 2])> {
        let rank_of = |spot: P2| rank(spot).map(|r| (r * 1e6).round() as i64);
        let mut limit = limit.map(|limit| limit.map(|r| (r * 1e6).round() as i64));
        let inner = &region.0;
        let (least, most) = inner.bounds();
        let corners = [least, [most[0], least[1]], most, [least[0], most[1]]];
        *work += 1;
        if limit.is_some_and(|limit| corners.iter().all(|&c| rank_of(c) >= limit)) {
            return None;
        }
        let forbidden = self.forbidden(footprint, least, most);
        // Making a no-fit polygon costs about as much as two cuts a corner.
        *work += 2 * forbidden.iter().map(|f| f.outline.len() as u64).sum::<u64>();

        let exactly_free = |spot: P2| {
            let there = moved(footprint, spot);
            self.room.holds(&there)
                && self.obstacles.iter().all(|o| separation_mm(o, &there) >= self.gap_mm - TOUCH_MM)
        };
        let mut best = None;
        let mut offer = |spot: P2, limit: &mut Option<[i64; 2]>| {
            let key = rank_of(spot);
            if limit.is_none_or(|limit| key < limit) && exactly_free(spot) {
                (*limit, best) = (Some(key), Some(spot));
            }
        };
        inner.corners(|spot| {
            if forbidden.iter().all(|f| !f.holds(spot)) {
                offer(spot, &mut limit);
            }
        });
        let mut left: Vec<[f64; 2]> = Vec::new();
        for (i, own) in forbidden.iter().enumerate() {
            for (p, q) in edges(&own.outline) {
                if limit.is_some_and(|limit| rank_of(p) >= limit && rank_of(q) >= limit) {
                    continue;
                }
                let Some(inside) = inner.cut(p, q) else { continue };
                left.clear();
                left.push(inside);
                for other in forbidden[..i].iter().chain(&forbidden[i + 1..]) {
                    *work += 1;
                    other.take_out(p, q, &mut left);
                    if left.is_empty() {
                        break;
                    }
                }
                for t in left.iter().flatten() {
                    offer([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])], &mut limit);
                }
            }
        }
        best.map(|spot| (spot, rank(spot)))
    }

    /// No-fit polygons that reach into the box of the inner region.
    fn forbidden(&self, footprint: &[P2], least: P2, most: P2) -> Vec<Forbidden> {
        let near = |outline: Vec<P2>| {
            let (low, high) = bounds(&outline);
            (0..2)
                .all(|k| low[k] <= most[k] + TOUCH_MM && high[k] >= least[k] - TOUCH_MM)
                .then_some(Forbidden { outline, low, high })
        };
        let obstacles = self.obstacles.iter().map(|o| grown(&no_fit(o, footprint), self.gap_mm));
        let keep_out = self.room.keep_out().iter().map(|part| no_fit(part, footprint));
        obstacles.chain(keep_out).filter_map(near).collect()
    }
}

struct Forbidden {
    outline: Vec<P2>,
    low: P2,
    high: P2,
}

impl Forbidden {
    fn holds(&self, spot: P2) -> bool {
        (0..2).all(|k| self.low[k] < spot[k] && spot[k] < self.high[k])
            && holds_point(&self.outline, spot, TOUCH_MM)
    }

    /// Takes the part of the stretch `p`-`q` inside this polygon out of the intervals left of it.
    fn take_out(&self, p: P2, q: P2, left: &mut Vec<[f64; 2]>) {
        let apart = |k: usize| p[k].min(q[k]) >= self.high[k] || p[k].max(q[k]) <= self.low[k];
        if apart(0) || apart(1) || self.outline.len() < 3 {
            return;
        }
        let along = sub(q, p);
        let (mut from, mut to) = (0.0f64, 1.0f64);
        for (a, b) in edges(&self.outline) {
            let side = sub(b, a);
            // Depth inside this edge, times its length, at p and gained on the way to q. Half of what
            // counts as touching is left, so that the ends pass the exact test.
            let depth = cross(side, sub(p, a)) - 0.5 * TOUCH_MM * side[0].abs().max(side[1].abs());
            let gain = cross(side, along);
            if gain > 0.0 {
                from = from.max(-depth / gain);
            } else if gain < 0.0 {
                to = to.min(-depth / gain);
            } else if depth <= 0.0 {
                return;
            }
            if from >= to {
                return;
            }
        }
        let mut i = 0;
        while i < left.len() {
            let [start, end] = left[i];
            if to < start || from > end {
                i += 1;
                continue;
            }
            // An end on the very border stays, be it a single point.
            let (before, after) =
                (from > start || (from == start && start > 0.0), to < end || (to == end && end < 1.0));
            match (before, after) {
                (true, true) => {
                    left[i] = [start, from];
                    left.insert(i + 1, [to, end]);
                    i += 2;
                }
                (true, false) => {
                    left[i] = [start, from];
                    i += 1;
                }
                (false, true) => {
                    left[i] = [to, end];
                    i += 1;
                }
                (false, false) => {
                    left.remove(i);
                }
            }
        }
    }
}

/// Where the footprint's origin may be for the footprint to lie inside the room's outer edge.
#[derive(Debug, Clone)]
pub struct Region(InnerFit);

impl Region {
    /// `None` where the footprint, turned as it is, is too large for the room.
    pub fn new(footprint: &[P2], room: &Room) -> Option<Region> {
        InnerFit::new(footprint, room).map(Region)
    }
}

/// The shapes a [`Region`] has.
#[derive(Debug, Clone)]
enum InnerFit {
    /// A rectangle, possibly as thin as a line or a point.
    Box { low: P2, high: P2 },
    /// What equal discs have in common, one disc for each corner of the footprint that matters.
    Discs { centres: Vec<P2>, radius_mm: f64, corners: Vec<P2>, low: P2, high: P2 },
}

impl InnerFit {
    fn new(footprint: &[P2], room: &Room) -> Option<InnerFit> {
        match room.edge() {
            Edge::Rect { low, high } => {
                let (least, most) = bounds(footprint);
                let mut inner = (sub(low, least), sub(high, most));
                for k in 0..2 {
                    if inner.0[k] > inner.1[k] + 2.0 * TOUCH_MM {
                        return None;
                    }
                    if inner.0[k] > inner.1[k] {
                        let middle = 0.5 * (inner.0[k] + inner.1[k]);
                        (inner.0[k], inner.1[k]) = (middle, middle);
                    }
                }
                Some(InnerFit::Box { low: inner.0, high: inner.1 })
            }
            Edge::Round { centre, radius_mm } => InnerFit::discs(footprint, centre, radius_mm),
        }
    }

    fn discs(footprint: &[P2], centre: P2, radius_mm: f64) -> Option<InnerFit> {
        let (middle, least_radius) = smallest_circle(footprint);
        if least_radius > radius_mm + TOUCH_MM {
            return None;
        }
        let mut centres: Vec<P2> = footprint.iter().map(|&p| sub(centre, p)).collect();
        let deepest = sub(centre, middle);
        let mut corners = vec![deepest];
        let in_all = |spot: P2| centres.iter().all(|&c| length(sub(spot, c)) <= radius_mm + TOUCH_MM);
        let mut on_edge = vec![footprint.len() < 2; centres.len()];
        for (i, &a) in centres.iter().enumerate() {
            for (j, &b) in centres.iter().enumerate().take(i) {
                for spot in circles_meet(a, b, radius_mm).into_iter().filter(|&s| in_all(s)) {
                    corners.push(spot);
                    (on_edge[i], on_edge[j]) = (true, true);
                }
            }
        }
        for (&c, on_edge) in centres.iter().zip(&mut on_edge) {
            for side in [[0.0, -1.0], [-1.0, 0.0], [0.0, 1.0], [1.0, 0.0]] {
                let spot = [c[0] + radius_mm * side[0], c[1] + radius_mm * side[1]];
                if in_all(spot) {
                    corners.push(spot);
                    *on_edge = true;
                }
            }
        }
        // Discs without a piece of the region's edge are implied by the others.
        if on_edge.contains(&true) {
            let mut flags = on_edge.iter();
            centres.retain(|_| flags.next().is_some_and(|&f| f));
        }
        let (low, high) = bounds(&corners);
        Some(InnerFit::Discs { centres, radius_mm, corners, low, high })
    }

    fn bounds(&self) -> (P2, P2) {
        match self {
            InnerFit::Box { low, high } | InnerFit::Discs { low, high, .. } => (*low, *high),
        }
    }

    fn corners(&self, mut offer: impl FnMut(P2)) {
        match self {
            InnerFit::Box { low, high } => {
                [*low, [high[0], low[1]], *high, [low[0], high[1]]].into_iter().for_each(offer);
            }
            InnerFit::Discs { corners, .. } => corners.iter().for_each(|&spot| offer(spot)),
        }
    }

    /// The part of the stretch `p`-`q` inside the region, as parameters from 0 at `p` to 1 at `q`.
    fn cut(&self, p: P2, q: P2) -> Option<[f64; 2]> {
        let along = sub(q, p);
        let (mut from, mut to) = (0.0f64, 1.0f64);
        match self {
            InnerFit::Box { low, high } => {
                for k in 0..2 {
                    if along[k].abs() <= TOUCH_MM {
                        if p[k] < low[k] - TOUCH_MM || p[k] > high[k] + TOUCH_MM {
                            return None;
                        }
                        continue;
                    }
                    let (at_low, at_high) = ((low[k] - p[k]) / along[k], (high[k] - p[k]) / along[k]);
                    from = from.max(at_low.min(at_high));
                    to = to.min(at_low.max(at_high));
                }
            }
            InnerFit::Discs { centres, radius_mm, .. } => {
                let square = dot(along, along);
                for &c in centres {
                    let across = sub(p, c);
                    let half = dot(across, along);
                    let root = half * half - square * (dot(across, across) - radius_mm * radius_mm);
                    if root < 0.0 || square == 0.0 {
                        return None;
                    }
                    from = from.max((-half - root.sqrt()) / square);
                    to = to.min((-half + root.sqrt()) / square);
                }
            }
        }
        (from <= to).then_some([from, to])
    }
}

fn circles_meet(a: P2, b: P2, radius_mm: f64) -> Vec<P2> {
    let along = sub(b, a);
    let apart = length(along);
    let square = radius_mm * radius_mm - 0.25 * apart * apart;
    if apart == 0.0 || square < 0.0 {
        return Vec::new();
    }
    let up = square.sqrt() / apart;
    let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    vec![
        [middle[0] - up * along[1], middle[1] + up * along[0]],
        [middle[0] + up * along[1], middle[1] - up * along[0]],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::convex2d::hull;
    use arbtest::arbitrary::{Result as Drawn, Unstructured};

    fn square(side: f64) -> Vec<P2> {
        vec![[0., 0.], [side, 0.], [side, side], [0., side]]
    }

    fn drawn_footprint(u: &mut Unstructured<'_>) -> Drawn<Vec<P2>> {
        let n = u.int_in_range(1..=9)?;
        let points: Drawn<Vec<P2>> = (0..n)
            .map(|_| {
                Ok([
                    f64::from(u.int_in_range(0..=60_000)?) / 1024.0,
                    f64::from(u.int_in_range(0..=60_000)?) / 1024.0,
                ])
            })
            .collect();
        Ok(hull(&points?))
    }

    #[test]
    fn the_first_square_goes_to_the_lower_left_and_the_next_beside_it() {
        let room = Room::rect([5., 5.], [215., 215.]);
        assert_eq!(place(&square(50.), &room, &[], 5.), Some([5., 5.]));
        let laid = vec![moved(&square(50.), [5., 5.])];
        assert_eq!(place(&square(50.), &room, &laid, 5.), Some([60., 5.]));
    }

    #[test]
    fn a_footprint_as_large_as_the_room_fits_and_a_larger_one_does_not() {
        let room = Room::rect([5., 5.], [215., 215.]);
        assert_eq!(place(&square(210.), &room, &[], 5.), Some([5., 5.]));
        assert_eq!(place(&square(210.000_001), &room, &[], 5.), None);
        let round = Room::round([130., 130.], 125.);
        let side = 125. * 2f64.sqrt();
        let spot = place(&square(side), &round, &[], 5.).unwrap();
        assert!((spot[0] - (130. - side / 2.)).abs() < 1e-6 && (spot[1] - (130. - side / 2.)).abs() < 1e-6);
        assert_eq!(place(&square(side + 1e-6), &round, &[], 5.), None);
    }

    #[test]
    fn a_slot_exactly_as_wide_as_the_footprint_and_two_gaps_is_found() {
        let room = Room::rect([0., 0.], [100., 40.]);
        let laid = vec![moved(&square(40.), [0., 0.]), moved(&square(35.), [65., 0.])];
        assert_eq!(place(&square(15.), &room, &laid, 5.), Some([45., 0.]));
        assert_eq!(place(&square(15.001), &room, &laid, 5.), None);
    }

    #[test]
    fn a_placed_footprint_is_inside_clear_of_the_others_and_not_lower_than_any_sampled_spot() {
        arbtest::arbtest(|u| {
            let room = if u.arbitrary()? {
                Room::rect([5., 5.], [175., 155.]).without(&[vec![
                    [5., 5.],
                    [45., 5.],
                    [45., 25.],
                    [5., 25.],
                ]])
            } else {
                Room::round([90., 90.], 85.)
            };
            let gap_mm = if u.arbitrary()? { 5.0 } else { 0.0 };
            let mut laid: Vec<Vec<P2>> = Vec::new();
            for _ in 0..6 {
                let footprint = drawn_footprint(u)?;
                let spot = place(&footprint, &room, &laid, gap_mm);
                let good = |spot: P2| {
                    let there = moved(&footprint, spot);
                    room.holds(&there) && laid.iter().all(|o| separation_mm(o, &there) >= gap_mm - TOUCH_MM)
                };
                assert!(spot.is_none_or(good));
                for _ in 0..20 {
                    let other = [f64::from(u.int_in_range(0..=170)?), f64::from(u.int_in_range(0..=170)?)];
                    // With a gap the band at corners may cost the lowest spot; without one it may not.
                    if gap_mm == 0.0 && good(other) {
                        assert!(spot.is_some_and(|s| s[1] <= other[1] + 1e-6), "{spot:?} above {other:?}");
                    }
                }
                laid.extend(spot.map(|spot| moved(&footprint, spot)));
            }
            Ok(())
        })
        .budget_ms(600);
    }
}
