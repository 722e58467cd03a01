//! Extents of a point set along turned axes, and the pairs of points that make them.
//!
//! How: coordinates lie in three columns so that loops run four points at a time. [`Points::near`]
//! keeps only points that may still be outermost while the axes turn by at most some angle: `p` is
//! out once the outermost point `q` stays ahead of it, `(q - p) · u cos(t) > |(q - p) x u| sin(t)`.
//! Units: millimetres, radians.

use seamwright_mesh::vec3;

use crate::turn::Rows;

/// Points in columns, padded to a multiple of four by repeating the last.
#[derive(Debug, Clone, Default)]
pub(crate) struct Points {
    x: Vec<f64>,
    y: Vec<f64>,
    z: Vec<f64>,
    /// Without the padding.
    len: usize,
}

/// Tilts per axis that pairs are taken at: none, and either way towards both other axes.
pub(crate) const N_TILTS: usize = 5;

/// Differences `high - low` of the outermost points per axis, one per tilt.
pub(crate) type Pairs = [[[f64; 3]; N_TILTS]; 3];

impl Points {
    pub(crate) fn new(points: impl IntoIterator<Item = [f64; 3]>) -> Self {
        let mut made = Self::default();
        for [x, y, z] in points {
            made.x.push(x);
            made.y.push(y);
            made.z.push(z);
        }
        made.len = made.x.len();
        while let (false, Some(last)) = (made.x.len().is_multiple_of(4), made.len.checked_sub(1)) {
            made.x.push(made.x[last]);
            made.y.push(made.y[last]);
            made.z.push(made.z[last]);
        }
        made
    }

    pub(crate) fn len(&self) -> usize {
        self.len
    }

    pub(crate) fn get(&self, index: usize) -> [f64; 3] {
        [self.x[index], self.y[index], self.z[index]]
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = [f64; 3]> + '_ {
        (0..self.len).map(|i| self.get(i))
    }

