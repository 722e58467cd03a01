//! Triangles on the grid on their way to a solid: joining points, dropping what encloses nothing.
//!
//! Used for a whole mesh (`assemble.rs`) and for the triangles beside a cut (`split/touching.rs`),
//! some of whose points triangles elsewhere use too.
//! Not here: edges the surface touches itself in (`apart.rs`).

use crate::edges::{self, EdgeUse, Joined, QuickMap};
use crate::grid::{self, GridPoint};
use crate::model::Notice;
use crate::solid::NotSolid;
use crate::vec3;

/// How many places a notice lists.
pub(crate) const PLACES: usize = 8;

/// Triangles that are not a solid yet; see the file header.
#[derive(Default)]
pub(crate) struct Loose {
    pub points: Vec<GridPoint>,
    pub triangles: Vec<[u32; 3]>,
    /// Per triangle.
    pub origin: Vec<u32>,
    /// Points that triangles elsewhere use too, in a part of a mesh; may be shorter than `points`.
    pub fixed: Vec<bool>,
}

impl Loose {
    /// Joins equal points, in order of first use; drops triangles with a corner twice.
    pub fn join_points(
        &mut self,
        points: &[GridPoint],
        triangles: &[[u32; 3]],
        origin: &[u32],
        notices: &mut Vec<Notice>,
    ) {
        let mut known: QuickMap<GridPoint, u32> = QuickMap::default();
        known.reserve(points.len().min(triangles.len()));
        let mut renamed = vec![u32::MAX; points.len()];
        let mut dropped = Vec::new();
        for (index, t) in triangles.iter().enumerate() {
            let corners = t.map(|old| {
                let slot = &mut renamed[old as usize];
                if *slot == u32::MAX {
                    let point = points[old as usize];
                    let next = self.points.len() as u32;
                    *slot = *known.entry(point).or_insert(next);
                    if *slot == next {
                        self.points.push(point);
                    }
                }
                *slot
            });
            let [a, b, c] = corners;
            if a == b || b == c || c == a {
                dropped.push(grid::to_mm(self.points[a as usize]));
            } else {
                self.triangles.push(corners);
                self.origin.push(origin[index]);
            }
        }
        if !dropped.is_empty() {
            notices.push(Notice {
                code: "degenerate-triangles",
                text: "triangles without three different corners were dropped".into(),
                count: dropped.len(),
                at_mm: dropped.into_iter().take(PLACES).collect(),
            });
        }
    }

    /// Gives free points at one place one name and drops triangles with a corner twice; indices
    /// stay.
    pub fn join_free_points(&mut self) {
        let mut known: QuickMap<GridPoint, u32> = QuickMap::default();
        let names: Vec<u32> = (0..self.points.len() as u32)
            .map(|i| if self.is_fixed(i) { i } else { *known.entry(self.points[i as usize]).or_insert(i) })
            .collect();
        self.rename(|i| names[i as usize]);
    }

    /// Whether triangles elsewhere use the point.
    pub fn is_fixed(&self, point: u32) -> bool {
        self.fixed.get(point as usize).copied().unwrap_or(false)
    }

    /// Whether some triangles close by themselves: a body, if only in name, that may meet others in
    /// points but shares no edge with them.
    pub fn has_closed_part(&self, uses: &[EdgeUse]) -> bool {
        let mut joined = Joined::new(self.triangles.len());
        for run in edges::runs(uses) {
            run.iter().skip(1).for_each(|u| joined.join(run[0].triangle() as u32, u.triangle() as u32));
        }
        let mut is_open = vec![false; self.triangles.len()];
        for run in edges::runs(uses).filter(|run| run.len() == 1) {
            is_open[joined.find(run[0].triangle() as u32) as usize] = true;
        }
        (0..self.triangles.len() as u32).any(|triangle| !is_open[joined.find(triangle) as usize])
    }

    /// Gives points new names; triangles with a corner twice are dropped.
    pub fn rename(&mut self, name: impl Fn(u32) -> u32) {
        self.triangles.iter_mut().flatten().for_each(|point| *point = name(*point));
        let stays: Vec<bool> = self.triangles.iter().map(|&[a, b, c]| a != b && b != c && c != a).collect();
        self.keep(&stays);
    }

    fn keep(&mut self, stays: &[bool]) {
        let mut at = stays.iter();
        self.triangles.retain(|_| at.next().copied().unwrap_or(true));
        let mut at = stays.iter();
        self.origin.retain(|_| at.next().copied().unwrap_or(true));
    }

