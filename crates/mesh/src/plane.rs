//! A plane in mm: the points with `normal · p = offset_mm`.

use crate::vec3;

/// A plane; "above" is the side its unit normal points to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// Unit normal.
    pub normal: [f64; 3],
    /// Signed distance of the plane from the origin along `normal`.
    pub offset_mm: f64,
}

impl Plane {
    /// The plane with this normal (any length) through `point_mm`; `None` for a zero normal.
    pub fn through(point_mm: [f64; 3], normal: [f64; 3]) -> Option<Self> {
        let normal = vec3::unit(normal)?;
        Some(Self { normal, offset_mm: vec3::dot(normal, point_mm) })
    }

    /// Signed distance of a point, positive above.
    pub fn distance_mm(&self, point_mm: [f64; 3]) -> f64 {
        vec3::dot(self.normal, point_mm) - self.offset_mm
    }
}
