//! Small vector arithmetic on `[f64; 3]`, the type crates pass to each other.
//!
//! Plain functions rather than a vector type, so that no library's type crosses a crate border.
//! Marked inline because they stand in the innermost loops of other crates.

/// `a + b`.
#[inline]
pub fn add(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// `a - b`.
#[inline]
pub fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// `a` times `factor`.
#[inline]
pub fn scale(a: [f64; 3], factor: f64) -> [f64; 3] {
    [a[0] * factor, a[1] * factor, a[2] * factor]
}

/// Scalar product.
#[inline]
pub fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Vector product.
#[inline]
pub fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// Euclidean length.
#[inline]
pub fn length(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}

/// Area of the triangle over three corners.
#[inline]
pub fn area([a, b, c]: [[f64; 3]; 3]) -> f64 {
    length(cross(sub(b, a), sub(c, a))) / 2.0
}

/// `a` scaled to length one; `None` where `a` is too short to have a direction.
#[inline]
pub fn unit(a: [f64; 3]) -> Option<[f64; 3]> {
    let length = length(a);
    (length > 1e-300).then(|| scale(a, 1.0 / length))
}

/// Two unit vectors that make a right-handed frame `(u, v, normal)` with a unit `normal`.
pub fn frame_of(normal: [f64; 3]) -> ([f64; 3], [f64; 3]) {
    // The axis least along the normal, so the product below cannot vanish.
    let least = (0..3).min_by(|&i, &j| normal[i].abs().total_cmp(&normal[j].abs())).unwrap_or(0);
    let mut axis = [0.0; 3];
    axis[least] = 1.0;
    let u = cross(axis, normal);
    let u = scale(u, 1.0 / length(u));
    (u, cross(normal, u))
}
