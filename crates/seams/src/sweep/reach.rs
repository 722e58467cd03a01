//! How far something reaches along many axes at once.

/// Lowest and highest coordinate along each axis, in mm.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reach {
    /// Lowest along each axis.
    pub low_mm: Vec<f32>,
    /// Highest along each axis.
    pub high_mm: Vec<f32>,
}

impl Reach {
    /// Of one point, given by its coordinates.
    pub(super) fn of(along: &[f32]) -> Self {
        Self { low_mm: along.to_vec(), high_mm: along.to_vec() }
    }

    /// Takes in another point.
    pub(super) fn take(&mut self, along: &[f32]) {
        // `min` and `max` of the language ask about numbers that are none, which there are none of here.
        for (low, &c) in self.low_mm.iter_mut().zip(along) {
            *low = if c < *low { c } else { *low };
        }
        for (high, &c) in self.high_mm.iter_mut().zip(along) {
            *high = if c > *high { c } else { *high };
        }
    }

    /// Takes in the point a share of the way from `a` to `b`.
    pub(super) fn take_between(&mut self, a: &[f32], b: &[f32], share: f32) {
        let ranges = self.low_mm.iter_mut().zip(&mut self.high_mm);
        for ((low, high), (&a, &b)) in ranges.zip(a.iter().zip(b)) {
            let c = a + share * (b - a);
            *low = if c < *low { c } else { *low };
            *high = if c > *high { c } else { *high };
        }
    }

    /// Takes in all of another.
    pub(super) fn join(&mut self, other: &Self) {
        self.take(&other.low_mm);
        self.take(&other.high_mm);
    }
}
