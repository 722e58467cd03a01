//! From buffers to a drawing on paper: soft shade, darker hollows, ink along creases and outlines.
//!
//! Palette and manner follow the drawing sheet of the page, so pictures and page look like one thing.

use super::raster::{NOTHING, Seen, View};

/// Ground of the sheet.
pub const PAPER: [u8; 3] = [0xf3, 0xed, 0xdf];
/// Lines and words.
pub const INK: [u8; 3] = [0x1f, 0x2a, 0x4a];
/// Undyed cloth for pieces: linen, flax, oat, hemp, wool, ash.
pub const CLOTH: [[u8; 3]; 6] = [
    [0xe8, 0xdc, 0xc3],
    [0xd9, 0xc8, 0xa4],
    [0xc9, 0xb7, 0x8f],
    [0xb7, 0xa2, 0x7a],
    [0xcf, 0xca, 0xbd],
    [0xbd, 0xb8, 0xab],
];

/// Pixels drawn for one pixel shown, along each axis.
pub const FINER: usize = 3;

/// A picture of 8-bit red, green, blue.
#[derive(Debug, Clone)]
pub struct Picture {
    /// Width and height, pixels.
    pub size_px: [usize; 2],
    /// Rows from the top.
    pub pixels: Vec<[u8; 3]>,
}

/// Colours finely drawn buffers and brings them to shown size.
pub fn shade(seen: &[Seen], view: &View, tones: &[[u8; 3]]) -> Picture {
    let [wide, high] = view.size_px;
    let mut fine = vec![PAPER.map(f32::from); wide * high];
    for y in 0..high {
        for x in 0..wide {
            let here = seen[y * wide + x];
            let at = |dx: i64, dy: i64| {
                let (u, v) = (x as i64 + dx, y as i64 + dy);
                let inside = u >= 0 && v >= 0 && u < wide as i64 && v < high as i64;
                if inside { seen[v as usize * wide + u as usize] } else { Seen { part: NOTHING, ..here } }
            };
            let mut colour = fine[y * wide + x];
            if here.part != NOTHING {
                let light = lit(here.normal) * (1.0 - 0.62 * hidden(&at, here, view));
                colour = tones[here.part as usize].map(|t| (f32::from(t) * light).min(250.0));
            }
            let ink = ink_at(&at, here, view);
            fine[y * wide + x] = std::array::from_fn(|i| colour[i] + (f32::from(INK[i]) - colour[i]) * ink);
        }
    }
    let size_px = [wide / FINER, high / FINER];
    let pixels = (0..size_px[0] * size_px[1])
        .map(|index| {
            let (x, y) = (index % size_px[0] * FINER, index / size_px[0] * FINER);
            let mut sum = [0.0; 3];
            for v in y..y + FINER {
                for pixel in &fine[v * wide + x..v * wide + x + FINER] {
                    sum = std::array::from_fn(|i| sum[i] + pixel[i]);
                }
            }
            sum.map(|s| (s / (FINER * FINER) as f32).round() as u8)
        })
        .collect();
    Picture { size_px, pixels }
}

/// Light from the upper left in front, a faint one from the right, and the paper's own glow.
fn lit(normal: [f32; 3]) -> f32 {
    let toward = |light: [f32; 3]| (0..3).map(|i| light[i] * normal[i]).sum::<f32>();
    let key = toward([-0.50, 0.62, 0.60]).max(0.0);
    let fill = toward([0.80, 0.05, 0.60]).max(0.0);
    let sheen = toward([-0.30, 0.42, 0.857]).max(0.0);
    0.60 + 0.46 * key + 0.12 * fill + 0.10 * libm::powf(sheen, 24.0)
}

/// How far nearby things stand in front of this place, 0 to 1.
fn hidden(at: &impl Fn(i64, i64) -> Seen, here: Seen, view: &View) -> f32 {
    const REACH_MM: [f64; 3] = [3.0, 9.0, 22.0];
    let mut sum = 0.0;
    for (ring, reach_mm) in REACH_MM.iter().enumerate() {
        let reach_px = reach_mm * view.px_per_mm;
        for k in 0..8 {
            let angle = (f64::from(k) + 0.33 * ring as f64) * std::f64::consts::FRAC_PI_4;
            let (dx, dy) = (reach_px * libm::cos(angle), reach_px * libm::sin(angle));
            let there = at(dx as i64, dy as i64);
            if there.part == NOTHING {
                continue;
            }
            // Height above the tangent plane, against the distance: the tangent of the horizon.
            let flat = (here.normal[0] * (dx / view.px_per_mm) as f32
                - here.normal[1] * (dy / view.px_per_mm) as f32)
                / here.normal[2].max(0.25);
            let above = there.depth_mm - here.depth_mm + flat;
            let horizon = above / *reach_mm as f32 - 0.06;
            // Things far in front belong to another part of the picture; they shade less.
            let fade = 1.0 / (1.0 + (above / (4.0 * *reach_mm as f32)).max(0.0));
            sum += horizon.clamp(0.0, 1.0) * fade;
        }
    }
    (sum / 24.0 * 1.6).min(1.0)
}

/// Strength of ink at this place: outlines full, creases lighter.
fn ink_at(at: &impl Fn(i64, i64) -> Seen, here: Seen, view: &View) -> f32 {
    let mm_per_px = 1.0 / view.px_per_mm as f32;
    let mut ink: f32 = 0.0;
    for (dx, dy) in [(1, 0), (0, 1), (-1, 0), (0, -1)] {
        let there = at(dx, dy);
        if here.part != there.part {
            ink = ink.max(0.9);
            continue;
        }
        if here.part == NOTHING {
            continue;
        }
        let steep = 1.0 / here.normal[2].min(there.normal[2]).max(0.08);
        if (here.depth_mm - there.depth_mm).abs() > 1.2 + 2.5 * mm_per_px * steep {
            ink = ink.max(0.85);
        }
        let turn: f32 = (0..3).map(|i| here.normal[i] * there.normal[i]).sum();
        ink = ink.max(((0.84 - turn) * 1.2).clamp(0.0, 0.45));
    }
    ink
}
