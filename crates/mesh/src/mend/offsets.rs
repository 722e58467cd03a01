//! The way from each point of a single-sided surface to its second skin.
//!
//! How: against the normals, in the direction that leads into all faces at the point as evenly as may
//! be, evened out over about a wall's width so that relief finer than the wall is carried along
//! instead of folding; shorter where the surface comes back close behind, and where the second skin
//! would still fold.
//! Units: mm.

use super::divide::divide;
use super::surface::Surface;
use crate::edges::QuickMap;
use crate::grid;
use crate::spatial::Tree;
use crate::vec3;

/// Of the way to the next skin inward, at most so much is wall.
const OF_THE_WAY: f64 = 0.45;
/// Rounds of evening out at folds, and of thinning.
const ROUNDS: usize = 24;
/// No wall gets thinner than this, so that its two skins stay apart in a file.
const THINNEST_MM: f64 = 0.06;
/// How much thinner a wall gets in a round.
const THINNER: f64 = 0.75;

/// Where the second skin goes.
pub(super) struct Offsets {
    /// Per point.
    pub inward_mm: Vec<[f64; 3]>,
    /// Per point: the surface comes back so close behind that there is no room for two walls.
    pub is_thin: Vec<bool>,
}

/// The offsets for a surface of `triangles` over `at_mm`.
pub(super) fn offsets(triangles: &[[usize; 3]], at_mm: &[[f64; 3]], wall_mm: f64) -> Offsets {
    let near = neighbours(triangles, at_mm.len());
    let mut inward_mm = directions(triangles, at_mm, &near, wall_mm);
    let mut is_thin = limit(triangles, at_mm, &mut inward_mm);
    // A point among thin ones is thin, and one alone is not: else its skin would be a rag.
    for _ in 0..3 {
        let before = is_thin.clone();
        for (thin, list) in is_thin.iter_mut().zip(&near) {
            let n_thin = list.iter().filter(|&&other| before[other]).count();
            *thin = 2 * n_thin > list.len() || (2 * n_thin == list.len() && *thin);
        }
    }
    unfold(triangles, at_mm, &near, &mut inward_mm);
    Offsets { inward_mm, is_thin }
}

/// Divides long edges where the surface comes back closer behind than two walls, as long as no more than
/// `budget` triangles are added; takes what it uses from there.
pub(super) fn divide_thin(surface: &mut Surface, body: &mut Vec<u32>, wall_mm: f64, budget: &mut usize) {
    const PASSES: usize = 6;
    let points_mm: Vec<[f64; 3]> = surface.points.iter().map(|&p| grid::to_mm(p)).collect();
    let listed = body.iter().map(|&t| surface.triangles[t as usize]).collect();
    let Some(tree) = Tree::new(points_mm, listed) else { return };
    let mut inward: QuickMap<u32, [f64; 3]> = QuickMap::default();
    for _ in 0..PASSES {
        inward.clear();
        for &t in body.iter() {
            let way = vec3::unit(surface.cross(t as usize)).unwrap_or_default();
            for corner in surface.triangles[t as usize] {
                let sum = inward.entry(corner).or_default();
                *sum = vec3::sub(*sum, way);
            }
        }
        let is_thin_at = |at: [f64; 3], way: [f64; 3]| {
            let Some(way) = vec3::unit(way) else { return false };
            let start = vec3::add(at, vec3::scale(way, 0.01 * wall_mm));
            tree.cast_ray(start, way, 2.0 * wall_mm).is_some()
        };
        let asks = |surface: &Surface, a: u32, b: u32| {
            let (p, q) = (surface.at_mm(a), surface.at_mm(b));
            let (from, to) = (inward.get(&a), inward.get(&b));
            let (Some(&from), Some(&to)) = (from, to) else { return false };
            vec3::length(vec3::sub(p, q)) > 1.5 * wall_mm
                && (is_thin_at(p, from)
                    || is_thin_at(q, to)
                    || is_thin_at(vec3::scale(vec3::add(p, q), 0.5), vec3::add(from, to)))
        };
        // A pass makes at most four of one.
        if 3 * body.len() > *budget {
            break;
        }
        let before = body.len();
        let changed = divide(surface, body, &asks);
        *budget -= body.len() - before;
        if !changed {
            break;
        }
    }
}

/// A wall one step thinner.
pub(super) fn thinner_by(offset: [f64; 3]) -> [f64; 3] {
    let length = vec3::length(offset);
    if length <= THINNEST_MM { offset } else { vec3::scale(offset, THINNER.max(THINNEST_MM / length)) }
}

fn neighbours(triangles: &[[usize; 3]], n: usize) -> Vec<Vec<usize>> {
    let mut near: Vec<Vec<usize>> = vec![Vec::new(); n];
    for t in triangles {
        for i in 0..3 {
            let (a, b) = (t[i], t[(i + 1) % 3]);
            for (from, to) in [(a, b), (b, a)] {
                if !near[from].contains(&to) {
                    near[from].push(to);
                }
            }
        }
    }
    near
}

