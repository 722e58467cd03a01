//! A patch that carries on the curve of the surface round it.
//!
//! How: the patch of least area is divided until its triangles are as large as the rim's edges, its
//! edges are turned where that makes them shorter, and its inner points are moved until the second
//! umbrella difference vanishes, with the surface round the rim held.
//! Source: refining, relaxing and fairing as in "Filling holes in meshes" (SGP 2003); the update of
//! the second difference as in "Interactive multi-resolution modeling on arbitrary meshes"
//! (SIGGRAPH 1998); both from memory.

use super::surface::Surface;
use crate::edges::{QuickMap, edge_key};
use crate::vec3;

/// A patch has at most so many triangles; a wider hole gets larger ones.
const MOST_TRIANGLES: f64 = 4000.0;
/// Rounds of fairing at most.
const FAIRING: usize = 3000;
/// Fairing ends when no point moves farther, in mm.
const STILL_MM: f64 = 1e-4;
/// Where the surface meets the plane of the rim more steeply than this sine, a flat patch is what
/// was there: the end of a tube, the foot of a spike (own choice).
const STEEP: f64 = 0.75;

/// A patch of its own points: the rim first, then inner ones.
pub(super) struct Patch {
    pub points_mm: Vec<[f64; 3]>,
    pub triangles: Vec<[usize; 3]>,
}

/// Per point of some rims the triangles that use it.
pub(super) type Users = QuickMap<u32, Vec<u32>>;

/// Per rim edge, from `points[i]` to the next: the third corner of the triangle on the other side.
pub(super) type Beyond = Vec<Option<[f64; 3]>>;

/// Whether the surface runs on across the hole rather than ending at it.
pub(super) fn carries_on(rim_mm: &[[f64; 3]], beyond: &Beyond) -> bool {
    let n = rim_mm.len();
    let centre = vec3::scale(rim_mm.iter().fold([0.0; 3], |sum, &p| vec3::add(sum, p)), 1.0 / n as f64);
    let spread = (0..n).fold([0.0; 3], |sum, i| {
        let (p, q) = (vec3::sub(rim_mm[i], centre), vec3::sub(rim_mm[(i + 1) % n], centre));
        vec3::add(sum, vec3::cross(p, q))
    });
    let Some(normal) = vec3::unit(spread) else { return false };
    let (mut steep, mut whole) = (0.0, 0.0);
    for i in 0..n {
        let (p, q) = (rim_mm[i], rim_mm[(i + 1) % n]);
        let (Some(apex), Some(along)) = (beyond[i], vec3::unit(vec3::sub(q, p))) else { continue };
        let out = vec3::sub(p, apex);
        let Some(out) = vec3::unit(vec3::sub(out, vec3::scale(along, vec3::dot(out, along)))) else {
            continue;
        };
        let length = vec3::length(vec3::sub(q, p));
        steep += length * vec3::dot(out, normal).abs();
        whole += length;
    }
    whole > 0.0 && steep < STEEP * whole
}

/// Divides and fairs a patch. `around` gives points of the surface joined to each rim point.
pub(super) fn smoothed(rim_mm: &[[f64; 3]], triangles: Vec<[usize; 3]>, around: &[Vec<[f64; 3]>]) -> Patch {
    let mut patch = Patch { points_mm: rim_mm.to_vec(), triangles };
    let n = rim_mm.len();
    let mean_mm =
        (0..n).map(|i| vec3::length(vec3::sub(rim_mm[i], rim_mm[(i + 1) % n]))).sum::<f64>() / n as f64;
    let area_mm2: f64 = patch.triangles.iter().map(|&t| patch.area_mm2(t)).sum();
    let edge_mm = mean_mm.max((2.3 * area_mm2 / MOST_TRIANGLES).sqrt());
    for _ in 0..12 {
        let divided = patch.divide(edge_mm);
        for _ in 0..4 {
            if !patch.turn_edges() {
                break;
            }
        }
        if !divided {
            break;
        }
    }
    patch.fair(n, around);
    patch
}

impl Patch {
    fn area_mm2(&self, t: [usize; 3]) -> f64 {
        vec3::area(t.map(|i| self.points_mm[i]))
    }

    fn length_mm(&self, a: usize, b: usize) -> f64 {
        vec3::length(vec3::sub(self.points_mm[a], self.points_mm[b]))
    }

    /// Puts a point in the middle of every triangle whose corners are all farther from there than
    /// an edge should be long.
    fn divide(&mut self, edge_mm: f64) -> bool {
        let mut changed = false;
        for index in 0..self.triangles.len() {
            let t = self.triangles[index];
            let [a, b, c] = t.map(|i| self.points_mm[i]);
            let middle = vec3::scale(vec3::add(a, vec3::add(b, c)), 1.0 / 3.0);
            if [a, b, c].iter().any(|&p| vec3::length(vec3::sub(p, middle)) < 0.8 * edge_mm) {
                continue;
            }
            let at = self.points_mm.len();
            self.points_mm.push(middle);
            self.triangles[index] = [t[0], t[1], at];
            self.triangles.push([t[1], t[2], at]);
            self.triangles.push([t[2], t[0], at]);
            changed = true;
        }
        changed
    }

