//! Put one footprint among others: every spot where it touches what limits it, and the best of them.
//!
//! How: around each obstacle lies a no-fit polygon, grown by the gap, that the footprint's origin
//! must avoid; inside the room lies the region it must keep to. A spot pressed against its limits
//! is a corner of one of these outlines or a crossing of two, so those are all tried, best rank
//! first, and the first that is free wins. It is then tested once more from the footprints
//! themselves, by distance.
//! Units and frame: millimetres, x right, y up, the frame of the bed.
//! Cost: O(e²) for e edges of no-fit polygons, most pairs dropped by their boxes.
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
    place_ranked(footprint, room, obstacles, gap_mm, None, |step| [step[1], step[0]]).map(|(step, _)| step)
}

/// As [`place`], but the spot with the least rank wins, and only ranks below `limit` are looked at.
/// Returns the move and its rank. Ranks are compared first by their first number, to 1e-6.
pub fn place_ranked(
    footprint: &[P2],
    room: &Room,
    obstacles: &[Vec<P2>],
    gap_mm: f64,
    limit: Option<[f64; 2]>,
    rank: impl Fn(P2) -> [f64; 2],
) -> Option<(P2, [f64; 2])> {
    let inner = InnerFit::new(footprint, room)?;
    let mut forbidden: Vec<Forbidden> = Vec::with_capacity(obstacles.len() + room.keep_out().len());
    let (least, most) = inner.bounds();
    let mut forbid = |outline: Vec<P2>| {
        let (low, high) = bounds(&outline);
        // What lies outside the inner region can neither block a spot nor make one.
        if (0..2).all(|k| low[k] <= most[k] + TOUCH_MM && high[k] >= least[k] - TOUCH_MM) {
            forbidden.push(Forbidden { outline, low, high });
        }
    };
    obstacles.iter().for_each(|obstacle| forbid(grown(&no_fit(obstacle, footprint), gap_mm)));
    room.keep_out().iter().for_each(|part| forbid(no_fit(part, footprint)));

    let limit = limit.map(rounded);
    let mut spots: Vec<([i64; 2], P2)> = Vec::new();
    let mut offer = |spot: P2| {
        let key = rounded(rank(spot));
        if limit.is_none_or(|limit| key < limit) && inner.holds(spot) {
            spots.push((key, spot));
        }
    };
    inner.corners(&mut offer);
    for (i, a) in forbidden.iter().enumerate() {
        a.outline.iter().for_each(|&corner| offer(corner));
        edges(&a.outline).for_each(|(p, q)| inner.crossings(p, q, &mut offer));
        for b in &forbidden[..i] {
            a.crossings(b, &mut offer);
        }
    }
    spots.sort_unstable_by(|(a, p), (b, q)| a.cmp(b).then(p[1].total_cmp(&q[1])).then(p[0].total_cmp(&q[0])));
    let free = |spot: P2| {
        let laid = || moved(footprint, spot);
        forbidden.iter().all(|f| !f.holds(spot)) && room.holds(&laid()) && {
            let laid = laid();
            obstacles.iter().all(|o| separation_mm(o, &laid) >= gap_mm - TOUCH_MM)
        }
    };
    spots.into_iter().find(|&(_, spot)| free(spot)).map(|(_, spot)| (spot, rank(spot)))
}

/// Ranks to a millionth, so that rounding does not decide between equal spots.
fn rounded(rank: [f64; 2]) -> [i64; 2] {
    rank.map(|r| (r * 1e6).round() as i64)
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

    fn crossings(&self, other: &Forbidden, offer: &mut impl FnMut(P2)) {
        let meets = |p: P2, q: P2, low: P2, high: P2| {
            (0..2).all(|k| p[k].min(q[k]) <= high[k] && p[k].max(q[k]) >= low[k])
        };
        if !meets(self.low, self.high, other.low, other.high) {
            return;
        }
        for (p, q) in edges(&self.outline).filter(|&(p, q)| meets(p, q, other.low, other.high)) {
            let along = sub(q, p);
            for (r, s) in edges(&other.outline) {
                // The other's corners on both sides of this edge's line, and the reverse.
                let (of_r, of_s) = (cross(along, sub(r, p)), cross(along, sub(s, p)));
                if (of_r > 0.0) == (of_s > 0.0) {
                    continue;
                }
                let t = of_r / (of_r - of_s);
                let spot = [r[0] + t * (s[0] - r[0]), r[1] + t * (s[1] - r[1])];
                let ahead = dot(sub(spot, p), along);
                if ahead >= 0.0 && ahead <= dot(along, along) {
                    offer(spot);
                }
            }
        }
    }
}

/// Where the footprint's origin may be for the footprint to lie inside the outer edge.
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

    fn holds(&self, spot: P2) -> bool {
        let (low, high) = self.bounds();
        (0..2).all(|k| low[k] - TOUCH_MM <= spot[k] && spot[k] <= high[k] + TOUCH_MM)
            && match self {
                InnerFit::Box { .. } => true,
                InnerFit::Discs { centres, radius_mm, .. } => {
                    centres.iter().all(|&c| length(sub(spot, c)) <= radius_mm + TOUCH_MM)
                }
            }
    }

    fn corners(&self, offer: &mut impl FnMut(P2)) {
        match self {
            InnerFit::Box { low, high } => {
                [*low, [high[0], low[1]], *high, [low[0], high[1]]].into_iter().for_each(offer);
            }
            InnerFit::Discs { corners, .. } => corners.iter().copied().for_each(offer),
        }
    }

    /// Offers where the stretch `p`-`q` crosses the region's edge.
    fn crossings(&self, p: P2, q: P2, offer: &mut impl FnMut(P2)) {
        let along = sub(q, p);
        let mut at = |t: f64| {
            if (0.0..=1.0).contains(&t) {
                offer([p[0] + t * along[0], p[1] + t * along[1]]);
            }
        };
        match self {
            InnerFit::Box { low, high } => {
                for k in 0..2 {
                    if along[k] != 0.0 {
                        at((low[k] - p[k]) / along[k]);
                        at((high[k] - p[k]) / along[k]);
                    }
                }
            }
            InnerFit::Discs { centres, radius_mm, .. } => {
                let square = dot(along, along);
                for &c in centres {
                    let from = sub(p, c);
                    let half = dot(from, along);
                    let root = half * half - square * (dot(from, from) - radius_mm * radius_mm);
                    if root >= 0.0 && square > 0.0 {
                        at((-half - root.sqrt()) / square);
                        at((-half + root.sqrt()) / square);
                    }
                }
            }
        }
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
