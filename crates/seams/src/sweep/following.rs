//! The lumps of one side of a plane, followed as the plane moves.
//!
//! How: points join the side in the order in which the plane passes them; each joins the lumps of its
//! neighbours that are in already, or begins one. A lump's sums hold all its points and the triangles
//! passed whole; at a stop the triangles and edges that the plane crosses are added to copies.
//! Following the upper side is the same with heights negated, but for points on the plane: they are
//! above.

use super::reach::Reach;
use super::{Crossed, Lump, Sweep, bonds};
use seamwright_mesh::vec3;

/// No lump yet.
const NONE: u32 = u32::MAX;

/// One side being followed.
pub(super) struct Following<'a> {
    sweep: &'a Sweep<'a>,
    upward: bool,
    /// Points in the order they join, and each one's place in it.
    order: Vec<u32>,
    rank: Vec<u32>,
    /// Meetings of bodies by height, the first to join first.
    meetings: Vec<(f64, usize)>,
    n_points: usize,
    n_meetings: usize,
    /// A point's next one on the way to the point that stands for its lump.
    parents: Vec<u32>,
    /// Points that stand for lumps.
    live: Vec<u32>,
    sums: Vec<Sums>,
    /// Sums of a point's lump, by point.
    sums_of: Vec<u32>,
}

/// What is known of a lump apart from what the plane crosses.
#[derive(Clone, Default)]
struct Sums {
    reach: Reach,
    flux_mm3: f64,
    /// Area vectors along the normal.
    facing_mm2: f64,
}

impl<'a> Following<'a> {
    /// The lower side, or the upper.
    pub fn new(sweep: &'a Sweep<'a>, upper: bool) -> Self {
        let mut order = sweep.order.clone();
        if upper {
            order.reverse();
        }
        let mut rank = vec![0; order.len()];
        (0_u32..).zip(&order).for_each(|(place, &point)| rank[point as usize] = place);
        let sign = if upper { -1.0 } else { 1.0 };
        let height = |at: [f64; 3]| sign * vec3::dot(sweep.normal, at);
        let all = sweep.ready.meetings.iter().enumerate();
        let mut meetings: Vec<(f64, usize)> = all.map(|(i, bond)| (height(bond.at_mm), i)).collect();
        meetings.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let n = order.len();
        Self {
            sweep,
            upward: !upper,
            order,
            rank,
            meetings,
            n_points: 0,
            n_meetings: 0,
            parents: vec![NONE; n],
            live: Vec::new(),
            sums: Vec::new(),
            sums_of: vec![NONE; n],
        }
    }

