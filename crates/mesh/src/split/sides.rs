//! On which side of a plane each vertex lies: decided once, and all topology follows from it.

use super::{NEAR_STEPS, NOTHING_STEPS, ON_PLANE_STEPS};
use crate::grid::{GridPoint, STEPS_PER_MM};
use crate::plane::Plane;
use crate::solid::Solid;
use crate::vec3;

/// A plane in grid steps.
#[derive(Clone, Copy)]
pub(super) struct Level {
    pub normal: [f64; 3],
    offset: f64,
}

impl Level {
    pub fn of(plane: &Plane) -> Self {
        Self { normal: plane.normal, offset: plane.offset_mm * STEPS_PER_MM }
    }

    /// Signed distance of a point in steps.
    pub fn distance(&self, p: GridPoint) -> f64 {
        vec3::dot(self.normal, p.map(f64::from)) - self.offset
    }
}

/// How a solid lies to a plane.
pub(super) enum Sides {
    /// Nothing of it lies above.
    Below,
    /// Nothing of it lies below.
    Above,
    /// The side of each vertex: below, on or above the plane by sign; 1 within [`NOTHING_STEPS`] of
    /// it, 2 within [`NEAR_STEPS`], [`FAR`] farther off.
    Both(Vec<i8>),
}

/// Side of a vertex above the plane and far from the cut.
pub(super) const FAR: i8 = 3;

impl Sides {
    pub fn of(solid: &Solid, level: &Level) -> Self {
        let (mut lowest, mut highest) = (f64::MAX, f64::MIN);
        let mut side: Vec<i8> = Vec::with_capacity(solid.points.len());
        for &p in solid.points.iter() {
            let d = level.distance(p);
            (lowest, highest) = (lowest.min(d), highest.max(d));
            let sign = i8::from(d > ON_PLANE_STEPS) - i8::from(d < -ON_PLANE_STEPS);
            side.push(sign * (1 + i8::from(d.abs() >= NOTHING_STEPS) + i8::from(d.abs() >= NEAR_STEPS)));
        }
        if highest < NOTHING_STEPS {
            Self::Below
        } else if lowest > -NOTHING_STEPS {
            Self::Above
        } else {
            Self::Both(side)
        }
    }
}
