//! Plans that begin with a cover: boxes of a bed's size that hold the item, and the cheapest seams between what lies in
//! one and what lies in another, made straight.
//!
//! How: covers are drawn (`cover/boxes.rs`). Faces of the stand-in are labelled by the box they go to (`labels.rs`): what lies outside its box costs much, an edge between unlike faces what a seam along it costs,
//! and both skins of a wall hang together. Planes are fitted to the lines between labels, and a small beam cuts along
//! them; it slides them where it must.
//! One step draws a cover, offers a label or is one of the beam's.
//! Not here: making what is found better (`improve.rs`).

mod boxes;

use crate::beam::Beam;
use crate::cloud;
use crate::draw::Draw;
use crate::ground::Ground;
use crate::labels::Costs;
use crate::outline::Prefer;
use crate::partition::Partition;
use crate::portfolio;
use crate::seek::Seek;
use boxes::Placed;
use nalgebra::{Matrix3, SymmetricEigen};
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Plane, Solid, vec3};
use std::collections::BTreeMap;

/// Covers that are tried, and how many are made plans of (ours).
const N_TRIED: usize = 60;
const N_COVERS: usize = 6;

/// Of these the best (ours).
const N_KEPT: usize = 2;

/// Points that covers are found by (ours).
const N_POINTS: usize = 1_500;

/// Coarser meshes have no line that could follow anything (ours).
const LEAST_FACES: usize = 200;

/// What a face outside its box costs: mm of plain line for each mm it lies outside and each mm it is wide (ours).
const OUTSIDE: f64 = 10.0;

/// Skins no farther apart belong to one wall, mm; what it costs to part them, mm of plain line for each mm2 (ours).
const WALL_MM: f64 = 12.0;
const SKINS_PER_MM2: f64 = 0.3;

/// A line between labels is no line of a plane unless it spreads by so much two ways, mm (ours).
const SPREAD_MM: f64 = 3.0;

/// The search at work.
pub struct Covering {
    limit: usize,
    prefer: Prefer,
    draw: Draw,
    faces: Faces,
    /// About evenly spread over its surface.
    points_mm: Vec<[f64; 3]>,
    n_tried: usize,
    n_covers: usize,
    stage: Stage,
    found: Vec<Partition>,
    candidates: u64,
}

enum Stage {
    Next,
    Labelling { costs: Costs, labels: Vec<usize>, n_offered: usize, n_idle: usize },
    Cutting(Box<Beam>),
}

impl Covering {
    /// Will look for plans with fewer than `limit` pieces; `None` where the item cannot be labelled: what is
    /// marked, several lumps, very few faces.
    pub fn new(limit: usize, prefer: Prefer, draw: Draw, ground: &Ground) -> Option<Self> {
        let [part] = &ground.start().parts[..] else { return None };
        if !ground.marks.is_empty() || part.solid.n_triangles() < LEAST_FACES {
            return None;
        }
        let faces = Faces::of(&part.solid, ground)?;
        let all_mm = cloud::points_mm(part);
        let points_mm = all_mm.iter().copied().step_by(all_mm.len().div_ceil(N_POINTS).max(1)).collect();
        let (stage, found) = (Stage::Next, Vec::new());
        Some(Self {
            limit,
            prefer,
            draw,
            faces,
            points_mm,
            n_tried: 0,
            n_covers: 0,
            stage,
            found,
            candidates: 0,
        })
    }
}