    /// Drops pairs of triangles over the same corners that face opposite ways: they enclose nothing.
    pub fn drop_cancelling(&mut self, notices: &mut Vec<Notice>) {
        let turned = |t: [u32; 3]| -> ([u32; 3], bool) {
            let least = (0..3).min_by_key(|&i| t[i]).unwrap_or(0);
            let [a, b, c] = [t[least], t[(least + 1) % 3], t[(least + 2) % 3]];
            if b < c { ([a, b, c], true) } else { ([a, c, b], false) }
        };
        let order: Vec<([u32; 3], bool, u32)> = self
            .triangles
            .iter()
            .enumerate()
            .map(|(index, &t)| {
                let (key, even) = turned(t);
                (key, even, index as u32)
            })
            .collect();
        let order = edges::sort_by_point(&order, |entry| entry.0[0]);
        let mut stays = vec![true; self.triangles.len()];
        let mut count = 0;
        for same in order.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() > 1) {
            let n_odd = same.iter().take_while(|entry| !entry.1).count();
            let n_pairs = n_odd.min(same.len() - n_odd);
            for pair in 0..n_pairs {
                stays[same[pair].2 as usize] = false;
                stays[same[n_odd + pair].2 as usize] = false;
            }
            count += n_pairs;
        }
        if count == 0 {
            return;
        }
        self.keep(&stays);
        notices.push(Notice {
            code: "cancelling-triangles",
            text: "pairs of triangles that lie on each other and face opposite ways were dropped".into(),
            count,
            at_mm: Vec::new(),
        });
    }

    /// The middle of the edge with this key.
    pub fn middle_mm(&self, key: u64) -> [f64; 3] {
        let ends = [self.points[(key >> 32) as usize], self.points[key as u32 as usize]];
        vec3::scale(vec3::add(grid::to_mm(ends[0]), grid::to_mm(ends[1])), 0.5)
    }

    /// Every edge must be run as often one way as the other.
    pub fn check_pairs(&self, uses: &[EdgeUse]) -> Result<(), NotSolid> {
        let (mut open, mut twisted) = (Vec::new(), Vec::new());
        for run in edges::runs(uses) {
            let n_forward = run.iter().filter(|u| u.forward(&self.triangles)).count();
            if 2 * n_forward != run.len() {
                let list = if run.len() % 2 == 1 { &mut open } else { &mut twisted };
                list.push(run[0].key());
            }
        }
        if let Some(&first) = open.first() {
            return Err(NotSolid::Open { count: open.len(), at_mm: self.middle_mm(first) });
        }
        if let Some(&first) = twisted.first() {
            return Err(NotSolid::Twisted { count: twisted.len(), at_mm: self.middle_mm(first) });
        }
        Ok(())
    }

    /// Gives every vertex whose triangles form several fans one copy per fan, so that two bodies
    /// meeting in a point are apart.
    pub fn split_pinched(&mut self, uses: &[EdgeUse]) {
        let mut fans = Joined::new(self.triangles.len() * 3);
        for run in edges::runs(uses) {
            let [a, b] = [run[0], run[1]];
            let corner_at = |u: EdgeUse, point: u32| -> u32 {
                let t = self.triangles[u.triangle()];
                let corner = (0..3).find(|&i| t[i] == point).unwrap_or(0);
                (u.triangle() * 3 + corner) as u32
            };
            for point in [a.low(), a.high()] {
                fans.join(corner_at(a, point), corner_at(b, point));
            }
        }
        // The first fan met keeps the point; later fans of the same point get a copy.
        let mut owner = vec![u32::MAX; self.points.len()];
        let mut copies: QuickMap<u32, u32> = QuickMap::default();
        for triangle in 0..self.triangles.len() {
            for corner in 0..3 {
                let point = self.triangles[triangle][corner];
                let fan = fans.find((triangle * 3 + corner) as u32);
                let slot = &mut owner[point as usize];
                if *slot == u32::MAX {
                    *slot = fan;
                } else if *slot != fan {
                    let copy = *copies.entry(fan).or_insert_with(|| {
                        self.points.push(self.points[point as usize]);
                        self.points.len() as u32 - 1
                    });
                    self.triangles[triangle][corner] = copy;
                }
            }
        }
    }
}
