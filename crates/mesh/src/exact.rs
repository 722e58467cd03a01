//! Exact signs over grid points: on which side of a plane a point lies, and which of two ratios is more.
//!
//! Coordinates are below 2^24 in amount, so that differences take 26 bits with sign, six products of
//! three of them 81, and products of two such sums 161: signs are found in f64 where that is sure, in
//! 128-bit integers where not, and products are compared in 256 bits.

use crate::grid::GridPoint;
use crate::vec3;
use std::cmp::Ordering;

/// On which side of the plane of three points a fourth lies, as a sign: positive on the side its normal points to.
pub(crate) fn side([a, b, c]: [GridPoint; 3], d: GridPoint) -> i32 {
    let [u, v, w] = [b, c, d].map(|p| std::array::from_fn(|i| f64::from(p[i] - a[i])));
    let determinant = vec3::dot(vec3::cross(u, v), w);
    let size = |x: [f64; 3]| x[0].abs().max(x[1].abs()).max(x[2].abs());
    // 6 products of 3 factors, each rounded less than 4 times to 53 bits.
    if determinant.abs() > 6.0 * 4.0 * f64::EPSILON * size(u) * size(v) * size(w) {
        return if determinant > 0.0 { 1 } else { -1 };
    }
    amount([a, b, c], d).signum() as i32
}

/// How far the point lies on that side: the distance times twice the area of the three, in steps.
pub(crate) fn amount([a, b, c]: [GridPoint; 3], d: GridPoint) -> i128 {
    let [u, v, w] = [b, c, d].map(|p| -> [i128; 3] { std::array::from_fn(|i| i128::from(p[i] - a[i])) });
    (u[1] * v[2] - u[2] * v[1]) * w[0]
        + (u[2] * v[0] - u[0] * v[2]) * w[1]
        + (u[0] * v[1] - u[1] * v[0]) * w[2]
}

/// Compares the product of the first two with that of the last two; none of them negative.
pub(crate) fn compare_products(a: i128, b: i128, c: i128, d: i128) -> Ordering {
    product(a.unsigned_abs(), b.unsigned_abs()).cmp(&product(c.unsigned_abs(), d.unsigned_abs()))
}

/// A product in 256 bits, the high half first.
fn product(a: u128, b: u128) -> [u128; 2] {
    const LOW: u128 = u64::MAX as u128;
    let (a_high, a_low, b_high, b_low) = (a >> 64, a & LOW, b >> 64, b & LOW);
    let (low, high) = (a_low * b_low, a_high * b_high);
    let (one, two) = (a_low * b_high, a_high * b_low);
    let middle = (low >> 64) + (one & LOW) + (two & LOW);
    [high + (one >> 64) + (two >> 64) + (middle >> 64), (low & LOW) | (middle << 64)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_of_more_than_128_bits_are_compared_exactly() {
        let big = (1_i128 << 100) + 1;
        // (2^100 + 1)^2 against (2^100)(2^100 + 2): more by one.
        assert_eq!(compare_products(big, big, big - 1, big + 1), Ordering::Greater);
        assert_eq!(compare_products(big - 1, big + 1, big, big), Ordering::Less);
        assert_eq!(compare_products(big, 7, 7, big), Ordering::Equal);
        assert_eq!(product(u128::MAX, u128::MAX), [u128::MAX - 1, 1]);
    }

    #[test]
    fn a_point_a_step_off_a_plane_across_the_whole_grid_has_a_side() {
        let far = crate::grid::MAX_STEPS;
        let plane = [[-far, -far, -far], [far, -far, -far + 1], [-far, far, -far + 1]];
        // In the plane: half way along two sides, so one step up.
        let within = [0, 0, -far + 1];
        assert_eq!((side(plane, within), amount(plane, within)), (0, 0));
        assert_eq!(side(plane, [0, 0, -far + 2]), 1);
        assert_eq!(side(plane, [0, 0, -far]), -1);
    }
}