impl Seek for Covering {
    fn step(&mut self, ground: &Ground) -> bool {
        match &mut self.stage {
            Stage::Next => {
                if self.n_tried == N_TRIED || self.n_covers == N_COVERS {
                    return false;
                }
                self.n_tried += 1;
                let (sizes_mm, own) = (&ground.boxes, ground.own_frame);
                // As many as the best plan has pieces, or one fewer.
                let most = self.limit.saturating_sub(1 + self.n_tried % 2);
                if let Some(boxes) = boxes::cover(&self.points_mm, sizes_mm, own, most, &mut self.draw) {
                    self.n_covers += 1;
                    let costs = self.faces.costs(&boxes);
                    let labels = costs.first();
                    self.stage = Stage::Labelling { costs, labels, n_offered: 0, n_idle: 0 };
                }
            }
            Stage::Labelling { costs, labels, n_offered, n_idle } => {
                let is_better = costs.offer(*n_offered % costs.n_labels, labels);
                *n_offered += 1;
                *n_idle = if is_better { 0 } else { *n_idle + 1 };
                if *n_idle >= costs.n_labels {
                    let planes = self.faces.planes(labels);
                    let mut settings = portfolio::settings(ground.seed, self.n_covers % 2, ground.own_frame);
                    settings.normals = planes.iter().map(|plane| plane.normal).collect();
                    settings.planes = planes;
                    let start = ground.start().clone();
                    self.stage =
                        Stage::Cutting(Box::new(Beam::new(start, settings, self.limit, self.prefer)));
                }
            }
            Stage::Cutting(beam) => {
                if !beam.step(ground) {
                    self.candidates += beam.candidates();
                    self.found.extend(beam.take_best());
                    self.found.sort_by(|a, b| a.outline().order(&b.outline(), self.prefer));
                    self.found.truncate(N_KEPT);
                    self.stage = Stage::Next;
                }
            }
        }
        true
    }

    fn take_found(&mut self) -> Vec<Partition> {
        std::mem::take(&mut self.found)
    }

    fn candidates(&self) -> u64 {
        match &self.stage {
            Stage::Cutting(beam) => self.candidates + beam.candidates(),
            _ => self.candidates,
        }
    }
}

/// The faces that are labelled.
struct Faces {
    corners_mm: Vec<[[f64; 3]; 3]>,
    /// Neighbours, the ends of the edge between them, and what a seam along it costs.
    edges: Vec<(u32, u32, [[f64; 3]; 2], f64)>,
    /// Faces on both skins of a wall, and what parting them costs.
    walls: Vec<(u32, u32, f64)>,
}

impl Faces {
    fn of(solid: &Solid, ground: &Ground) -> Option<Self> {
        let tree = Tree::new(solid.points_mm(), solid.triangles().to_vec())?;
        let n = solid.n_triangles();
        let corners_mm: Vec<[[f64; 3]; 3]> = (0..n).map(|face| solid.corners_mm(face)).collect();
        let middle = |[a, b, c]: &[[f64; 3]; 3]| vec3::scale(vec3::add(vec3::add(*a, *b), *c), 1.0 / 3.0);
        let middles_mm: Vec<[f64; 3]> = corners_mm.iter().map(middle).collect();
        let normal =
            |[a, b, c]: &[[f64; 3]; 3]| vec3::unit(vec3::cross(vec3::sub(*b, *a), vec3::sub(*c, *a)));
        let mut sides: BTreeMap<[u32; 2], (u32, usize)> = BTreeMap::new();
        let mut edges = Vec::new();
        for (face, corners) in (0_u32..).zip(solid.triangles()) {
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let Some((other, _)) = sides.insert([a.min(b), a.max(b)], (face, k)) else { continue };
                let of = &corners_mm[face as usize];
                let ends = [of[k], of[(k + 1) % 3]];
                let along = vec3::sub(ends[1], ends[0]);
                let Some(tangent) = vec3::unit(along) else { continue };
                // As a plane square to the skin would cut it.
                let per_mm = [face, other].map(|face| {
                    let skin = normal(&corners_mm[face as usize]).unwrap_or(tangent);
                    let square = vec3::unit(vec3::cross(tangent, skin)).unwrap_or(tangent);
                    ground.per_mm(solid, face as usize, tangent, square)
                });
                let cost = 0.5 * (per_mm[0] + per_mm[1]) * vec3::length(along);
                edges.push((face, other, ends, cost));
            }
        }
        let mut walls = Vec::new();
        for face in 0..n {
            let Some(normal) = normal(&corners_mm[face]) else { continue };
            // A little way in, so that the face itself is not met.
            let inward = vec3::scale(normal, -1.0);
            let start = vec3::add(middles_mm[face], vec3::scale(inward, 0.01));
            if let Some(hit) = tree.cast_ray(start, inward, WALL_MM).filter(|hit| hit.triangle != face) {
                let cost = SKINS_PER_MM2 * solid.triangle_area_mm2(face);
                walls.push((face as u32, hit.triangle as u32, cost));
            }
        }
        Some(Self { corners_mm, edges, walls })
    }

    fn costs(&self, boxes: &[Placed]) -> Costs {
        let own = self.corners_mm.iter().flat_map(|corners| {
            let wide_mm = vec3::length(vec3::sub(corners[1], corners[0]));
            let lack = move |held: &Placed| corners.iter().map(|&p| held.lack_mm(p)).fold(0.0, f64::max);
            boxes.iter().map(move |held| OUTSIDE * wide_mm * lack(held))
        });
        let edges = self.edges.iter().map(|&(a, b, _, cost)| (a, b, cost));
        Costs {
            n_labels: boxes.len(),
            own: own.collect(),
            pairs: edges.chain(self.walls.iter().copied()).collect(),
        }
    }

    /// Planes fitted to the lines between labels.
    fn planes(&self, labels: &[usize]) -> Vec<Plane> {
        let mut lines: BTreeMap<[usize; 2], Vec<[[f64; 3]; 2]>> = BTreeMap::new();
        for &(a, b, ends, _) in &self.edges {
            let (a, b) = (labels[a as usize], labels[b as usize]);
            if a != b {
                lines.entry([a.min(b), a.max(b)]).or_default().push(ends);
            }
        }
        lines.values().filter_map(|line| fitted(line)).collect()
    }
}