/// Per point the way inward as long as the wall, evened out over about its width.
fn directions(outer: &[[usize; 3]], at_mm: &[[f64; 3]], near: &[Vec<usize>], wall_mm: f64) -> Vec<[f64; 3]> {
    let mut normals = vec![[0.0; 3]; at_mm.len()];
    let mut faces: Vec<Vec<[f64; 3]>> = vec![Vec::new(); at_mm.len()];
    for t in outer {
        let [a, b, c] = t.map(|i| at_mm[i]);
        let Some(normal) = vec3::unit(vec3::cross(vec3::sub(b, a), vec3::sub(c, a))) else { continue };
        for i in 0..3 {
            let (p, q, r) = (at_mm[t[i]], at_mm[t[(i + 1) % 3]], at_mm[t[(i + 2) % 3]]);
            let (u, v) = (vec3::sub(q, p), vec3::sub(r, p));
            let angle = libm::atan2(vec3::length(vec3::cross(u, v)), vec3::dot(u, v));
            normals[t[i]] = vec3::add(normals[t[i]], vec3::scale(normal, angle));
            faces[t[i]].push(normal);
        }
    }
    for (normal, faces) in normals.iter_mut().zip(&faces) {
        *normal = most_outward(vec3::unit(*normal).unwrap_or_default(), faces);
    }
    let total_mm: f64 = outer.iter().map(|t| vec3::length(vec3::sub(at_mm[t[0]], at_mm[t[1]]))).sum();
    let edge_mm = total_mm / outer.len().max(1) as f64;
    // Evening out so many times spreads over the root of so many edges.
    let n_rounds = ((wall_mm / edge_mm) * (wall_mm / edge_mm)).round().clamp(0.0, 64.0) as usize;
    for _ in 0..n_rounds {
        let units: Vec<[f64; 3]> = normals.iter().map(|&n| vec3::unit(n).unwrap_or_default()).collect();
        for (normal, list) in normals.iter_mut().zip(near) {
            *normal =
                list.iter().fold(vec3::unit(*normal).unwrap_or_default(), |sum, &j| vec3::add(sum, units[j]));
        }
    }
    normals.into_iter().map(|n| vec3::scale(vec3::unit(n).unwrap_or_default(), -wall_mm)).collect()
}

/// A direction this far out of every face (a cosine) is as good as any.
const EVEN: f64 = 0.5;

/// The direction that leads out of all faces at a point, as evenly as may be: at the edge of a thin brim
/// the mean of the normals may lead along one of its sides, or even in.
fn most_outward(mean: [f64; 3], faces: &[[f64; 3]]) -> [f64; 3] {
    let least = |way: [f64; 3]| {
        faces.iter().map(|&face| vec3::dot(face, way)).enumerate().min_by(|a, b| a.1.total_cmp(&b.1))
    };
    let (mut way, mut best, mut most) = (mean, mean, least(mean).map_or(1.0, |(_, out)| out));
    if most > EVEN {
        return mean;
    }
    for round in 0..64 {
        // Toward the face that gains least, by steps that shrink.
        let Some((face, _)) = least(way) else { return mean };
        let step = 0.5 / f64::from(1 + round);
        way = vec3::unit(vec3::add(way, vec3::scale(faces[face], step))).unwrap_or(way);
        let out = least(way).map_or(0.0, |(_, out)| out);
        if out > most {
            (best, most) = (way, out);
        }
    }
    best
}

/// Makes the wall thinner where the surface itself lies closer behind; says where.
fn limit(outer: &[[usize; 3]], at_mm: &[[f64; 3]], inward: &mut [[f64; 3]]) -> Vec<bool> {
    let mut is_thin = vec![false; at_mm.len()];
    let triangles = outer.iter().map(|t| t.map(|i| i as u32)).collect();
    let Some(tree) = Tree::new(at_mm.to_vec(), triangles) else { return is_thin };
    for (i, offset) in inward.iter_mut().enumerate() {
        let Some(ray) = vec3::unit(*offset) else { continue };
        let wall_mm = vec3::length(*offset);
        // A little inside, past the triangles the point is a corner of.
        let start = vec3::add(at_mm[i], vec3::scale(ray, 0.01 * wall_mm));
        let hit = tree.cast_ray(start, ray, wall_mm / OF_THE_WAY);
        if let Some(hit) = hit.filter(|hit| !outer[hit.triangle].contains(&i)) {
            *offset = vec3::scale(ray, (OF_THE_WAY * hit.distance_mm).clamp(THINNEST_MM, wall_mm));
            is_thin[i] = true;
        }
    }
    is_thin
}

/// Evens offsets out where a triangle of the second skin faces the other way, then thins them.
fn unfold(outer: &[[usize; 3]], at_mm: &[[f64; 3]], near: &[Vec<usize>], inward: &mut [[f64; 3]]) {
    let normal = |t: &[usize; 3], offset: &[[f64; 3]], share: f64| {
        let [a, b, c] = t.map(|i| vec3::add(at_mm[i], vec3::scale(offset[i], share)));
        vec3::cross(vec3::sub(b, a), vec3::sub(c, a))
    };
    for round in 0..2 * ROUNDS {
        let mut folded = vec![false; at_mm.len()];
        let mut any = false;
        for t in outer {
            let (before, after) = (normal(t, inward, 0.0), normal(t, inward, 1.0));
            if vec3::dot(before, after) <= 0.05 * vec3::length(before) * vec3::length(after) {
                t.iter().for_each(|&i| folded[i] = true);
                any = true;
            }
        }
        if !any {
            return;
        }
        let before = inward.to_vec();
        for i in (0..at_mm.len()).filter(|&i| folded[i]) {
            inward[i] = if round < ROUNDS {
                let sum = near[i].iter().fold(before[i], |sum, &j| vec3::add(sum, before[j]));
                let length = vec3::length(before[i]);
                vec3::scale(vec3::unit(sum).unwrap_or_default(), length)
            } else {
                thinner_by(before[i])
            };
        }
    }
}
