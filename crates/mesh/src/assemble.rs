//! From loose triangles on the grid to a proved [`Solid`].
//!
//! How: join equal points, drop what has no area or cancels, check that edges pair up, move edges
//! that only touch apart, give every pinched vertex one copy per fan, sort triangles by group.
//! Cost: O(n log n), three sorts of the edge list at most in the common case.
//! Not here: filling holes, turning faces (mending).

use crate::bodies;
use crate::edges::{self, EdgeUse, Joined, QuickMap, QuickSet};
use crate::grid::{self, GridPoint};
use crate::model::Notice;
use crate::solid::{NotSolid, Solid};
use crate::vec3;

/// How far edges that only touch are moved apart, in grid steps: 0.002 mm, far below what a
/// printer resolves and eight steps, so that the f32 points of a file stay different.
const APART_STEPS: f64 = 0.002 * grid::STEPS_PER_MM;

/// A touching edge shorter than this is drawn together to a point instead: between points so near,
/// moved middles would fall on each other.
const SHORT_STEPS: f64 = 6.0 * APART_STEPS;

/// Passes of moving touching edges apart; each pass handles every triangle once.
const APART_PASSES: usize = 100;

/// How many places a notice lists.
const PLACES: usize = 8;

/// What to do with bodies that enclose nothing or less and lie in no other body.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Slivers {
    /// The surface faces inward: refuse the mesh.
    Refuse,
    /// They are left over from a cut that runs along a face within a grid step: drop them.
    Drop,
}

/// Builds a solid or says why not. `origin` is per triangle.
pub(crate) fn assemble(
    points: &[GridPoint],
    triangles: &[[u32; 3]],
    origin: &[u16],
    slivers: Slivers,
) -> Result<(Solid, Vec<Notice>), NotSolid> {
    let mut notices = Vec::new();
    let mut mesh = Loose::default();
    mesh.join_points(points, triangles, origin, &mut notices);
    mesh.drop_cancelling(&mut notices);
    if mesh.triangles.is_empty() {
        return Err(NotSolid::Empty);
    }
    let mut uses = edges::edge_uses(&mesh.triangles);
    mesh.check_pairs(&uses)?;
    let mut moved = Vec::new();
    for _ in 0..APART_PASSES {
        let changed = mesh.draw_short_touching_together(&uses) || mesh.move_touching_apart(&uses, &mut moved);
        if !changed {
            break;
        }
        // Either may have put points on each other.
        let loose = std::mem::take(&mut mesh);
        mesh.join_points(&loose.points, &loose.triangles, &loose.origin, &mut Vec::new());
        mesh.drop_cancelling(&mut Vec::new());
        uses = edges::edge_uses(&mesh.triangles);
    }
    if mesh.triangles.is_empty() {
        return Err(NotSolid::Empty);
    }
    if !moved.is_empty() {
        notices.push(Notice {
            code: "touching-edges",
            text: "edges where the surface only touches itself were moved apart by 0.002 mm".into(),
            count: moved.len(),
            at_mm: moved.iter().take(PLACES).copied().collect(),
        });
    }
    mesh.split_pinched(&uses);
    bodies::into_groups(mesh.points, mesh.triangles, mesh.origin, slivers).map(|solid| (solid, notices))
}

#[derive(Default)]
struct Loose {
    points: Vec<GridPoint>,
    triangles: Vec<[u32; 3]>,
    origin: Vec<u16>,
}

impl Loose {
    /// Joins equal points, in order of first use; drops triangles with a corner twice.
    fn join_points(
        &mut self,
        points: &[GridPoint],
        triangles: &[[u32; 3]],
        origin: &[u16],
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

    /// Drops pairs of triangles over the same corners that face opposite ways: they enclose nothing.
    fn drop_cancelling(&mut self, notices: &mut Vec<Notice>) {
        let turned = |t: [u32; 3]| -> ([u32; 3], bool) {
            let least = (0..3).min_by_key(|&i| t[i]).unwrap_or(0);
            let [a, b, c] = [t[least], t[(least + 1) % 3], t[(least + 2) % 3]];
            if b < c { ([a, b, c], true) } else { ([a, c, b], false) }
        };
        let mut order: Vec<([u32; 3], bool, u32)> = self
            .triangles
            .iter()
            .enumerate()
            .map(|(index, &t)| {
                let (key, even) = turned(t);
                (key, even, index as u32)
            })
            .collect();
        order.sort_unstable();
        let mut gone = vec![false; self.triangles.len()];
        let mut count = 0;
        for same in order.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() > 1) {
            let n_odd = same.iter().take_while(|entry| !entry.1).count();
            let n_pairs = n_odd.min(same.len() - n_odd);
            for pair in 0..n_pairs {
                gone[same[pair].2 as usize] = true;
                gone[same[n_odd + pair].2 as usize] = true;
            }
            count += n_pairs;
        }
        if count == 0 {
            return;
        }
        let mut index = 0;
        let mut keep = |_: &[u32; 3]| {
            index += 1;
            !gone[index - 1]
        };
        self.triangles.retain(&mut keep);
        let mut index = 0;
        self.origin.retain(|_| {
            index += 1;
            !gone[index - 1]
        });
        notices.push(Notice {
            code: "cancelling-triangles",
            text: "pairs of triangles that lie on each other and face opposite ways were dropped".into(),
            count,
            at_mm: Vec::new(),
        });
    }

    fn middle_mm(&self, key: u64) -> [f64; 3] {
        let ends = [self.points[(key >> 32) as usize], self.points[key as u32 as usize]];
        vec3::scale(vec3::add(grid::to_mm(ends[0]), grid::to_mm(ends[1])), 0.5)
    }

