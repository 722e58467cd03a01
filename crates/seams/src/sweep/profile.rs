//! Length and cost of a section's line as a function of the offset: piecewise linear, exactly.
//!
//! How: the chord of a triangle grows evenly from its lowest corner to its middle one and shrinks evenly
//! to its highest; level edges make it jump. Changes of slope and jumps are sorted and added up.
//! Units: mm. At a height where the line jumps (a level face) both values are kept.

use super::Chord;

/// A height at which a slope changes or the line jumps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Its height.
    pub offset_mm: f64,
    /// Length just below and just above.
    pub line_mm: [f64; 2],
    /// Cost just below and just above, in mm of plain line.
    pub cost_mm: [f64; 2],
}

/// Knots from the lowest to the highest point.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    knots: Vec<Knot>,
}

/// At some height, what changes: slope and value of length and cost.
struct Change {
    at_mm: f64,
    slopes: [f64; 2],
    jumps: [f64; 2],
}

impl Profile {
    pub(super) fn of(chords: &[Chord]) -> Self {
        let mut changes = Vec::with_capacity(3 * chords.len());
        for chord in chords {
            let [low, middle, high] = chord.heights_mm;
            let weights = [1.0, chord.per_mm];
            let mut change = |at_mm: f64, slope: f64, jump: f64| {
                changes.push(Change {
                    at_mm,
                    slopes: weights.map(|w| w * slope),
                    jumps: weights.map(|w| w * jump),
                });
            };
            if high <= low {
                continue;
            }
            let length_mm = chord.longest_mm;
            if middle > low {
                let slope = length_mm / (middle - low);
                change(low, slope, 0.0);
                change(middle, -slope, 0.0);
            } else {
                change(low, 0.0, length_mm);
            }
            if high > middle {
                let slope = length_mm / (high - middle);
                change(middle, -slope, 0.0);
                change(high, slope, 0.0);
            } else {
                change(high, 0.0, -length_mm);
            }
        }
        changes.sort_by(|a, b| a.at_mm.total_cmp(&b.at_mm));
        let (mut values, mut slopes) = ([0.0; 2], [0.0; 2]);
        let mut knots: Vec<Knot> = Vec::new();
        let mut rest = changes.into_iter().peekable();
        while let Some(at_mm) = rest.peek().map(|change| change.at_mm) {
            if let Some(last) = knots.last() {
                let step_mm = at_mm - last.offset_mm;
                values = std::array::from_fn(|k| values[k] + slopes[k] * step_mm);
            }
            let before = values;
            while let Some(change) = rest.next_if(|change| change.at_mm <= at_mm) {
                for k in 0..2 {
                    values[k] += change.jumps[k];
                    slopes[k] += change.slopes[k];
                }
            }
            let [line_mm, cost_mm] = std::array::from_fn(|k| [before[k], values[k]]);
            knots.push(Knot { offset_mm: at_mm, line_mm, cost_mm });
        }
        Self { knots }
    }

    /// All knots, lowest first.
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Length and cost at an offset; at a jump those just below. Zero outside.
    pub fn at(&self, offset_mm: f64) -> [f64; 2] {
        let next = self.knots.partition_point(|knot| knot.offset_mm < offset_mm);
        let (Some(low), Some(high)) = (next.checked_sub(1).map(|i| self.knots[i]), self.knots.get(next))
        else {
            return [0.0; 2];
        };
        let share = (offset_mm - low.offset_mm) / (high.offset_mm - low.offset_mm);
        let between = |[_, from]: [f64; 2], [to, _]: [f64; 2]| from + share * (to - from);
        [between(low.line_mm, high.line_mm), between(low.cost_mm, high.cost_mm)]
    }

    /// Offsets between `low_mm` and `high_mm` at which the cost has a local minimum, cheapest first. Where
    /// it jumps at a minimum, the offset is a little to the cheaper side of it.
    pub fn minima_mm(&self, low_mm: f64, high_mm: f64) -> Vec<f64> {
        /// Far enough from a level face to cut it, near enough to be the same seam.
        const ASIDE_MM: f64 = 0.1;
        let first = self.knots.partition_point(|knot| knot.offset_mm < low_mm);
        let last = self.knots.partition_point(|knot| knot.offset_mm <= high_mm);
        let mut found: Vec<(f64, f64)> = Vec::new();
        for index in first.max(1)..last.min(self.knots.len().saturating_sub(1)) {
            let knot = self.knots[index];
            let falls = self.knots[index - 1].cost_mm[1] > knot.cost_mm[0];
            let rises = self.knots[index + 1].cost_mm[0] >= knot.cost_mm[1];
            let [below, above] = knot.cost_mm;
            let jump = (above - below).abs() > 1e-6;
            let at = match (jump, below < above) {
                (false, _) => (falls && rises).then_some(knot.offset_mm),
                (true, true) => falls.then_some(knot.offset_mm - ASIDE_MM),
                (true, false) => rises.then_some(knot.offset_mm + ASIDE_MM),
            };
            if let Some(offset_mm) = at {
                found.push((below.min(above), offset_mm));
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        found.into_iter().map(|(_, offset_mm)| offset_mm).collect()
    }
}
