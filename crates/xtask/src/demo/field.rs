//! Building blocks of signed distance fields: unions, hollows, profiles and flat figures.
//!
//! Units: mm; distances negative inside. Flat figures take `[u, v]` in the plane they are drawn in.
//! Source: polynomial smooth minimum and figure distances as commonly written (no source); the
//! armour shapes made of them are our own.

use libm::{atan2, cos, hypot, sin};

/// A signed distance in space, negative inside.
pub type Field<'a> = &'a (dyn Fn([f64; 3]) -> f64 + Sync);

/// Union with a fillet about `k` wide.
pub fn smooth_min(a: f64, b: f64, k: f64) -> f64 {
    let h = (k - (a - b).abs()).max(0.0) / k;
    a.min(b) - h * h * k * 0.25
}

/// Intersection with a rounding about `k` wide.
pub fn smooth_max(a: f64, b: f64, k: f64) -> f64 {
    -smooth_min(-a, -b, k)
}

/// 0 below `from`, 1 above `to`, smooth between; also works with `from > to`.
pub fn ramp(from: f64, to: f64, x: f64) -> f64 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A round bead of height 1 over |x| < 1.
pub fn bead(x: f64) -> f64 {
    (1.0 - x * x).max(0.0).sqrt()
}

/// A groove with a round bottom and soft shoulders: 1 at x = 0, 0 from |x| = 1.
pub fn notch(x: f64) -> f64 {
    ramp(1.0, 0.0, x.abs())
}

/// A soft hollow: 1 at x = 0, 0 from |x| = 1, smooth at both.
pub fn hollow(x: f64) -> f64 {
    let t = (1.0 - x * x).max(0.0);
    t * t
}

/// A raised band with rounded flanks: 1 over |x| < `half`, falling to 0 over `flank`.
pub fn band(x: f64, half: f64, flank: f64) -> f64 {
    ramp(half + flank, half, x.abs())
}

/// Overlapping plates: climbs from 0 to 1 over each unit of `x` and falls back within its last `back`.
pub fn plates(x: f64, back: f64) -> f64 {
    let within = x - x.floor();
    (within / (1.0 - back)).min((1.0 - within) / back)
}

/// Distance of a point to a segment, and how far along it (0 to 1).
pub fn segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> (f64, f64) {
    let (along, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let t =
        ((to[0] * along[0] + to[1] * along[1]) / (along[0] * along[0] + along[1] * along[1])).clamp(0.0, 1.0);
    (hypot(to[0] - t * along[0], to[1] - t * along[1]), t)
}

/// Turned by `angle` counter-clockwise.
pub fn turn(p: [f64; 2], angle: f64) -> [f64; 2] {
    let (s, c) = (sin(angle), cos(angle));
    [c * p[0] - s * p[1], s * p[0] + c * p[1]]
}

/// Signed distance to an almond of `half_long` by `half_wide`, its points along u.
pub fn almond(p: [f64; 2], half_long: f64, half_wide: f64) -> f64 {
    let radius = (half_long * half_long + half_wide * half_wide) / (2.0 * half_wide);
    let below = radius - half_wide;
    let (u, v) = (p[0].abs(), p[1].abs());
    // Past the end of the arc the nearest place is the point of the almond.
    if (u - half_long) * below > v * half_long {
        hypot(u - half_long, v)
    } else {
        hypot(u, v + below) - radius
    }
}

/// A closed flat outline through given points, smoothed.
pub struct Outline {
    corners: Vec<[f64; 2]>,
}

impl Outline {
    /// A smooth closed curve through `points`; four chords between neighbours. A point given twice
    /// in a row makes a sharp corner.
    pub fn through(points: &[[f64; 2]]) -> Self {
        const CHORDS: usize = 5;
        let n = points.len();
        let mut corners = Vec::with_capacity(n * CHORDS);
        for i in 0..n {
            let p: [[f64; 2]; 4] = std::array::from_fn(|k| points[(i + n + k - 1) % n]);
            if p[1] == p[2] {
                continue;
            }
            // At a doubled point the tangent is that of the chord itself.
            let before = if p[0] == p[1] { [2.0 * p[1][0] - p[2][0], 2.0 * p[1][1] - p[2][1]] } else { p[0] };
            let after = if p[2] == p[3] { [2.0 * p[2][0] - p[1][0], 2.0 * p[2][1] - p[1][1]] } else { p[3] };
            for step in 0..CHORDS {
                let t = step as f64 / CHORDS as f64;
                corners.push(std::array::from_fn(|a| catmull([before[a], p[1][a], p[2][a], after[a]], t)));
            }
        }
        Self { corners }
    }

    /// Signed distance, negative inside.
    pub fn distance(&self, p: [f64; 2]) -> f64 {
        let n = self.corners.len();
        let (mut nearest, mut inside) = (f64::MAX, false);
        for i in 0..n {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % n]);
            let (edge, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let t = ((to[0] * edge[0] + to[1] * edge[1]) / (edge[0] * edge[0] + edge[1] * edge[1]))
                .clamp(0.0, 1.0);
            let (du, dv) = (to[0] - t * edge[0], to[1] - t * edge[1]);
            nearest = nearest.min(du * du + dv * dv);
            if (a[1] > p[1]) != (b[1] > p[1]) && to[0] < edge[0] * to[1] / edge[1] {
                inside = !inside;
            }
        }
        if inside { -nearest.sqrt() } else { nearest.sqrt() }
    }
}

fn catmull(p: [f64; 4], t: f64) -> f64 {
    let (a, b) = ((p[2] - p[0]) * 0.5, (p[3] - p[1]) * 0.5);
    hermite(p[1], a, p[2], b, t)
}

