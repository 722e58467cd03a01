//! Put the points of a section on the coordinate grid without gaining or losing volume.
//!
//! Rounding a cut point moves the faces it lies on, and on faces of many cm2 that adds up: a coarse
//! blade cut into eight lost 3e-6 of its volume. So each point takes the neighbouring grid point
//! that best cancels what its forerunners have gained or lost. Where long faces leave the last with too
//! coarse a choice, two are moved once more together: a needle of 24 faces lost up to 6e-6.
//! Source: error feedback as in "An adaptive algorithm for spatial grey scale" (1976; from memory),
//! there for brightness, here for volume.

use super::{ABOVE, BELOW, Corner, Cut};
use crate::edges::edge_key;
use crate::grid::{GridPoint, STEPS_PER_MM};
use crate::vec3;

/// Volume that rounding cut points may gain or lose before later points make up for it: 2e-5 mm3,
/// a ten-millionth of a 0.2 cm3 crumb.
const GAIN_STEPS3: f64 = 2e-5 * STEPS_PER_MM * STEPS_PER_MM * STEPS_PER_MM;

/// A cut point may leave the plane by this much to keep the volume, in steps.
const OFF_PLANE_STEPS: f64 = 1.2;

/// How far a cut point may move along the plane to keep the volume, in steps.
const FARTHEST_STEPS: i32 = 2;

/// What may be left in the end, 1e-4 mm3, before two cut points are moved once more together, and of how many
/// points those two are chosen.
const LEFT_STEPS3: f64 = 5.0 * GAIN_STEPS3;
const N_SETTLED: usize = 8;

/// Where the plane meets an edge.
pub(super) struct Crossing {
    pub ends: [u32; 2],
    pub exact: [f64; 3],
    /// Volume gained by moving the point one step along each axis.
    pub gain: [f64; 3],
    /// The grid point chosen for it.
    pub at: GridPoint,
    pub node: u32,
}

impl Crossing {
    /// Volume gained by putting it there.
    fn gained(&self, at: GridPoint) -> f64 {
        vec3::dot(self.gain, vec3::sub(at.map(f64::from), self.exact))
    }

    /// The nearest grid point. Ties to even: a cut through the middle of a regular mesh makes many halves, and
    /// rounding them all away from zero would swell it.
    fn nearest(&self) -> GridPoint {
        self.exact.map(|steps| steps.round_ties_even() as i32)
    }

    /// Grid points round the nearest, up to so many steps away on each axis.
    fn around(&self, reach: i32) -> impl Iterator<Item = GridPoint> + use<> {
        let nearest = self.nearest();
        let steps = move || -reach..=reach;
        steps().flat_map(move |x| {
            steps().flat_map(move |y| steps().map(move |z| [nearest[0] + x, nearest[1] + y, nearest[2] + z]))
        })
    }
}

