//! Edges in which a surface touches itself: short ones are drawn together, long ones moved apart.
//!
//! How: an edge with four or more triangles has as many wedges of material round it as pairs of
//! triangles; each wedge gets a middle point of its own, a little inside it.
//! Units: grid steps.

use crate::edges::{self, EdgeUse, QuickMap, QuickSet};
use crate::grid::{self, GridPoint};
use crate::loose::Loose;
use crate::solid::is_cut;
use crate::vec3;

/// How far edges that only touch are moved apart, in grid steps: 0.002 mm, far below what a
/// printer resolves and eight steps, so that the f32 points of a file stay different.
const APART_STEPS: f64 = 0.002 * grid::STEPS_PER_MM;

/// A touching edge shorter than this is drawn together to a point instead: between points so near,
/// moved middles would fall on each other.
pub(crate) const SHORT_STEPS: f64 = 6.0 * APART_STEPS;

/// Passes of moving touching edges apart; each pass handles every triangle once.
pub(crate) const APART_PASSES: usize = 100;

impl Loose {
    /// One pass over the edges in which the surface touches itself. Returns whether there were any;
    /// either way of mending may put points on each other.
    pub fn mend_touching(&mut self, uses: &[EdgeUse], moved: &mut Vec<[f64; 3]>) -> bool {
        self.draw_short_touching_together(uses) || self.move_touching_apart(uses, moved)
    }

    /// Makes both ends of every short touching edge one point. Returns whether any was found.
    fn draw_short_touching_together(&mut self, uses: &[EdgeUse]) -> bool {
        let length2 = |run: &[EdgeUse]| -> f64 {
            let [low, high] = [run[0].low(), run[0].high()].map(|i| self.points[i as usize].map(f64::from));
            let along = vec3::sub(high, low);
            vec3::dot(along, along)
        };
        let is_short = |run: &&[EdgeUse]| run.len() > 2 && length2(run) < SHORT_STEPS * SHORT_STEPS;
        let short: Vec<[u32; 2]> =
            edges::runs(uses).filter(is_short).map(|run| [run[0].low(), run[0].high()]).collect();
        if short.is_empty() {
            return false;
        }
        // The end that lies in more cuts stays: the other would bend their faces.
        let mut cuts: QuickMap<u32, Vec<u32>> = short.iter().flatten().map(|&p| (p, Vec::new())).collect();
        for (t, &origin) in self.triangles.iter().zip(&self.origin).filter(|&(_, &origin)| is_cut(origin)) {
            for corner in t {
                if let Some(list) = cuts.get_mut(corner)
                    && !list.contains(&origin)
                {
                    list.push(origin);
                }
            }
        }
        let rank = |p: u32| (self.is_fixed(p), cuts.get(&p).map_or(0, Vec::len));
        let mut renamed: QuickMap<u32, u32> = QuickMap::default();
        for ends in short {
            let [low, high] = ends.map(|p| last_name(&renamed, p));
            if low != high && !(self.is_fixed(low) && self.is_fixed(high)) {
                let (stays, goes) = if rank(high) > rank(low) { (high, low) } else { (low, high) };
                renamed.insert(goes, stays);
            }
        }
        self.rename(|p| last_name(&renamed, p));
        true
    }

    /// Where an edge has four or more triangles, gives each wedge of material its own middle point,
    /// moved into the wedge. Returns whether any edge was found.
    fn move_touching_apart(&mut self, uses: &[EdgeUse], moved: &mut Vec<[f64; 3]>) -> bool {
        let mut found = false;
        let mut busy = vec![false; self.triangles.len()];
        let mut taken: QuickSet<GridPoint> =
            if uses.chunk_by(|a, b| a.key() == b.key()).any(|run| run.len() > 2) {
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
            moved.push(self.middle_mm(run[0].key()));
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
}

fn last_name(renamed: &QuickMap<u32, u32>, mut point: u32) -> u32 {
    while let Some(&next) = renamed.get(&point) {
        point = next;
    }
    point
}
