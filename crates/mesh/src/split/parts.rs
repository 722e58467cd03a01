//! What a cut is made of: the plane its cap is drawn in, a side under construction, net lines.

use crate::assemble;
use crate::edges::edge_key;
use crate::grid::GridPoint;
use crate::solid::Solid;

/// The coordinate plane a cap is triangulated in: two axes, in the order that keeps the sense of
/// turning as seen from above the cut.
pub(super) struct Frame {
    axes: [usize; 2],
}

impl Frame {
    pub fn of(normal: [f64; 3]) -> Self {
        let most = (0..3).max_by(|&i, &j| normal[i].abs().total_cmp(&normal[j].abs())).unwrap_or(2);
        let (a, b) = ((most + 1) % 3, (most + 2) % 3);
        Self { axes: if normal[most] > 0.0 { [a, b] } else { [b, a] } }
    }

    pub fn flat(&self, p: GridPoint) -> [i32; 2] {
        [p[self.axes[0]], p[self.axes[1]]]
    }

    /// The point over a place in the plane, at a height along the third axis.
    pub fn lift(&self, place: [i32; 2], height: i32) -> GridPoint {
        let mut point = [height; 3];
        point[self.axes[0]] = place[0];
        point[self.axes[1]] = place[1];
        point
    }
}

/// One side under construction.
pub(super) struct Half {
    pub points: Vec<GridPoint>,
    pub triangles: Vec<[u32; 3]>,
    pub origin: Vec<u32>,
    pub group_ends: Vec<u32>,
    /// Corners of triangles that fell together and were not laid.
    pub may_be_unused: Vec<u32>,
}

impl Half {
    /// With room for about `n_triangles`.
    pub fn new(points: Vec<GridPoint>, n_triangles: usize) -> Self {
        Self {
            points,
            triangles: Vec::with_capacity(n_triangles),
            origin: Vec::with_capacity(n_triangles),
            group_ends: Vec::new(),
            may_be_unused: Vec::new(),
        }
    }

    /// Drops points that no triangle uses: they would stick out of the hull by a step or two. Returns
    /// the new index of each point, or `u32::MAX`; `None` where nothing changed.
    pub fn drop_unused_points(&mut self) -> Option<Vec<u32>> {
        if self.may_be_unused.is_empty() {
            return None;
        }
        let mut is_used = vec![false; self.points.len()];
        self.triangles.iter().flatten().for_each(|&point| is_used[point as usize] = true);
        if self.may_be_unused.iter().all(|&point| is_used[point as usize]) {
            return None;
        }
        let mut n_used = 0;
        let renamed: Vec<u32> = is_used
            .iter()
            .map(|&used| {
                n_used += u32::from(used);
                if used { n_used - 1 } else { u32::MAX }
            })
            .collect();
        let mut index = 0;
        self.points.retain(|_| {
            index += 1;
            is_used[index - 1]
        });
        self.triangles.iter_mut().flatten().for_each(|point| *point = renamed[*point as usize]);
        Some(renamed)
    }

    /// Removes triangles; `gone` is per triangle from `start` on.
    pub fn remove(&mut self, start: usize, gone: &[bool]) {
        let stays = |index: usize| index < start || !gone[index - start];
        let mut index = 0;
        self.triangles.retain(|_| {
            index += 1;
            stays(index - 1)
        });
        index = 0;
        self.origin.retain(|_| {
            index += 1;
            stays(index - 1)
        });
    }

    /// Puts other triangles in the place of those listed, ascending; all of the last group. `names`
    /// are the indices here of the points that `triangles` uses.
    pub fn replace(&mut self, list: &[u32], triangles: &[[u32; 3]], origin: &[u32], names: &[u32]) {
        let named = triangles.iter().map(|t| t.map(|point| names[point as usize]));
        let mut fresh = named.zip(origin.iter().copied());
        let mut gone: Vec<u32> = Vec::new();
        for &number in list {
            match fresh.next() {
                Some((t, origin)) => {
                    self.triangles[number as usize] = t;
                    self.origin[number as usize] = origin;
                }
                None => gone.push(number),
            }
        }
        for (t, origin) in fresh {
            self.triangles.push(t);
            self.origin.push(origin);
        }
        // From the last, so that what takes a place is never itself to go.
        for &number in gone.iter().rev() {
            self.triangles.swap_remove(number as usize);
            self.origin.swap_remove(number as usize);
        }
    }

    pub fn finish(self, again: bool) -> Option<Solid> {
        if self.triangles.is_empty() {
            return None;
        }
        if again {
            // Cannot fail on edges: both sides were closed, and joining points keeps edges balanced.
            // A side made of nothing but flat slivers is no side at all.
            let slivers = assemble::Slivers::Drop;
            return assemble::assemble(&self.points, &self.triangles, &self.origin, slivers)
                .ok()
                .map(|made| made.0);
        }
        let Self { points, triangles, origin, group_ends, .. } = self;
        Some(Solid::of(points, triangles, origin, group_ends))
    }
}

/// Lines left after opposite ones cancel, as (from, to, how often).
pub(super) fn net_lines(lines: impl Iterator<Item = (u32, u32, i32)>) -> Vec<(u32, u32, i32)> {
    let mut sorted: Vec<(u64, i32)> =
        lines.map(|(a, b, times)| (edge_key(a, b), if a < b { times } else { -times })).collect();
    sorted.sort_unstable();
    let mut net = Vec::new();
    for same in sorted.chunk_by(|a, b| a.0 == b.0) {
        let forward: i32 = same.iter().map(|line| line.1).sum();
        let (low, high) = ((same[0].0 >> 32) as u32, same[0].0 as u32);
        if forward > 0 {
            net.push((low, high, forward));
        } else if forward < 0 {
            net.push((high, low, -forward));
        }
    }
    net
}