impl Cut<'_> {
    /// The crossing of the edge between two vertices of different sides.
    pub(super) fn crossing_of(&mut self, a: u32, b: u32) -> u32 {
        let next = self.crossings.len() as u32;
        let number = *self.crossing.entry(edge_key(a, b)).or_insert(next);
        if number == next {
            // From the smaller index to the larger, so that both triangles get the same bits.
            let ends = [a.min(b), a.max(b)];
            let [p, q] = ends.map(|i| self.solid.points[i as usize]);
            let (d_p, d_q) = (self.level.distance(p), self.level.distance(q));
            let along = d_p / (d_p - d_q);
            let exact =
                std::array::from_fn(|i| f64::from(p[i]) + along * (f64::from(q[i]) - f64::from(p[i])));
            self.crossings.push(Crossing { ends, exact, gain: [0.0; 3], at: [0; 3], node: u32::MAX });
        }
        number
    }

    /// Adds to each crossing of a triangle the volume gained by moving it: a third of the area of
    /// the triangles that will meet there, along their normal.
    pub(super) fn weigh(&mut self, t: [u32; 3]) {
        for polygon in self.polygons(t) {
            for corners in self.triangles_of(&polygon) {
                let [a, b, c] = corners.map(|corner| self.exact(corner));
                let gain = vec3::scale(vec3::cross(vec3::sub(b, a), vec3::sub(c, a)), 1.0 / 6.0);
                for corner in corners {
                    if let Corner::Crossing(number) = corner {
                        let sum = &mut self.crossings[number as usize].gain;
                        *sum = vec3::add(*sum, gain);
                    }
                }
            }
        }
    }

    /// Puts the crossings from this one on onto the grid and makes them nodes.
    pub(super) fn round(&mut self, first: usize) {
        for number in first..self.crossings.len() {
            self.choose(number);
        }
        self.settle(first);
        for number in first..self.crossings.len() {
            self.place(number);
        }
    }

    /// Chooses the grid point that best cancels what has been gained or lost by now.
    fn choose(&mut self, number: usize) {
        let crossing = &mut self.crossings[number];
        let nearest = crossing.nearest();
        let mut best = (nearest, (self.gain + crossing.gained(nearest)).abs());
        // Farther neighbours only where the nearer ones leave too much: few points, large faces.
        for reach in 1..=FARTHEST_STEPS {
            if best.1 <= GAIN_STEPS3 {
                break;
            }
            for at in crossing.around(reach) {
                let left = (self.gain + crossing.gained(at)).abs();
                if left < best.1 && self.level.distance(at).abs() <= OFF_PLANE_STEPS {
                    best = (at, left);
                }
            }
        }
        crossing.at = best.0;
        self.gain += crossing.gained(best.0);
    }

    /// Moves two of the last crossings once more where too much is left: the sums of two choices lie far closer
    /// together than the choices of one.
    fn settle(&mut self, first: usize) {
        if self.gain.abs() <= LEFT_STEPS3 {
            return;
        }
        let last = first.max(self.crossings.len().saturating_sub(N_SETTLED))..self.crossings.len();
        let choices: Vec<Vec<(GridPoint, f64)>> = last
            .clone()
            .map(|number| {
                let crossing = &self.crossings[number];
                let near = crossing
                    .around(FARTHEST_STEPS)
                    .filter(|&at| self.level.distance(at).abs() <= OFF_PLANE_STEPS);
                near.map(|at| (at, crossing.gained(at) - crossing.gained(crossing.at))).collect()
            })
            .collect();
        let mut best = (self.gain.abs(), None);
        for (i, one) in choices.iter().enumerate() {
            for (j, other) in choices.iter().enumerate().skip(i + 1) {
                for &(a, by_a) in one {
                    for &(b, by_b) in other {
                        let left = (self.gain + by_a + by_b).abs();
                        if left < best.0 {
                            best = (left, Some([(last.start + i, a), (last.start + j, b)]));
                        }
                    }
                }
            }
        }
        for (number, at) in best.1.into_iter().flatten() {
            let crossing = &mut self.crossings[number];
            self.gain += crossing.gained(at) - crossing.gained(crossing.at);
            crossing.at = at;
        }
    }

    /// Makes a crossing a node at the grid point chosen.
    fn place(&mut self, number: usize) {
        let Crossing { ends, exact, at, .. } = self.crossings[number];
        let node = self.node(at, exact);
        self.crossings[number].node = node;
        // A crossing that lands on an end of its edge is that vertex: the sliver between vanishes.
        for end in ends {
            if self.solid.points[end as usize] == self.nodes[node as usize].point {
                let goes = if self.side[end as usize] > 0 { ABOVE } else { BELOW };
                let vertex = self.renamed[end as usize];
                let slot = &mut self.nodes[node as usize].index[goes];
                if *slot == u32::MAX {
                    *slot = vertex;
                } else if *slot != vertex {
                    self.again = true;
                }
            }
        }
    }
}
