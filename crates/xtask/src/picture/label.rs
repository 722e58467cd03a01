//! Lines, dots, balloons and figures on a picture, with soft edges.
//!
//! Figures are drawn with strokes of our own, so no font file is needed.

use super::ink::{INK, PAPER, Picture};

/// Draws a line of `wide_px` from `a` to `b`, pixels.
pub fn line(picture: &mut Picture, a: [f64; 2], b: [f64; 2], wide_px: f64, colour: [u8; 3]) {
    let reach = wide_px + 1.0;
    stroke(
        picture,
        [a[0].min(b[0]) - reach, a[1].min(b[1]) - reach],
        [a[0].max(b[0]) + reach, a[1].max(b[1]) + reach],
        colour,
        |p| {
            let (along, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let long2 = (along[0] * along[0] + along[1] * along[1]).max(1e-9);
            let t = ((to[0] * along[0] + to[1] * along[1]) / long2).clamp(0.0, 1.0);
            libm::hypot(to[0] - t * along[0], to[1] - t * along[1]) - wide_px / 2.0
        },
    );
}

/// A filled disc.
pub fn disc(picture: &mut Picture, at: [f64; 2], radius_px: f64, colour: [u8; 3]) {
    let reach = radius_px + 1.0;
    stroke(picture, [at[0] - reach, at[1] - reach], [at[0] + reach, at[1] + reach], colour, |p| {
        libm::hypot(p[0] - at[0], p[1] - at[1]) - radius_px
    });
}

/// A numbered balloon at `at` with a leader line to a dot at `target`.
pub fn balloon(picture: &mut Picture, number: usize, at: [f64; 2], target: [f64; 2], size_px: f64) {
    let (ink, paper) = (INK, PAPER);
    line(picture, at, target, size_px * 0.05, ink);
    disc(picture, target, size_px * 0.12, ink);
    disc(picture, at, size_px * 0.52, ink);
    disc(picture, at, size_px * 0.46, paper);
    let digits: Vec<usize> = number.to_string().bytes().map(|b| usize::from(b - b'0')).collect();
    let (tall, wide) = (size_px * 0.46, size_px * 0.27);
    let left = at[0] - wide * digits.len() as f64 / 2.0;
    for (k, &digit) in digits.iter().enumerate() {
        let corner = [left + wide * (k as f64 + 0.5) - tall * 0.25, at[1] - tall / 2.0];
        for path in DIGITS[digit] {
            for pair in path.windows(2) {
                let place = |p: [f64; 2]| [corner[0] + p[0] * tall, corner[1] + p[1] * tall];
                line(picture, place(pair[0]), place(pair[1]), size_px * 0.062, ink);
            }
        }
    }
}

fn stroke(
    picture: &mut Picture,
    low: [f64; 2],
    high: [f64; 2],
    colour: [u8; 3],
    distance_px: impl Fn([f64; 2]) -> f64,
) {
    let range = |axis: usize| {
        let from = low[axis].floor().max(0.0) as usize;
        from..(high[axis].ceil().max(0.0) as usize).min(picture.size_px[axis])
    };
    for y in range(1) {
        for x in range(0) {
            let cover = (0.5 - distance_px([x as f64 + 0.5, y as f64 + 0.5])).clamp(0.0, 1.0);
            let pixel = &mut picture.pixels[y * picture.size_px[0] + x];
            for (value, target) in pixel.iter_mut().zip(colour) {
                *value = (f64::from(*value) + (f64::from(target) - f64::from(*value)) * cover).round() as u8;
            }
        }
    }
}

type Path = &'static [[f64; 2]];

/// Strokes of the ten figures in a box 0.5 wide and 1 high, y down.
const DIGITS: [&[Path]; 10] = [
    &[&[
        [0.25, 0.0],
        [0.10, 0.06],
        [0.02, 0.22],
        [0.0, 0.5],
        [0.02, 0.78],
        [0.10, 0.94],
        [0.25, 1.0],
        [0.40, 0.94],
        [0.48, 0.78],
        [0.5, 0.5],
        [0.48, 0.22],
        [0.40, 0.06],
        [0.25, 0.0],
    ]],
    &[&[[0.08, 0.18], [0.20, 0.12], [0.28, 0.0], [0.28, 1.0]], &[[0.10, 1.0], [0.46, 1.0]]],
    &[&[
        [0.02, 0.24],
        [0.05, 0.10],
        [0.16, 0.01],
        [0.28, 0.0],
        [0.40, 0.05],
        [0.47, 0.17],
        [0.46, 0.32],
        [0.38, 0.47],
        [0.02, 0.97],
        [0.02, 1.0],
        [0.48, 1.0],
        [0.49, 0.86],
    ]],
    &[&[
        [0.03, 0.14],
        [0.12, 0.03],
        [0.26, 0.0],
        [0.39, 0.05],
        [0.45, 0.17],
        [0.43, 0.33],
        [0.34, 0.43],
        [0.20, 0.46],
        [0.36, 0.49],
        [0.46, 0.59],
        [0.49, 0.73],
        [0.45, 0.88],
        [0.34, 0.98],
        [0.20, 1.0],
        [0.07, 0.96],
        [0.0, 0.86],
    ]],
    &[&[[0.36, 1.0], [0.36, 0.0], [0.0, 0.70], [0.0, 0.72], [0.5, 0.72]], &[[0.22, 1.0], [0.48, 1.0]]],
    &[&[
        [0.44, 0.0],
        [0.09, 0.0],
        [0.06, 0.44],
        [0.18, 0.37],
        [0.32, 0.37],
        [0.44, 0.47],
        [0.49, 0.65],
        [0.45, 0.85],
        [0.33, 0.98],
        [0.19, 1.0],
        [0.07, 0.96],
        [0.0, 0.86],
    ]],
    &[&[
        [0.42, 0.02],
        [0.26, 0.10],
        [0.11, 0.29],
        [0.03, 0.52],
        [0.01, 0.70],
        [0.06, 0.89],
        [0.18, 0.99],
        [0.32, 0.99],
        [0.44, 0.90],
        [0.49, 0.74],
        [0.46, 0.57],
        [0.36, 0.46],
        [0.22, 0.44],
        [0.10, 0.51],
        [0.03, 0.63],
    ]],
    &[&[[0.01, 0.14], [0.02, 0.0], [0.48, 0.0], [0.48, 0.03], [0.28, 0.48], [0.18, 1.0]]],
    &[&[
        [0.25, 0.46],
        [0.11, 0.38],
        [0.05, 0.24],
        [0.10, 0.08],
        [0.25, 0.0],
        [0.40, 0.08],
        [0.45, 0.24],
        [0.39, 0.38],
        [0.25, 0.46],
        [0.08, 0.56],
        [0.0, 0.74],
        [0.07, 0.92],
        [0.25, 1.0],
        [0.43, 0.92],
        [0.5, 0.74],
        [0.42, 0.56],
        [0.25, 0.46],
    ]],
    &[&[
        [0.08, 0.98],
        [0.24, 0.90],
        [0.39, 0.71],
        [0.47, 0.48],
        [0.49, 0.30],
        [0.44, 0.11],
        [0.32, 0.01],
        [0.18, 0.01],
        [0.06, 0.10],
        [0.01, 0.26],
        [0.04, 0.43],
        [0.14, 0.54],
        [0.28, 0.56],
        [0.40, 0.49],
        [0.47, 0.37],
    ]],
];