    /// Extents along the rows; zeros for no points.
    pub(crate) fn extents(&self, rows: &Rows) -> [f64; 3] {
        if self.len == 0 {
            return [0.0; 3];
        }
        let mut low = [[f64::INFINITY; 4]; 3];
        let mut high = [[f64::NEG_INFINITY; 4]; 3];
        let columns = self.x.chunks_exact(4).zip(self.y.chunks_exact(4)).zip(self.z.chunks_exact(4));
        for ((x, y), z) in columns {
            for axis in 0..3 {
                let [a, b, c] = rows[axis];
                for lane in 0..4 {
                    let along = a * x[lane] + b * y[lane] + c * z[lane];
                    // Plain comparisons: they become one instruction, `f64::min` does not.
                    low[axis][lane] = if along < low[axis][lane] { along } else { low[axis][lane] };
                    high[axis][lane] = if along > high[axis][lane] { along } else { high[axis][lane] };
                }
            }
        }
        std::array::from_fn(|axis| {
            let most = high[axis].iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b));
            most - low[axis].iter().fold(f64::INFINITY, |a, &b| a.min(b))
        })
    }

    /// Outermost pairs along each row and along it tilted by `tilt` (tangent) to the other two.
    pub(crate) fn pairs(&self, rows: &Rows, tilt: f64) -> Pairs {
        let mut high = [(f64::NEG_INFINITY, 0); 3 * N_TILTS];
        let mut low = [(f64::INFINITY, 0); 3 * N_TILTS];
        for i in 0..self.len {
            let p = self.get(i);
            let along = rows.map(|row| vec3::dot(row, p));
            for axis in 0..3 {
                let side = tilt * along[(axis + 1) % 3];
                let other = tilt * along[(axis + 2) % 3];
                let at = along[axis];
                let tilted = [at, at + side, at - side, at + other, at - other];
                for (tilt_index, value) in tilted.into_iter().enumerate() {
                    let slot = axis * N_TILTS + tilt_index;
                    if value > high[slot].0 {
                        high[slot] = (value, i);
                    }
                    if value < low[slot].0 {
                        low[slot] = (value, i);
                    }
                }
            }
        }
        std::array::from_fn(|axis| {
            std::array::from_fn(|tilt_index| {
                let slot = axis * N_TILTS + tilt_index;
                if self.len == 0 {
                    return [0.0; 3];
                }
                vec3::sub(self.get(high[slot].1), self.get(low[slot].1))
            })
        })
    }

    /// Index of the highest and the lowest point along each row, the first of equal ones; zeros for
    /// no points.
    fn ends<const N: usize>(&self, rows: &[[f64; 3]; N]) -> [[usize; 2]; N] {
        let mut high = [(f64::NEG_INFINITY, 0); N];
        let mut low = [(f64::INFINITY, 0); N];
        for i in 0..self.len {
            let p = self.get(i);
            for axis in 0..N {
                let along = vec3::dot(rows[axis], p);
                if along > high[axis].0 {
                    high[axis] = (along, i);
                }
                if along < low[axis].0 {
                    low[axis] = (along, i);
                }
            }
        }
        std::array::from_fn(|axis| [high[axis].1, low[axis].1])
    }

    /// Differences of the outermost points along each row; zeros for no points.
    pub(crate) fn outermost_pairs(&self, rows: &Rows) -> [[f64; 3]; 3] {
        if self.len == 0 {
            return [[0.0; 3]; 3];
        }
        self.ends(rows).map(|[high, low]| vec3::sub(self.get(high), self.get(low)))
    }

    /// Those that may be outermost along some row while the rows turn by at most `reach_rad`.
    pub(crate) fn near<const N: usize>(&self, rows: &[[f64; 3]; N], reach_rad: f64) -> Self {
        let mut kept = vec![false; self.len];
        self.mark_near(rows, reach_rad, &mut kept);
        self.only(&kept)
    }

    /// Marks those points.
    pub(crate) fn mark_near<const N: usize>(&self, rows: &[[f64; 3]; N], reach_rad: f64, kept: &mut [bool]) {
        if self.len == 0 {
            return;
        }
        let (sin, cos) = libm::sincos(reach_rad.min(std::f64::consts::FRAC_PI_2));
        for (row, ends) in rows.iter().zip(self.ends(rows)) {
            for outermost in ends.map(|end| self.get(end)) {
                for (i, keep) in kept.iter_mut().enumerate().filter(|(_, keep)| !**keep) {
                    let behind = vec3::sub(outermost, self.get(i));
                    let along = vec3::dot(*row, behind);
                    let aside_sq = vec3::dot(behind, behind) - along * along;
                    // along cos <= aside sin, squared; a hair to spare for rounding.
                    *keep = along * along * cos * cos <= aside_sq * sin * sin + 1e-12;
                }
            }
        }
    }

    /// The outermost points along `directions`, both ways, each once, in input order.
    pub(crate) fn outermost(&self, directions: &[[f64; 3]]) -> Self {
        let mut kept = vec![false; self.len];
        for three in directions.chunks(3) {
            let rows: Rows = std::array::from_fn(|i| three[i.min(three.len() - 1)]);
            if self.len > 0 {
                self.ends(&rows).as_flattened().iter().for_each(|&i| kept[i] = true);
            }
        }
        self.only(&kept)
    }

    /// The points marked, in order.
    pub(crate) fn only(&self, marked: &[bool]) -> Self {
        Self::new((0..self.len).filter(|&i| marked[i]).map(|i| self.get(i)))
    }

    /// A long distance between two of the points: at least 1 / sqrt(3) of the longest, mostly all of it.
    pub(crate) fn long_distance_mm(&self) -> f64 {
        let farthest = |from: [f64; 3]| {
            self.iter().fold((0.0, from), |best, p| {
                let away = vec3::length(vec3::sub(p, from));
                if away > best.0 { (away, p) } else { best }
            })
        };
        let mut longest = 0.0;
        for axis in 0..3 {
            let Some(mut from) = self.iter().max_by(|p, q| p[axis].total_cmp(&q[axis])) else { continue };
            // Walking to the farthest a few times climbs to a locally longest distance.
            for _ in 0..4 {
                let (away, to) = farthest(from);
                longest = f64::max(longest, away);
                from = to;
            }
        }
        longest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::turn;

    fn cloud(n: u32) -> Points {
        // A spiral on an egg: no two points alike, no symmetry.
        Points::new((0..n).map(|i| {
            let t = f64::from(i) * 2.399;
            let z = 1.0 - 2.0 * (f64::from(i) + 0.5) / f64::from(n);
            let r = (1.0 - z * z).sqrt();
            [80.0 * r * libm::cos(t), 50.0 * r * libm::sin(t), 120.0 * z + 10.0 * r]
        }))
    }

    #[test]
    fn extents_equal_those_of_the_turned_points() {
        let points = cloud(301);
        let rows = turn::from_rodrigues([0.3, 0.1, -0.4]);
        let turned: Vec<_> = points.iter().map(|p| turn::apply(&rows, p)).collect();
        let extents = points.extents(&rows);
        let pairs = points.pairs(&rows, 0.2);
        for axis in 0..3 {
            let high = turned.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
            let low = turned.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
            assert!((extents[axis] - (high - low)).abs() < 1e-12);
            assert!((vec3::dot(rows[axis], pairs[axis][0]) - extents[axis]).abs() < 1e-12);
        }
        assert_eq!(Points::default().extents(&rows), [0.0; 3]);
    }

    #[test]
    fn the_outermost_points_are_the_first_of_the_farthest() {
        let egg = cloud(303);
        // Every point twice: of equal ones the first counts.
        let twice = Points::new(egg.iter().chain(egg.iter()));
        for turn in [[0.3, 0.1, -0.4], [0.0, 0.0, 0.0], [-0.2, 0.7, 0.1]] {
            let rows = turn::from_rodrigues(turn);
            for (row, [high, low]) in rows.iter().zip(twice.ends(&rows)) {
                let along: Vec<f64> = twice.iter().map(|p| vec3::dot(*row, p)).collect();
                let farthest = |sign: f64| {
                    let best = along.iter().map(|&d| sign * d).fold(f64::NEG_INFINITY, f64::max);
                    along.iter().position(|&d| sign * d == best)
                };
                assert_eq!((Some(high), Some(low)), (farthest(1.0), farthest(-1.0)));
            }
        }
        assert_eq!(Points::default().ends(&turn::IDENTITY), [[0, 0]; 3]);
    }

    #[test]
    fn dropping_points_far_from_the_edge_changes_no_extent_within_reach() {
        let points = cloud(1000);
        let rows = turn::from_rodrigues([0.2, -0.3, 0.1]);
        let near = points.near(&rows, 0.1);
        assert!(near.len() < 400, "{}", near.len());
        for i in 0..200u32 {
            let t = f64::from(i);
            let axis = vec3::unit([libm::sin(t), libm::cos(2.0 * t), libm::sin(3.0 * t + 1.0)]).unwrap();
            let turned = turn::turned(&rows, vec3::scale(axis, 0.1 * f64::from(i % 11) / 10.0));
            assert_eq!(points.extents(&turned), near.extents(&turned));
        }
    }

    #[test]
    fn the_long_distance_is_the_longest_of_an_egg() {
        let points = cloud(400);
        let mut longest: f64 = 0.0;
        for p in points.iter() {
            longest = points.iter().map(|q| vec3::length(vec3::sub(p, q))).fold(longest, f64::max);
        }
        assert!((points.long_distance_mm() - longest).abs() < 1e-9);
    }
}
