//! The triangles of a piece in small groups, so that what lies near the bed is found without a look
//! at each triangle for each way to stand.
//!
//! How: triangles are grouped by the cell of a lattice in which their first corner lies; a group's
//! box says how low it can reach with any direction upward.
//! Not here: what touching means (`rest.rs`).

use seamwright_mesh::Solid;

/// Triangles a group has, about, on a closed skin: as dear to pass as to look at (ours).
const A_GROUP: f64 = 12.0;

/// Cells along the longest side, at most.
const MOST_CELLS: usize = 64;

/// A piece's triangles in groups.
#[derive(Debug)]
pub struct Nearby {
    groups: Vec<Group>,
    /// Triangle indices, group after group.
    triangles: Vec<u32>,
}

#[derive(Debug)]
struct Group {
    middle: [f64; 3],
    half: [f64; 3],
    end: usize,
}

impl Nearby {
    /// Groups the triangles of `solid`, whose points are `points_mm`.
    pub fn new(solid: &Solid, points_mm: &[[f64; 3]]) -> Self {
        let (low, high) = solid.box_mm();
        let longest_mm = (0..3).map(|k| high[k] - low[k]).fold(0.0, f64::max);
        // A skin passes through some six times the square of the cells along a side.
        let n_cells = (solid.n_triangles() as f64 / (6.0 * A_GROUP)).sqrt().ceil().max(1.0);
        let n_cells = (n_cells as usize).min(MOST_CELLS);
        let per_mm = n_cells as f64 / longest_mm.max(1e-9);
        let cell = |p: [f64; 3]| {
            let at = |k: usize| (((p[k] - low[k]) * per_mm) as usize).min(n_cells - 1);
            (at(0) * n_cells + at(1)) * n_cells + at(2)
        };
        let cells: Vec<usize> = solid.triangles().iter().map(|t| cell(points_mm[t[0] as usize])).collect();
        let mut ends = vec![0_usize; n_cells * n_cells * n_cells + 1];
        cells.iter().for_each(|&cell| ends[cell + 1] += 1);
        for cell in 1..ends.len() {
            ends[cell] += ends[cell - 1];
        }
        let mut triangles = vec![0_u32; cells.len()];
        let mut next = ends.clone();
        for (index, &cell) in cells.iter().enumerate() {
            triangles[next[cell]] = index as u32;
            next[cell] += 1;
        }
        let groups = ends.windows(2).filter(|ends| ends[0] < ends[1]).map(|ends| {
            let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
            let corners = triangles[ends[0]..ends[1]].iter().flat_map(|&t| solid.triangles()[t as usize]);
            for p in corners.map(|i| points_mm[i as usize]) {
                for k in 0..3 {
                    low[k] = low[k].min(p[k]);
                    high[k] = high[k].max(p[k]);
                }
            }
            Group {
                middle: std::array::from_fn(|k| 0.5 * (low[k] + high[k])),
                half: std::array::from_fn(|k| 0.5 * (high[k] - low[k])),
                end: ends[1],
            }
        });
        Self { groups: groups.collect(), triangles }
    }

    /// Triangles that may reach below height `top_mm` along the unit vector `up`.
    pub fn below(&self, up: [f64; 3], top_mm: f64) -> impl Iterator<Item = usize> {
        // Rounding of a sum of three products of coordinates.
        let top_mm = top_mm + 1e-9;
        let steep = up.map(f64::abs);
        let starts = std::iter::once(0).chain(self.groups.iter().map(|group| group.end));
        let near = self.groups.iter().zip(starts).filter(move |(Group { middle, half, .. }, _)| {
            (0..3).map(|k| up[k] * middle[k] - steep[k] * half[k]).sum::<f64>() <= top_mm
        });
        near.flat_map(|(group, start)| self.triangles[start..group.end].iter().map(|&t| t as usize))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_triangle_that_reaches_low_is_found_and_few_others() {
        let n = 60;
        let mut points = Vec::new();
        let mut triangles = Vec::new();
        let at = |i: usize, k: usize| {
            let (a, b) =
                (std::f64::consts::PI * i as f64 / n as f64, std::f64::consts::TAU * k as f64 / n as f64);
            let flat = 80.0 * libm::sin(a);
            [flat * libm::cos(b), flat * libm::sin(b), 50.0 * libm::cos(a)]
        };
        let index = |i: usize, k: usize| match i {
            0 => 0,
            i if i == n => 1,
            i => (2 + (i - 1) * n + k % n) as u32,
        };
        points.extend([at(0, 0), at(n, 0)]);
        points.extend((1..n).flat_map(|i| (0..n).map(move |k| at(i, k))));
        for (i, k) in (0..n).flat_map(|i| (0..n).map(move |k| (i, k))) {
            let [a, b, c, d] = [index(i, k), index(i + 1, k), index(i + 1, k + 1), index(i, k + 1)];
            triangles
                .extend([[a, b, c], [a, c, d]].into_iter().filter(|&[a, b, c]| a != b && b != c && c != a));
        }
        let (egg, _) = Solid::from_triangles(&points, &triangles).expect("a closed egg");
        let points_mm = egg.points_mm();
        let nearby = Nearby::new(&egg, &points_mm);
        for up in [[0.0, 0.0, 1.0], [0.6, 0.0, -0.8], [-0.48, 0.6, 0.64]] {
            let height = |i: u32| seamwright_mesh::vec3::dot(up, points_mm[i as usize]);
            let low = (0..points_mm.len()).map(|i| height(i as u32)).fold(f64::MAX, f64::min);
            let found: Vec<usize> = nearby.below(up, low + 2.0).collect();
            let due: Vec<usize> = (0..egg.n_triangles())
                .filter(|&t| egg.triangles()[t].iter().any(|&i| height(i) <= low + 2.0))
                .collect();
            assert!(due.len() > 30 && due.iter().all(|t| found.contains(t)));
            assert!(found.len() < egg.n_triangles() / 5, "{} for {}", found.len(), due.len());
        }
    }
}