    /// Turns inner edges whose two triangles have a shorter diagonal the other way.
    fn turn_edges(&mut self) -> bool {
        let mut sides: QuickMap<u64, Vec<usize>> = QuickMap::default();
        for (index, t) in self.triangles.iter().enumerate() {
            for i in 0..3 {
                sides.entry(edge_key(t[i] as u32, t[(i + 1) % 3] as u32)).or_default().push(index);
            }
        }
        let mut busy = vec![false; self.triangles.len()];
        let mut changed = false;
        for one in 0..self.triangles.len() {
            for i in 0..3 {
                let t = self.triangles[one];
                let (a, b, c) = (t[i], t[(i + 1) % 3], t[(i + 2) % 3]);
                let both = &sides[&edge_key(a as u32, b as u32)];
                let Some(&other) = both.iter().find(|&&other| other != one) else { continue };
                if busy[one] || busy[other] {
                    continue;
                }
                let far = self.triangles[other].iter().copied().find(|&p| p != a && p != b);
                let Some(d) = far else { continue };
                let new_key = edge_key(c as u32, d as u32);
                if sides.contains_key(&new_key) || self.length_mm(c, d) >= 0.999 * self.length_mm(a, b) {
                    continue;
                }
                // Only where the two triangles made still face the way the two did.
                let normal = |t: [usize; 3]| {
                    let [p, q, r] = t.map(|i| self.points_mm[i]);
                    vec3::cross(vec3::sub(q, p), vec3::sub(r, p))
                };
                let before = vec3::add(normal([a, b, c]), normal([b, a, d]));
                let (first, second) = ([a, d, c], [d, b, c]);
                if vec3::dot(normal(first), before) <= 0.0 || vec3::dot(normal(second), before) <= 0.0 {
                    continue;
                }
                (busy[one], busy[other]) = (true, true);
                (self.triangles[one], self.triangles[other]) = (first, second);
                sides.insert(new_key, vec![one, other]);
                changed = true;
                break;
            }
        }
        changed
    }

    fn fair(&mut self, n_rim: usize, around: &[Vec<[f64; 3]>]) {
        let n = self.points_mm.len();
        if n == n_rim {
            return;
        }
        let mut near: Vec<Vec<usize>> = vec![Vec::new(); n];
        for t in &self.triangles {
            for i in 0..3 {
                for (from, to) in [(t[i], t[(i + 1) % 3]), (t[(i + 1) % 3], t[i])] {
                    if !near[from].contains(&to) {
                        near[from].push(to);
                    }
                }
            }
        }
        let fixed: Vec<([f64; 3], f64)> = (0..n)
            .map(|i| {
                let outside = around.get(i).map_or(&[][..], Vec::as_slice);
                let sum = outside.iter().fold([0.0; 3], |sum, &p| vec3::add(sum, p));
                (sum, outside.len() as f64)
            })
            .collect();
        let umbrella = |points: &[[f64; 3]], i: usize| {
            let (sum, count) = near[i]
                .iter()
                .fold(fixed[i], |(sum, count), &other| (vec3::add(sum, points[other]), count + 1.0));
            vec3::sub(vec3::scale(sum, 1.0 / count), points[i])
        };
        // From the membrane, which is close, to the plate.
        for _ in 0..FAIRING / 10 {
            for i in n_rim..n {
                self.points_mm[i] = vec3::add(self.points_mm[i], umbrella(&self.points_mm, i));
            }
        }
        let valence = |i: usize| near[i].len() as f64 + fixed[i].1;
        let step: Vec<f64> = (0..n)
            .map(|i| 1.0 / (1.0 + near[i].iter().map(|&j| 1.0 / valence(j)).sum::<f64>() / valence(i)))
            .collect();
        for _ in 0..FAIRING {
            let first: Vec<[f64; 3]> = (0..n).map(|i| umbrella(&self.points_mm, i)).collect();
            let mut farthest = 0.0_f64;
            for i in n_rim..n {
                let mean = near[i].iter().fold([0.0; 3], |sum, &j| vec3::add(sum, first[j]));
                let second = vec3::sub(vec3::scale(mean, 1.0 / near[i].len() as f64), first[i]);
                let move_mm = vec3::scale(second, -step[i]);
                farthest = farthest.max(vec3::length(move_mm));
                self.points_mm[i] = vec3::add(self.points_mm[i], move_mm);
            }
            if farthest < STILL_MM {
                break;
            }
        }
    }
}

/// The corners beyond a rim's edges, and the points of the surface joined to each rim point.
pub(super) fn beside(surface: &Surface, rim: &[u32], users: &Users) -> (Beyond, Vec<Vec<[f64; 3]>>) {
    let n = rim.len();
    let beyond = (0..n)
        .map(|i| {
            let (a, b) = (rim[i], rim[(i + 1) % n]);
            users[&a].iter().find_map(|&triangle| {
                let t = surface.triangles[triangle as usize];
                let third = t.iter().copied().find(|&p| p != a && p != b)?;
                t.contains(&b).then(|| surface.at_mm(third))
            })
        })
        .collect();
    let around = rim
        .iter()
        .map(|&point| {
            let mut near: Vec<u32> =
                users[&point].iter().flat_map(|&t| surface.triangles[t as usize]).collect();
            near.sort_unstable();
            near.dedup();
            // Neighbours along the rim are in the patch.
            near.into_iter().filter(|p| *p != point && !rim.contains(p)).map(|p| surface.at_mm(p)).collect()
        })
        .collect();
    (beyond, around)
}