    /// Every edge must be run as often one way as the other.
    fn check_pairs(&self, uses: &[EdgeUse]) -> Result<(), NotSolid> {
        let (mut open, mut twisted) = (Vec::new(), Vec::new());
        for run in edges::runs(uses) {
            let n_forward = run.iter().filter(|u| u.forward(&self.triangles)).count();
            if 2 * n_forward != run.len() {
                let list = if run.len() % 2 == 1 { &mut open } else { &mut twisted };
                list.push(run[0].key);
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

    /// Gives both ends of every short touching edge the same place. Returns whether any was found;
    /// joining points then keeps every edge balanced.
    fn draw_short_touching_together(&mut self, uses: &[EdgeUse]) -> bool {
        let mut found = false;
        for run in edges::runs(uses).filter(|run| run.len() > 2) {
            let [low, high] = [run[0].low(), run[0].high()].map(|i| self.points[i as usize]);
            let squared: f64 = (0..3)
                .map(|i| {
                    let step = f64::from(high[i]) - f64::from(low[i]);
                    step * step
                })
                .sum();
            if squared < SHORT_STEPS * SHORT_STEPS {
                self.points[run[0].high() as usize] = low;
                found = true;
            }
        }
        found
    }

    /// Where an edge has four or more triangles, gives each wedge of material its own middle point,
    /// moved into the wedge. Returns whether any edge was found.
    fn move_touching_apart(&mut self, uses: &[EdgeUse], moved: &mut Vec<[f64; 3]>) -> bool {
        let mut found = false;
        let mut busy = vec![false; self.triangles.len()];
        let mut taken: QuickSet<GridPoint> = if uses.chunk_by(|a, b| a.key == b.key).any(|run| run.len() > 2)
        {
            self.points.iter().copied().collect()
        } else {
            QuickSet::default()
        };
        for run in edges::runs(uses).filter(|run| run.len() > 2) {
            found = true;
            // A triangle split in this pass no longer has the edges listed: next pass.
            if run.iter().any(|u| busy[u.triangle()]) {
                continue;
            }
            for u in run {
                busy[u.triangle()] = true;
            }
            moved.push(self.middle_mm(run[0].key));
            for (back, front, inward) in self.wedges(run) {
                let (low, high) = (run[0].low(), run[0].high());
                let ends = [low, high].map(|i| self.points[i as usize].map(f64::from));
                let place = |along: f64| -> GridPoint {
                    std::array::from_fn(|axis| {
                        let on_edge = ends[0][axis] + along * (ends[1][axis] - ends[0][axis]);
                        (on_edge + inward[axis] * APART_STEPS).round() as i32
                    })
                };
                // The middle, or beside it where a point of the mesh or of a wedge that lies on this
                // one is already there.
                let free = [0.5, 0.4, 0.6, 0.3, 0.7].map(place).into_iter().find(|p| !taken.contains(p));
                let point = free.unwrap_or_else(|| place(0.5));
                taken.insert(point);
                let at = self.points.len() as u32;
                self.points.push(point);
                for side in [back, front] {
                    let (triangle, corner) = (side.triangle(), side.corner());
                    let t = self.triangles[triangle];
                    let (a, b, c) = (t[corner], t[(corner + 1) % 3], t[(corner + 2) % 3]);
                    self.triangles[triangle] = [a, at, c];
                    self.triangles.push([at, b, c]);
                    self.origin.push(self.origin[triangle]);
                }
            }
        }
        found
    }

    /// The wedges of material round an edge: the triangle where each begins and ends, turning
    /// right-handed about the edge, and the unit direction through its middle.
    fn wedges(&self, run: &[EdgeUse]) -> Vec<(EdgeUse, EdgeUse, [f64; 3])> {
        let at = |i: u32| self.points[i as usize].map(f64::from);
        let (low, high) = (at(run[0].low()), at(run[0].high()));
        let Some(axis) = vec3::unit(vec3::sub(high, low)) else { return Vec::new() };
        let (u, v) = vec3::frame_of(axis);
        let mut around: Vec<(f64, bool, EdgeUse)> = run
            .iter()
            .map(|&side| {
                let apex = at(self.triangles[side.triangle()][(side.corner() + 2) % 3]);
                let out = vec3::sub(apex, low);
                let turn_rad = libm::atan2(vec3::dot(out, v), vec3::dot(out, u));
                (turn_rad, side.forward(&self.triangles), side)
            })
            .collect();
        around.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
        // Material lies behind a triangle that runs the edge forward: it ends a wedge, a backward
        // one begins it. Twice round, so that a wedge across the start of the circle is met too.
        let mut open: Vec<(f64, EdgeUse)> = Vec::new();
        let mut done: Vec<EdgeUse> = Vec::new();
        let mut wedges = Vec::new();
        for lap in 0..2 {
            for &(turn_rad, forward, side) in &around {
                if done.contains(&side) {
                    continue;
                }
                let turn_rad = turn_rad + std::f64::consts::TAU * f64::from(lap);
                if !forward {
                    if lap == 0 {
                        open.push((turn_rad, side));
                    }
                } else if let Some((start_rad, back)) = open.pop() {
                    let middle_rad = (start_rad + turn_rad) / 2.0;
                    let inward = vec3::add(
                        vec3::scale(u, libm::cos(middle_rad)),
                        vec3::scale(v, libm::sin(middle_rad)),
                    );
                    done.extend([back, side]);
                    wedges.push((back, side, inward));
                }
            }
        }
        wedges
    }

    /// Gives every vertex whose triangles form several fans one copy per fan, so that two bodies
    /// meeting in a point are apart.
    fn split_pinched(&mut self, uses: &[EdgeUse]) {
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
