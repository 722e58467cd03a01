//! Points in cubes of one side, to find those near a place.
//!
//! Exact: every point within one side of a place is found, with others up to two sides away.
//! The cubes are looked up and never walked, so the order of what is found is that of the points
//! within each cube and fixed from cube to cube.

use crate::edges::QuickMap;

/// Cubes of side `side_mm` that hold indices of points.
pub struct Buckets {
    side_mm: f64,
    /// Start and end in `order` per cube.
    cubes: QuickMap<u64, (u32, u32)>,
    order: Vec<u32>,
}

/// What lies near the last place asked for; asking again from the same cube costs nothing.
#[derive(Default)]
pub struct Nearby {
    cube: Option<[i64; 3]>,
    /// Indices of the points found.
    pub found: Vec<u32>,
}

impl Buckets {
    /// Puts points into cubes.
    pub fn new(places_mm: impl Iterator<Item = [f64; 3]>, side_mm: f64) -> Self {
        let mut keyed: Vec<(u64, u32)> =
            places_mm.zip(0..).map(|(place, index)| (key(cube_of(place, side_mm)), index)).collect();
        keyed.sort_unstable();
        let mut cubes = QuickMap::default();
        let mut start = 0;
        for run in keyed.chunk_by(|a, b| a.0 == b.0) {
            cubes.insert(run[0].0, (start, start + run.len() as u32));
            start += run.len() as u32;
        }
        Self { side_mm, cubes, order: keyed.into_iter().map(|(_, index)| index).collect() }
    }

    /// All points, those of one cube together.
    pub fn in_order(&self) -> &[u32] {
        &self.order
    }

    /// Finds the points of the cube that holds `place_mm` and of the 26 around it.
    pub fn gather(&self, place_mm: [f64; 3], nearby: &mut Nearby) {
        let middle = cube_of(place_mm, self.side_mm);
        if nearby.cube == Some(middle) {
            return;
        }
        nearby.cube = Some(middle);
        nearby.found.clear();
        for x in -1..=1 {
            for y in -1..=1 {
                for z in -1..=1 {
                    let cube = [middle[0] + x, middle[1] + y, middle[2] + z];
                    if let Some(&(start, end)) = self.cubes.get(&key(cube)) {
                        nearby.found.extend_from_slice(&self.order[start as usize..end as usize]);
                    }
                }
            }
        }
    }
}

impl Buckets {
    /// Visits every point within `radius_mm`, and others near it.
    pub fn each_near(&self, place_mm: [f64; 3], radius_mm: f64, mut visit: impl FnMut(u32)) {
        let low = cube_of(place_mm.map(|x| x - radius_mm), self.side_mm);
        let high = cube_of(place_mm.map(|x| x + radius_mm), self.side_mm);
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    if let Some(&(start, end)) = self.cubes.get(&key([x, y, z])) {
                        self.order[start as usize..end as usize].iter().for_each(|&index| visit(index));
                    }
                }
            }
        }
    }
}

/// The cube of a place.
pub(crate) fn cube_of(place_mm: [f64; 3], side_mm: f64) -> [i64; 3] {
    place_mm.map(|mm| (mm / side_mm).floor() as i64)
}

/// One number for a cube: 21 bits an axis, enough for cubes of 0.01 mm over the 4096 mm of a solid.
pub(crate) fn key(cube: [i64; 3]) -> u64 {
    cube.iter().fold(0, |key, &at| (key << 21) | ((at + (1 << 20)) as u64 & 0x1F_FFFF))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vec3;

    #[test]
    fn every_point_within_one_side_is_found_once() {
        arbtest::arbtest(|u| {
            let mut coordinate = || Ok(f64::from(u.int_in_range(-5000..=5000_i32)?) / 100.0);
            let mut points = Vec::new();
            for _ in 0..200 {
                points.push([coordinate()?, coordinate()?, coordinate()?]);
            }
            let buckets = Buckets::new(points.iter().copied(), 17.0);
            let mut nearby = Nearby::default();
            for &place in &points {
                buckets.gather(place, &mut nearby);
                let mut found = nearby.found.clone();
                found.sort_unstable();
                assert!(found.windows(2).all(|w| w[0] < w[1]));
                for (index, &point) in points.iter().enumerate() {
                    let near = vec3::length(vec3::sub(point, place)) <= 17.0;
                    assert!(!near || found.binary_search(&(index as u32)).is_ok());
                }
            }
            Ok(())
        });
    }
}