fn hermite(from: f64, slope_from: f64, to: f64, slope_to: f64, t: f64) -> f64 {
    let (t2, t3) = (t * t, t * t * t);
    (2.0 * t3 - 3.0 * t2 + 1.0) * from
        + (t3 - 2.0 * t2 + t) * slope_from
        + (3.0 * t2 - 2.0 * t3) * to
        + (t3 - t2) * slope_to
}

/// A smooth function of one value through given (x, y), without overshoot; constant beyond the ends.
pub struct Curve<const N: usize>(pub [(f64, f64); N]);

impl<const N: usize> Curve<N> {
    /// Its value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let keys = &self.0;
        if x <= keys[0].0 {
            return keys[0].1;
        }
        let Some(i) = (1..N).find(|&i| x < keys[i].0) else { return keys[N - 1].1 };
        let span = keys[i].0 - keys[i - 1].0;
        let t = (x - keys[i - 1].0) / span;
        hermite(keys[i - 1].1, self.slope(i - 1) * span, keys[i].1, self.slope(i) * span, t)
    }

    /// Harmonic mean of the slopes on both sides, 0 at turning points and ends (keeps it monotone).
    fn slope(&self, i: usize) -> f64 {
        if i == 0 || i + 1 == N {
            return 0.0;
        }
        let rise = |k: usize| (self.0[k + 1].1 - self.0[k].1) / (self.0[k + 1].0 - self.0[k].0);
        let (before, after) = (rise(i - 1), rise(i));
        if before * after <= 0.0 { 0.0 } else { 2.0 * before * after / (before + after) }
    }
}

/// A feather lying in a plane: its quill runs from `root` towards `angle`, bending by `bend` at
/// mid-length; `half_wide` at its widest.
pub struct Feather {
    /// Where the quill starts.
    pub root: [f64; 2],
    /// Direction of the quill's chord, radians.
    pub angle: f64,
    /// Length of the chord, mm.
    pub long: f64,
    /// Sag of the quill at its middle, mm.
    pub bend: f64,
    /// Half the greatest width, mm.
    pub half_wide: f64,
}

impl Feather {
    /// Relief height 0 to 1 (0 outside): a step at the edge, a vaulted vane, a notch along the
    /// quill and slanting barbs.
    pub fn relief(&self, p: [f64; 2]) -> f64 {
        let [u, v] = turn([p[0] - self.root[0], p[1] - self.root[1]], -self.angle);
        let t = u / self.long;
        if !(0.0..1.0).contains(&t) {
            return 0.0;
        }
        let across = v - 4.0 * self.bend * t * (1.0 - t);
        let half =
            self.half_wide * (1.0 - (1.0 - t) * (1.0 - t) * (1.0 - t)) * (1.0 - t * t * t * t * t).sqrt();
        let s = across.abs() / half.max(0.1);
        if s >= 1.0 {
            return 0.0;
        }
        let edge = ((1.0 - s) * half / 1.8).min(1.0);
        let quill = notch(across / 1.6) * ramp(0.0, 0.1, t) * ramp(1.0, 0.8, t);
        let barb = hollow(((u + 0.9 * across.abs()) / 9.0).fract() * 4.0 - 2.0)
            * ramp(0.12, 0.3, t)
            * ramp(0.15, 0.4, s);
        edge * (0.55 + 0.45 * (1.0 - s * s) - 0.3 * quill - 0.16 * barb)
    }
}

/// Angle in turns of the fan around a centre: 0 towards -u, growing to +v.
pub fn fan_angle(p: [f64; 2], centre: [f64; 2]) -> f64 {
    atan2(p[1] - centre[1], centre[0] - p[0])
}

/// Distance estimate of an implicit function whose zero is the surface: value over slope.
pub fn as_distance(value: impl Fn([f64; 3]) -> f64, p: [f64; 3]) -> f64 {
    const STEP_MM: f64 = 0.05;
    let here = value(p);
    let slope2: f64 = (0..3)
        .map(|a| {
            let mut q = p;
            q[a] += STEP_MM;
            let slope = (value(q) - here) / STEP_MM;
            slope * slope
        })
        .sum();
    here / slope2.sqrt().max(1e-9)
}

/// Where a path from outside (at `outside`) to inside (at `inside`) meets the surface of `form`,
/// moved inward by `sink_mm`; `None` where the path ends outside.
pub fn meet(
    form: impl Fn([f64; 3]) -> f64,
    path: impl Fn(f64) -> [f64; 3],
    outside: f64,
    inside: f64,
    sink_mm: f64,
) -> Option<[f64; 3]> {
    if form(path(inside)) > 0.0 {
        return None;
    }
    let (mut out, mut deep) = (outside, inside);
    for _ in 0..40 {
        let middle = (out + deep) / 2.0;
        if form(path(middle)) > 0.0 { out = middle } else { deep = middle }
    }
    let point = path(deep);
    let slope: [f64; 3] = std::array::from_fn(|a| {
        let mut next = point;
        next[a] += 0.05;
        form(next) - form(point)
    });
    let steep = hypot(hypot(slope[0], slope[1]), slope[2]).max(1e-12);
    Some(std::array::from_fn(|a| point[a] - sink_mm * slope[a] / steep))
}

/// Adds the heads of rivets of `radius_mm` to a surface at distance `surface`.
pub fn with_rivets(surface: f64, p: [f64; 3], rivets: &[[f64; 3]], radius_mm: f64) -> f64 {
    rivets.iter().fold(surface, |surface, rivet| {
        let d = hypot(hypot(p[0] - rivet[0], p[1] - rivet[1]), p[2] - rivet[2]) - radius_mm;
        if d < 8.0 { smooth_min(surface, d, 1.0) } else { surface }
    })
}
