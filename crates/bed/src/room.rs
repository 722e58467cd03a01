//! The part of a bed a footprint may use: a rectangle or a circle, less the areas kept out.
//!
//! How: keep-outs are split into convex parts once; whether a footprint is inside is then one test a
//! corner and one a part. A circle is tested as a circle, not as a polygon.
//! Units and frame: millimetres, x right, y up, the frame of the bed.
//! Not here: beds themselves and their height (`bed.rs`), where to put a footprint (`place.rs`).

use crate::convex2d::{
    P2, STRAIGHT_MM, area_mm2, bounds, cross, holds_point, hull, length, separation_mm, sub,
};

/// Overlap that counts as touching, mm. Rounding of coordinates up to 1000 mm after a turn and a
/// few sums is about 1e-12; a thousand times that.
pub const TOUCH_MM: f64 = 1e-9;

/// Outer edge of a [`Room`], margins already taken off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Edge {
    /// A rectangle along the axes.
    Rect {
        /// Left lower corner, mm.
        low: P2,
        /// Right upper corner, mm.
        high: P2,
    },
    /// A circle.
    Round {
        /// Centre, mm.
        centre: P2,
        /// Radius, mm.
        radius_mm: f64,
    },
}

/// Where footprints may lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    edge: Edge,
    keep_out: Vec<Vec<P2>>,
}

impl Room {
    /// A rectangle from `low` to `high`, mm.
    pub fn rect(low: P2, high: P2) -> Room {
        Room { edge: Edge::Rect { low, high }, keep_out: Vec::new() }
    }

    /// A circle, mm.
    pub fn round(centre: P2, radius_mm: f64) -> Room {
        Room { edge: Edge::Round { centre, radius_mm }, keep_out: Vec::new() }
    }

    /// The room less these outlines. An outline may have hollows but must not cross itself; one
    /// that does counts with its whole hull. A footprint may touch an outline.
    #[must_use]
    pub fn without(mut self, outlines: &[Vec<P2>]) -> Room {
        self.keep_out.extend(outlines.iter().flat_map(|o| convex_parts(o)).filter(|part| part.len() > 2));
        self
    }

    /// The outer edge.
    pub fn edge(&self) -> Edge {
        self.edge
    }

    /// What is kept out, as convex polygons.
    pub fn keep_out(&self) -> &[Vec<P2>] {
        &self.keep_out
    }

    /// Area of the room less the keep-outs inside it, mm² (keep-outs over the edge count whole, so
    /// this is a lower bound there).
    pub fn area_mm2(&self) -> f64 {
        let whole = match self.edge {
            Edge::Rect { low, high } => (high[0] - low[0]).max(0.0) * (high[1] - low[1]).max(0.0),
            Edge::Round { radius_mm, .. } => std::f64::consts::PI * radius_mm.max(0.0) * radius_mm.max(0.0),
        };
        (whole - self.keep_out.iter().map(|part| area_mm2(part)).sum::<f64>()).max(0.0)
    }

    /// Least room between the footprint and the outer edge, mm; negative where it sticks out.
    pub fn edge_margin_mm(&self, footprint: &[P2]) -> f64 {
        match self.edge {
            Edge::Rect { low, high } => {
                let (least, most) = bounds(footprint);
                (least[0] - low[0]).min(least[1] - low[1]).min(high[0] - most[0]).min(high[1] - most[1])
            }
            Edge::Round { centre, radius_mm } => {
                radius_mm - footprint.iter().map(|&p| length(sub(p, centre))).fold(0.0, f64::max)
            }
        }
    }

    /// Whether the footprint lies inside and clear of every keep-out; touching is allowed.
    pub fn holds(&self, footprint: &[P2]) -> bool {
        self.edge_margin_mm(footprint) >= -TOUCH_MM
            && self.keep_out.iter().all(|part| separation_mm(part, footprint) >= -TOUCH_MM)
    }
}

/// The outline split into convex polygons (triangles where it is not convex already). The outline
/// must not cross itself; it may run either way round.
pub fn convex_parts(outline: &[P2]) -> Vec<Vec<P2>> {
    let around = hull(outline);
    let signed = area_mm2(outline);
    if around.len() < 3 || area_mm2(&around) - signed.abs() <= 1e-9 * area_mm2(&around) {
        return vec![around];
    }
    let mut left = outline.to_vec();
    if signed < 0.0 {
        left.reverse();
    }
    let mut parts = Vec::new();
    while left.len() > 3 {
        let n = left.len();
        let ear = (0..n).find(|&i| {
            let [a, b, c] = [left[(i + n - 1) % n], left[i], left[(i + 1) % n]];
            cross(sub(b, a), sub(c, b)) > 0.0
                && !left
                    .iter()
                    .any(|&x| x != a && x != b && x != c && holds_point(&[a, b, c], x, -STRAIGHT_MM))
        });
        // Without an ear the outline crosses itself: its hull is the safe reading.
        let Some(i) = ear else {
            match (0..n).find(|&i| {
                let [a, b, c] = [left[(i + n - 1) % n], left[i], left[(i + 1) % n]];
                cross(sub(b, a), sub(c, b)).abs() <= STRAIGHT_MM
            }) {
                Some(flat) => {
                    left.remove(flat);
                    continue;
                }
                None => return vec![around],
            }
        };
        parts.push(vec![left[(i + n - 1) % n], left[i], left[(i + 1) % n]]);
        left.remove(i);
    }
    parts.push(left);
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_that_is_not_convex_splits_into_parts_of_the_same_area() {
        let ell = [[0., 0.], [4., 0.], [4., 1.], [1., 1.], [1., 5.], [0., 5.]];
        let mut backward = ell;
        backward.reverse();
        for outline in [ell, backward] {
            let parts = convex_parts(&outline);
            assert!(parts.len() > 1);
            assert!((parts.iter().map(|p| area_mm2(p)).sum::<f64>() - 8.0).abs() < 1e-12);
        }
        assert_eq!(convex_parts(&[[0., 0.], [0., 3.], [3., 3.], [3., 0.]]).len(), 1);
    }

    #[test]
    fn a_room_holds_what_touches_its_edge_and_not_what_sticks_out_or_meets_a_keep_out() {
        let square =
            |x: f64, y: f64, side: f64| vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
        let room = Room::rect([5., 5.], [215., 215.]).without(&[square(5., 5., 20.)]);
        assert!(room.holds(&square(25., 5., 190.)));
        assert!(!room.holds(&square(24.999, 5., 30.)));
        assert!(!room.holds(&square(25.001, 5., 190.)));
        assert!((room.area_mm2() - (210. * 210. - 400.)).abs() < 1e-9);
        // A square inscribed in a circle of radius 5 about (5, 5): side 5 sqrt(2).
        let side = 50f64.sqrt();
        let round = Room::round([5., 5.], 5.);
        assert!(round.holds(&square(5. - side / 2., 5. - side / 2., side)));
        assert!(!round.holds(&square(5. - side / 2., 5. - side / 2., side + 1e-6)));
    }
}
