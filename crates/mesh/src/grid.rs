//! The coordinate grid: whole multiples of 1/4096 mm, up to 4096 mm from the origin.
//!
//! Why: 4096 mm x 4096 steps is 2^24, so each coordinate is exact in an f32 and a binary STL holds
//! the very points the program works on. Predicates and volumes become exact integer sums.
//! One step is 0.24 micrometre, a thousandth of the finest layer anyone prints.

/// A point in grid steps; divide by [`STEPS_PER_MM`] for mm.
pub type GridPoint = [i32; 3];

/// Grid steps in one mm.
pub const STEPS_PER_MM: f64 = 4096.0;

/// The farthest a coordinate may lie from the origin, in steps (4096 mm): exact in an f32.
pub const MAX_STEPS: i32 = 1 << 24;

/// A grid point in mm; exact.
pub fn to_mm(point: GridPoint) -> [f64; 3] {
    point.map(|steps| f64::from(steps) / STEPS_PER_MM)
}

/// The grid point nearest to `point_mm`; `None` if it is not finite or lies beyond 4096 mm.
pub fn snap(point_mm: [f64; 3]) -> Option<GridPoint> {
    let mut snapped = [0; 3];
    for (axis, &mm) in point_mm.iter().enumerate() {
        let steps = (mm * STEPS_PER_MM).round();
        if steps.is_nan() || steps.abs() > f64::from(MAX_STEPS) {
            return None;
        }
        snapped[axis] = steps as i32;
    }
    Some(snapped)
}