    /// The lumps at each of the offsets, in the order in which the plane comes to them.
    pub fn at<'c>(mut self, stops: impl Iterator<Item = &'c Crossed>) -> Vec<Vec<Lump>> {
        let at = |crossed: &Crossed| {
            self.move_to(crossed.offset_mm);
            self.lumps(crossed)
        };
        stops.map(at).collect()
    }

    /// Takes in what the plane passes on its way.
    fn move_to(&mut self, offset_mm: f64) {
        while let Some(&point) = self.order.get(self.n_points) {
            let height_mm = self.sweep.heights_mm[point as usize];
            let passed = if self.upward { height_mm < offset_mm } else { height_mm >= offset_mm };
            if !passed {
                break;
            }
            self.take(point);
            self.n_points += 1;
        }
        let limit_mm = if self.upward { offset_mm } else { -offset_mm };
        while let Some(&(height_mm, index)) = self.meetings.get(self.n_meetings) {
            if height_mm >= limit_mm {
                break;
            }
            let bond = self.sweep.ready.meetings[index];
            self.n_meetings += 1;
            let [a, b] = bond.edge;
            let first = if self.rank[a as usize] < self.rank[b as usize] { a } else { b };
            let other = self.first_corner(bond.triangle as usize);
            // Rounding may bring a meeting at a corner up before the corner itself.
            if self.is_in(first) && self.is_in(other) {
                self.join(first, other);
            }
        }
    }

    fn is_in(&self, point: u32) -> bool {
        self.parents[point as usize] != NONE
    }

    /// The corner of a triangle that joins first.
    fn first_corner(&self, triangle: usize) -> u32 {
        let corners = self.sweep.chords[triangle].corners;
        if self.upward { corners[0] } else { corners[2] }
    }

    fn take(&mut self, point: u32) {
        let ready = self.sweep.ready;
        let along = &ready.projected[point as usize * ready.n_axes..][..ready.n_axes];
        self.parents[point as usize] = point;
        let mut begins = true;
        for &t in ready.around.of(point) {
            for neighbour in ready.solid.triangles()[t as usize] {
                if self.rank[neighbour as usize] < self.rank[point as usize] {
                    begins = false;
                    let root = self.find(neighbour);
                    if root != self.find(point) {
                        self.adopt(point, root, along);
                    }
                }
            }
        }
        if begins {
            self.sums_of[point as usize] = self.sums.len() as u32;
            self.sums.push(Sums { reach: Reach::of(along), ..Sums::default() });
            self.live.push(point);
            let down = if self.upward { self.sweep.normal } else { vec3::scale(self.sweep.normal, -1.0) };
            if let Some(floor) = bonds::floor_under(&ready.solid, &ready.tree, down, point) {
                let other = self.first_corner(floor);
                if self.is_in(other) {
                    self.join(point, other);
                }
            }
        }
        let root = self.find(point);
        let sums = &mut self.sums[self.sums_of[root as usize] as usize];
        for &t in ready.around.of(point) {
            let t = t as usize;
            let corners = self.sweep.chords[t].corners;
            if point == if self.upward { corners[2] } else { corners[0] } {
                sums.flux_mm3 += ready.fluxes_mm3[t];
                sums.facing_mm2 += vec3::dot(ready.areas_mm2[t], self.sweep.normal);
            }
        }
    }

    /// A new point joins a lump, with the lump it joined before if it did.
    fn adopt(&mut self, point: u32, root: u32, along: &[f32]) {
        let at_present = self.find(point);
        if self.sums_of[at_present as usize] != NONE {
            self.join(point, root);
            return;
        }
        self.parents[point as usize] = root;
        let sums = &mut self.sums[self.sums_of[root as usize] as usize];
        sums.reach.take(along);
    }

    fn join(&mut self, a: u32, b: u32) {
        let (kept, gone) = (self.find(a), self.find(b));
        if kept == gone {
            return;
        }
        self.parents[gone as usize] = kept;
        self.live.retain(|&root| root != gone);
        let theirs = std::mem::take(&mut self.sums[self.sums_of[gone as usize] as usize]);
        let sums = &mut self.sums[self.sums_of[kept as usize] as usize];
        sums.flux_mm3 += theirs.flux_mm3;
        sums.facing_mm2 += theirs.facing_mm2;
        sums.reach.join(&theirs.reach);
    }

    fn find(&mut self, mut point: u32) -> u32 {
        while self.parents[point as usize] != point {
            let next = self.parents[point as usize];
            self.parents[point as usize] = self.parents[next as usize];
            point = next;
        }
        point
    }

    /// The lumps as they are, with what the plane crosses.
    fn lumps(&mut self, crossed: &Crossed) -> Vec<Lump> {
        let ready = self.sweep.ready;
        let offset_mm = crossed.offset_mm;
        let of = |root: u32| self.sums[self.sums_of[root as usize] as usize].clone();
        let mut lumps: Vec<Sums> = self.live.iter().map(|&root| of(root)).collect();
        let mut last = (NONE, 0);
        let mut lump_of = |following: &mut Self, point: u32| {
            let root = following.find(point);
            if last.0 != root {
                let place = following.live.iter().position(|&live| live == root);
                last = (root, place.expect("the root of a point is live"));
            }
            last.1
        };
        for &t in &crossed.triangles {
            let t = t as usize;
            let below = self.sweep.chords[t].at(offset_mm).1;
            let share = if self.upward { below } else { 1.0 - below };
            let first = self.first_corner(t);
            let sums = &mut lumps[lump_of(self, first)];
            sums.flux_mm3 += share * ready.fluxes_mm3[t];
            sums.facing_mm2 += share * vec3::dot(ready.areas_mm2[t], self.sweep.normal);
        }
        for &[a, b] in &crossed.edges {
            let [from, to] = [a, b].map(|i| self.sweep.heights_mm[i as usize]);
            let first = if (from < offset_mm) == self.upward { a } else { b };
            let share = (offset_mm - from) / (to - from);
            let sums = &mut lumps[lump_of(self, first)];
            let [a, b] = [a, b].map(|i| &ready.projected[i as usize * ready.n_axes..][..ready.n_axes]);
            sums.reach.take_between(a, b, share as f32);
        }
        // Taken about a point of the plane, the cut face adds nothing to the volume.
        let finished = lumps.into_iter().map(|sums| Lump {
            volume_mm3: sums.flux_mm3 - offset_mm / 3.0 * sums.facing_mm2,
            section_mm2: sums.facing_mm2.abs(),
            reach: sums.reach,
        });
        finished.collect()
    }
}