/// The plane that edges lie nearest to, each counted by its length; `None` where they lie about one line.
fn fitted(edges: &[[[f64; 3]; 2]]) -> Option<Plane> {
    let (mut sum, mut long_mm) = ([0.0; 3], 0.0);
    for [from, to] in edges {
        let length_mm = vec3::length(vec3::sub(*to, *from));
        sum = vec3::add(sum, vec3::scale(vec3::add(*from, *to), 0.5 * length_mm));
        long_mm += length_mm;
    }
    let middle = vec3::scale(sum, 1.0 / long_mm);
    let mut spread = Matrix3::<f64>::zeros();
    for [from, to] in edges {
        let weight = vec3::length(vec3::sub(*to, *from)) / (2.0 * long_mm);
        for end in [from, to] {
            let off = vec3::sub(*end, middle);
            spread += Matrix3::from_fn(|i, j| weight * off[i] * off[j]);
        }
    }
    let eigen = SymmetricEigen::new(spread);
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
    if eigen.eigenvalues[order[1]] < SPREAD_MM * SPREAD_MM {
        return None;
    }
    let normal = vec3::unit(std::array::from_fn(|row| eigen.eigenvectors[(row, order[0])]))?;
    Some(Plane { normal, offset_mm: vec3::dot(normal, middle) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::tests::wish;
    use crate::proxy::tests::hollow_ball;

    #[test]
    fn a_hollow_ball_is_cut_between_the_boxes_that_hold_it() {
        // 200 mm wide: two boxes of 240 x 240 x 120 mm hold it, each one half.
        let ground = Ground::new(&hollow_ball(24), &wish("250x250x125"));
        let covering = || {
            let mut covering = Covering::new(4, Prefer::Fewest, Draw::new(1, 0), &ground).expect("one lump");
            while covering.step(&ground) {}
            covering.take_found()
        };
        let (found, again) = (covering(), covering());
        let best = found.first().expect("a plan");
        assert!(best.all_fit() && best.n_pieces() == 2);
        assert_eq!(best.cuts(), again[0].cuts());
        assert!(found.len() <= N_KEPT && found.iter().all(|plan| plan.n_pieces() < 4));
    }

    #[test]
    fn a_plane_is_fitted_to_edges_that_lie_about_it_and_none_to_a_line() {
        let at = |x: f64, y: f64| [x, y, 30.0 + 0.1 * x];
        let round: Vec<[[f64; 3]; 2]> = (0..40)
            .map(|k| {
                let [a, b] = [k, k + 1].map(|k| libm::sincos(f64::from(k) * std::f64::consts::TAU / 40.0));
                [at(50.0 * a.0, 50.0 * a.1), at(50.0 * b.0, 50.0 * b.1)]
            })
            .collect();
        let plane = fitted(&round).expect("they lie in a plane");
        assert!(round.iter().flatten().all(|&p| plane.distance_mm(p).abs() < 1e-9));
        let straight: Vec<[[f64; 3]; 2]> =
            (0..9).map(|k| [at(f64::from(k), 0.0), at(f64::from(k + 1), 0.0)]).collect();
        assert_eq!(fitted(&straight), None);
    }
}
