//! A stretch of seam line in space: lengths, points along it, equal chords.
//!
//! Units: mm. Positions along a stretch are arc lengths from its start.

use seamwright_mesh::vec3;

/// A polyline; a closed one does not repeat its first point.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    points_mm: Vec<[f64; 3]>,
    /// Arc length at each point, then once more at the end of a closed stretch.
    arc_mm: Vec<f64>,
    closed: bool,
}

impl Stretch {
    /// From at least two points.
    pub fn new(points_mm: Vec<[f64; 3]>, closed: bool) -> Self {
        let mut arc_mm = vec![0.0];
        let n_sides = if closed { points_mm.len() } else { points_mm.len() - 1 };
        for side in 0..n_sides {
            let (a, b) = (points_mm[side], points_mm[(side + 1) % points_mm.len()]);
            arc_mm.push(arc_mm[side] + vec3::length(vec3::sub(b, a)));
        }
        Self { points_mm, arc_mm, closed }
    }

    /// Its length.
    pub fn length_mm(&self) -> f64 {
        self.arc_mm[self.arc_mm.len() - 1]
    }

    /// Whether it is a whole loop.
    pub fn is_closed(&self) -> bool {
        self.closed
    }

    /// The point at an arc length; a closed stretch goes round, an open one stops at its ends.
    pub fn at(&self, arc_mm: f64) -> [f64; 3] {
        let length_mm = self.length_mm();
        let arc_mm = if self.closed && length_mm > 0.0 {
            arc_mm - length_mm * (arc_mm / length_mm).floor()
        } else {
            arc_mm.clamp(0.0, length_mm)
        };
        let side = self.arc_mm.partition_point(|&a| a <= arc_mm).clamp(1, self.arc_mm.len() - 1) - 1;
        let (a, b) = self.side(side);
        let side_mm = self.arc_mm[side + 1] - self.arc_mm[side];
        let share = if side_mm > 0.0 { ((arc_mm - self.arc_mm[side]) / side_mm).min(1.0) } else { 0.0 };
        vec3::add(a, vec3::scale(vec3::sub(b, a), share))
    }

    /// How many straight sides it has.
    pub fn n_sides(&self) -> usize {
        self.arc_mm.len() - 1
    }

    /// Both ends of a side.
    pub fn side(&self, side_index: usize) -> ([f64; 3], [f64; 3]) {
        (self.points_mm[side_index], self.points_mm[(side_index + 1) % self.points_mm.len()])
    }

    /// The direction of the chord over `reach_mm` before and after an arc length.
    pub fn direction(&self, arc_mm: f64, reach_mm: f64) -> Option<[f64; 3]> {
        vec3::unit(vec3::sub(self.at(arc_mm + reach_mm), self.at(arc_mm - reach_mm)))
    }

    /// A closed stretch turned so that it starts at the point farthest from its middle, the first
    /// such in order: the same point wherever the item lies. An open one comes back unchanged.
    pub fn from_farthest(mut self) -> Self {
        if !self.closed {
            return self;
        }
        let mut middle = [0.0; 3];
        for side in 0..self.n_sides() {
            let (a, b) = self.side(side);
            let weight = (self.arc_mm[side + 1] - self.arc_mm[side]) / (2.0 * self.length_mm());
            middle = vec3::add(middle, vec3::scale(vec3::add(a, b), weight));
        }
        let mut farthest = (0, -1.0);
        for (index, &point) in self.points_mm.iter().enumerate() {
            let away_mm = vec3::length(vec3::sub(point, middle));
            // A real gain only: in a symmetric loop rounding must not choose.
            if away_mm > farthest.1 + 1e-6 {
                farthest = (index, away_mm);
            }
        }
        self.points_mm.rotate_left(farthest.0);
        Self::new(self.points_mm, true)
    }

    /// Points along the stretch, each `chord_mm` in a straight line from the one before, from its
    /// start. What is left at the end of an open stretch, shorter than a chord, is dropped; on a
    /// closed one the chords run on past the start for two chords, so that no bend falls between.
    pub fn chords(&self, chord_mm: f64) -> Vec<[f64; 3]> {
        let mut samples = vec![self.points_mm[0]];
        let mut here = self.points_mm[0];
        let until_mm = self.length_mm() + if self.closed { 2.0 * chord_mm } else { 0.0 };
        let n_walked = if self.closed { 2 * self.n_sides() } else { self.n_sides() };
        for walked in 0..n_walked {
            let side = walked % self.n_sides();
            let round_mm = if walked < self.n_sides() { 0.0 } else { self.length_mm() };
            let (a, b) = self.side(side);
            let side_mm = self.arc_mm[side + 1] - self.arc_mm[side];
            let mut from_share = 0.0;
            while let Some(share) = leaves_ball(a, b, from_share, here, chord_mm) {
                if self.arc_mm[side] + round_mm + share * side_mm > until_mm {
                    return samples;
                }
                here = vec3::add(a, vec3::scale(vec3::sub(b, a), share));
                samples.push(here);
                from_share = share;
            }
        }
        samples
    }
}

/// Where the side from `a` to `b`, inside the ball at `from_share`, leaves it: a share of the side.
fn leaves_ball(a: [f64; 3], b: [f64; 3], from_share: f64, center: [f64; 3], radius_mm: f64) -> Option<f64> {
    let (enters, leaves) = ball_shares(a, b, center, radius_mm)?;
    (leaves <= 1.0 && leaves > from_share && enters <= from_share).then_some(leaves)
}

/// The shares of the line from `a` to `b` at which it enters and leaves a ball.
pub fn ball_shares(a: [f64; 3], b: [f64; 3], center: [f64; 3], radius_mm: f64) -> Option<(f64, f64)> {
    let (along, to_a) = (vec3::sub(b, a), vec3::sub(a, center));
    let (square, half) = (vec3::dot(along, along), vec3::dot(along, to_a));
    let inside = half * half - square * (vec3::dot(to_a, to_a) - radius_mm * radius_mm);
    if square <= 0.0 || inside < 0.0 {
        return None;
    }
    let root = inside.sqrt();
    Some(((-half - root) / square, (-half + root) / square))
}
