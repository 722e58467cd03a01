//! All offsets of one cutting direction at once, roughly: what both sides would need, and how long
//! the section is.
//!
//! How: points spread over the part are sorted into slots along the direction; running extremes in
//! a few frames from both ends give the extents of both sides at every slot border. The section
//! length at a border is the sum over triangles of their chord, which is exact.
//! Extents rest on points a few mm apart, so they are short by up to their spacing: only a guide;
//! the exact cut and the exact fit decide.
//! Source: section length piecewise linear in the offset, derived in the study of cutting.

use crate::estimate::{self, Need};
use crate::frames::Frame;
use crate::partition::Part;
use seamwright_mesh::vec3;
use std::collections::HashSet;

/// Points along the longest extent of a part: 64 keep a sweep near a millisecond.
const POINTS_ALONG: f64 = 64.0;

/// A part as points, projected once on the axes of all frames.
pub struct Cloud {
    points_mm: Vec<[f64; 3]>,
    /// Per point, per frame, three coordinates.
    projected: Vec<[f64; 3]>,
    n_frames: usize,
    spacing_mm: f64,
}

/// One border between slots.
#[derive(Debug, Clone, Copy)]
pub struct Border {
    /// Offset of the plane.
    pub offset_mm: f64,
    /// Length of the section there.
    pub section_mm: f64,
    /// Needs of the lower and the upper side.
    pub need: [Need; 2],
    /// Share of the points on the lower side.
    pub share_below: f64,
}

impl Cloud {
    /// Points of the part's surface, about evenly spread: one a cell of a grid, corners of the
    /// hull always, long edges by points along them.
    pub fn new(part: &Part, frames: &[Frame]) -> Self {
        let size = part.solid.size_mm();
        let spacing_mm = size[0].max(size[1]).max(size[2]) / POINTS_ALONG;
        let mut seen: HashSet<[i32; 3]> = HashSet::new();
        let mut points_mm = part.hull.points_mm.clone();
        let mut take = |p: [f64; 3]| {
            if seen.insert(p.map(|c| (c / spacing_mm).floor() as i32)) {
                points_mm.push(p);
            }
        };
        for index in 0..part.solid.n_triangles() {
            let corners = part.solid.corners_mm(index);
            for i in 0..3 {
                let (a, b) = (corners[i], corners[(i + 1) % 3]);
                take(a);
                let step = vec3::sub(b, a);
                let n = (vec3::length(step) / spacing_mm).floor();
                for k in 1..=n as usize {
                    take(vec3::add(a, vec3::scale(step, k as f64 / (n + 1.0))));
                }
            }
        }
        let projected = points_mm
            .iter()
            .flat_map(|&p| frames.iter().map(move |frame| frame.map(|axis| vec3::dot(axis, p))))
            .collect();
        Self { points_mm, projected, n_frames: frames.len(), spacing_mm }
    }

    /// The points.
    pub fn points_mm(&self) -> &[[f64; 3]] {
        &self.points_mm
    }

    /// Looks at `n_slots - 1` evenly spaced offsets along `normal`.
    pub fn sweep(&self, part: &Part, normal: [f64; 3], n_slots: usize, boxes: &[[f64; 3]]) -> Vec<Border> {
        let along: Vec<f64> = self.points_mm.iter().map(|&p| vec3::dot(normal, p)).collect();
        let (low, high) = along.iter().fold((f64::MAX, f64::MIN), |(l, h), &d| (l.min(d), h.max(d)));
        let step_mm = (high - low) / n_slots as f64;
        if step_mm <= 0.0 {
            return Vec::new();
        }
        let width = self.n_frames;
        let empty = ([f64::MAX; 3], [f64::MIN; 3]);
        let mut slots = vec![empty; n_slots * width];
        let mut counts = vec![0_usize; n_slots];
        for (point, &d) in along.iter().enumerate() {
            let slot = (((d - low) / step_mm) as usize).min(n_slots - 1);
            counts[slot] += 1;
            let from = &self.projected[point * width..(point + 1) * width];
            for (range, &c) in slots[slot * width..(slot + 1) * width].iter_mut().zip(from) {
                *range = widest(*range, (c, c));
            }
        }
        let sections = section_lengths(part, normal, low, step_mm, n_slots);
        let below = self.running(&slots, (0..n_slots - 1).collect(), boxes);
        let above = self.running(&slots, (1..n_slots).rev().collect(), boxes);
        let mut so_far = 0;
        (1..n_slots)
            .map(|border| {
                so_far += counts[border - 1];
                Border {
                    offset_mm: low + step_mm * border as f64,
                    section_mm: sections[border],
                    need: [below[border - 1], above[n_slots - 1 - border]],
                    share_below: so_far as f64 / along.len() as f64,
                }
            })
            .collect()
    }

    /// Needs of the slots taken together so far, in the order given.
    fn running(&self, slots: &[([f64; 3], [f64; 3])], order: Vec<usize>, boxes: &[[f64; 3]]) -> Vec<Need> {
        let width = self.n_frames;
        let mut total = vec![([f64::MAX; 3], [f64::MIN; 3]); width];
        order
            .into_iter()
            .map(|slot| {
                let mut best = Need { pieces: f64::MAX, excess: f64::MAX };
                for (sum, range) in total.iter_mut().zip(&slots[slot * width..(slot + 1) * width]) {
                    *sum = widest(*sum, *range);
                    // Half the spacing for what lies between points.
                    let extents =
                        std::array::from_fn(|i| (sum.1[i] - sum.0[i]).max(0.0) + self.spacing_mm / 2.0);
                    let need = estimate::need_of(extents, boxes);
                    if need.pieces + need.excess < best.pieces + best.excess {
                        best = need;
                    }
                }
                best
            })
            .collect()
    }
}

/// The range that holds both, lowest and highest on each axis.
fn widest(a: ([f64; 3], [f64; 3]), b: ([f64; 3], [f64; 3])) -> ([f64; 3], [f64; 3]) {
    (std::array::from_fn(|i| a.0[i].min(b.0[i])), std::array::from_fn(|i| a.1[i].max(b.1[i])))
}

/// Section length at each border `low + k step` (entry 0 unused).
fn section_lengths(part: &Part, normal: [f64; 3], low: f64, step_mm: f64, n_slots: usize) -> Vec<f64> {
    let mut lengths = vec![0.0; n_slots];
    let points = part.solid.points_mm();
    let along: Vec<f64> = points.iter().map(|&p| vec3::dot(normal, p)).collect();
    for t in part.solid.triangles() {
        let mut order = t.map(|i| i as usize);
        order.sort_by(|&a, &b| along[a].total_cmp(&along[b]));
        let [a, b, c] = order;
        let (from, to) = ((along[a] - low) / step_mm, (along[c] - low) / step_mm);
        let (first, last) = (from.ceil().max(1.0) as usize, to.floor().min(n_slots as f64 - 1.0) as usize);
        if first > last {
            continue;
        }
        // The chord is longest at the middle corner and shrinks evenly to both ends.
        let rise = along[c] - along[a];
        let across = vec3::sub(
            points[b],
            vec3::add(points[a], vec3::scale(vec3::sub(points[c], points[a]), (along[b] - along[a]) / rise)),
        );
        let longest = vec3::length(across);
        for (border, length) in lengths.iter_mut().enumerate().take(last + 1).skip(first) {
            let d = low + step_mm * border as f64;
            let (span, gone) = if d <= along[b] {
                (along[b] - along[a], d - along[a])
            } else {
                (along[c] - along[b], along[c] - d)
            };
            if span > 0.0 {
                *length += longest * gone / span;
            }
        }
    }
    lengths
}
