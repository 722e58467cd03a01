//! From a field to a finished mesh: mesh it, simplify it, reflect it, round it, prove it.
//!
//! Units: mm, coordinates rounded to 0.01 so that files written as text or as f32 hold the same.
//! Not here: what the shapes are (`helm.rs` and its neighbours) and file formats (`files.rs`).

use super::field::Field;
use super::mesher::{self, Mesh, Sampling};
use super::untangle::{crossing_corners, untangle};
use anyhow::{Result, ensure};
use seamwright_mesh::simplify::simplify;
use seamwright_mesh::vec3::{add, cross, dot, length, scale, sub, unit};

/// Coordinates are whole multiples of 1/100 mm.
pub const STEPS_PER_MM: f64 = 100.0;

/// Meshes `field` and brings it to about `n_triangles`.
///
/// # Errors
/// Where the result is not one closed surface, with the first flaw found.
pub fn build(field: Field, sampling: Sampling, n_triangles: usize) -> Result<Mesh> {
    let raw = mesher::mesh(field, sampling);
    let share = if sampling.mirrored { 2 } else { 1 };
    finished(raw, n_triangles / share, sampling.mirrored)
}

/// Brings a finished mesh to about `n_triangles`.
///
/// # Errors
/// As for [`build`].
pub fn fewer(mesh: Mesh, n_triangles: usize) -> Result<Mesh> {
    finished(mesh, n_triangles, false)
}

fn finished(raw: Mesh, n_triangles: usize, mirrored: bool) -> Result<Mesh> {
    let fewer = in_walking_order(&simplify(raw, n_triangles, mirrored, &[]));
    let mut rounded = fewer;
    // Rounding may fold what was just unfolded, by a hundredth of a mm; a second round settles it.
    for _ in 0..4 {
        rounded = part_twins(round(untangle(rounded, mirrored)?), mirrored);
        if crossing_corners(&rounded)?.is_empty() {
            break;
        }
    }
    let whole = if mirrored { reflect(&rounded) } else { rounded };
    prove(&whole)?;
    let n_folded = crossing_corners(&whole)?.len();
    ensure!(n_folded == 0, "{n_folded} corners of triangles that pass through each other");
    Ok(whole)
}

/// Moves points that rounding put on each other, or on the line between two neighbours, towards
/// the middle of their neighbours.
fn part_twins(mut mesh: Mesh, mirrored: bool) -> Mesh {
    const SHIFT_MM: f64 = 0.03;
    for _ in 0..8 {
        let mut order: Vec<usize> = (0..mesh.points.len()).collect();
        order.sort_by(|&i, &j| compare(&mesh.points[i], &mesh.points[j]).then(i.cmp(&j)));
        let mut twins: Vec<usize> =
            order.windows(2).filter(|w| mesh.points[w[0]] == mesh.points[w[1]]).map(|w| w[1]).collect();
        twins.extend(mesh.triangles.iter().filter(|&&t| area2_mm2(&mesh, t) < EMPTY_MM2).map(|t| {
            let corner = |k: usize| mesh.points[t[k % 3] as usize];
            let opposite = |k: usize| length(sub(corner(k + 1), corner(k + 2)));
            let widest = (0..3).max_by(|&a, &b| opposite(a).total_cmp(&opposite(b))).unwrap_or(0);
            t[widest] as usize
        }));
        twins.sort_unstable();
        twins.dedup();
        if twins.is_empty() {
            break;
        }
        for twin in twins {
            let near = mesh.triangles.iter().filter(|t| t.contains(&(twin as u32))).flatten();
            let (sum, n) =
                near.fold(([0.0; 3], 0.0), |(sum, n), &i| (add(sum, mesh.points[i as usize]), n + 1.0));
            let here = mesh.points[twin];
            let towards = unit(sub(scale(sum, 1.0 / n), here)).unwrap_or([0.0, 0.0, 1.0]);
            mesh.points[twin] = add(here, scale(towards, SHIFT_MM));
            if mirrored && here[0] == 0.0 {
                mesh.points[twin][0] = 0.0;
            }
        }
        mesh = round(mesh);
    }
    mesh
}

/// Orders points by x, then y, then z.
fn compare(a: &[f64; 3], b: &[f64; 3]) -> std::cmp::Ordering {
    a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2]))
}

/// Adds the reflection in x = 0; points on the plane are shared, the others follow their originals.
fn reflect(half: &Mesh) -> Mesh {
    let mut whole = Mesh::default();
    let index: Vec<[u32; 2]> = half
        .points
        .iter()
        .map(|&p| {
            let first = whole.points.len() as u32;
            whole.points.push(p);
            if p[0] == 0.0 {
                return [first, first];
            }
            whole.points.push([-p[0], p[1], p[2]]);
            [first, first + 1]
        })
        .collect();
    for &[a, b, c] in &half.triangles {
        whole.triangles.push([a, b, c].map(|i| index[i as usize][0]));
        whole.triangles.push([a, c, b].map(|i| index[i as usize][1]));
    }
    whole
}

fn round(mut mesh: Mesh) -> Mesh {
    for coordinate in mesh.points.iter_mut().flatten() {
        // `+ 0.0` turns -0 into 0, which would be written with its sign.
        *coordinate = (*coordinate * STEPS_PER_MM).round() / STEPS_PER_MM + 0.0;
    }
    mesh
}

/// Triangles so that each touches one shortly before it, points in the order of first use: the
/// numbers in a file then repeat and pack well.
fn in_walking_order(mesh: &Mesh) -> Mesh {
    let mut around = vec![Vec::new(); mesh.points.len()];
    for (index, triangle) in mesh.triangles.iter().enumerate() {
        triangle.iter().for_each(|&corner| around[corner as usize].push(index));
    }
    let mut taken = vec![false; mesh.triangles.len()];
    let mut new_index = vec![u32::MAX; mesh.points.len()];
    let mut ordered = Mesh::default();
    let mut queue = std::collections::VecDeque::new();
    for start in 0..mesh.triangles.len() {
        if taken[start] {
            continue;
        }
        queue.extend(mesh.triangles[start]);
        // Corner by corner in order of discovery: every fan closes before the walk moves on.
        while let Some(corner) = queue.pop_front() {
            for &t in &around[corner as usize] {
                if std::mem::replace(&mut taken[t], true) {
                    continue;
                }
                let at = mesh.triangles[t].iter().position(|&c| c == corner).unwrap_or(0);
                let triangle: [u32; 3] = std::array::from_fn(|k| mesh.triangles[t][(at + k) % 3]);
                ordered.triangles.push(triangle.map(|old| {
                    if new_index[old as usize] == u32::MAX {
                        new_index[old as usize] = ordered.points.len() as u32;
                        ordered.points.push(mesh.points[old as usize]);
                        queue.push_back(old);
                    }
                    new_index[old as usize]
                }));
            }
        }
    }
    ordered
}

/// Shows that the mesh is one closed body facing outward, without folded or empty triangles.
///
/// # Errors
/// The first thing that is not so.
pub fn prove(mesh: &Mesh) -> Result<()> {
    ensure!(!mesh.triangles.is_empty(), "no triangles");
    let mut edges: Vec<(u32, u32)> =
        mesh.triangles.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]).collect();
    edges.sort_unstable();
    ensure!(edges.windows(2).all(|pair| pair[0] != pair[1]), "an edge is used twice the same way");
    for &(a, b) in &edges {
        ensure!(edges.binary_search(&(b, a)).is_ok(), "open edge near {:?}", mesh.points[a as usize]);
    }
    let mut sorted = mesh.points.clone();
    sorted.sort_unstable_by(compare);
    ensure!(sorted.windows(2).all(|pair| pair[0] != pair[1]), "two points fall together");
    let mut around = vec![0; mesh.points.len()];
    for (index, triangle) in mesh.triangles.iter().enumerate() {
        triangle.iter().for_each(|&corner| around[corner as usize] += 1);
        let at = mesh.points[triangle[0] as usize];
        ensure!(area2_mm2(mesh, *triangle) >= EMPTY_MM2, "triangle {index} is empty near {at:?}");
    }
    let euler = mesh.points.len() as i64 - edges.len() as i64 / 2 + mesh.triangles.len() as i64;
    ensure!(around.iter().all(|&n| n >= 3) && euler % 2 == 0, "a point is pinched");
    ensure!(n_bodies(mesh) == 1, "{} bodies instead of one", n_bodies(mesh));
    ensure!(volume_mm3(mesh) > 0.0, "it faces inward");
    Ok(())
}

/// Below this (twice the area) a triangle has no direction once coordinates are rounded.
const EMPTY_MM2: f64 = 1e-6;

/// Twice the area of a triangle.
fn area2_mm2(mesh: &Mesh, triangle: [u32; 3]) -> f64 {
    let [p, q, r] = triangle.map(|i| mesh.points[i as usize]);
    length(cross(sub(q, p), sub(r, p)))
}

/// Connected surfaces.
fn n_bodies(mesh: &Mesh) -> usize {
    let mut leader: Vec<u32> = (0..mesh.points.len() as u32).collect();
    fn find(leader: &mut [u32], mut i: u32) -> u32 {
        while leader[i as usize] != i {
            leader[i as usize] = leader[leader[i as usize] as usize];
            i = leader[i as usize];
        }
        i
    }
    for &[a, b, c] in &mesh.triangles {
        for other in [b, c] {
            let (x, y) = (find(&mut leader, a), find(&mut leader, other));
            leader[x.max(y) as usize] = x.min(y);
        }
    }
    (0..leader.len() as u32).filter(|&i| find(&mut leader, i) == i).count()
}

/// Enclosed volume by signed tetrahedra.
pub fn volume_mm3(mesh: &Mesh) -> f64 {
    mesh.triangles
        .iter()
        .map(|t| t.map(|i| mesh.points[i as usize]))
        .map(|[p, q, r]| dot(p, cross(q, r)) / 6.0)
        .sum()
}

/// Lowest and highest corner.
pub fn box_mm(mesh: &Mesh) -> ([f64; 3], [f64; 3]) {
    mesh.points.iter().fold(([f64::MAX; 3], [f64::MIN; 3]), |(low, high), p| {
        (std::array::from_fn(|a| low[a].min(p[a])), std::array::from_fn(|a| high[a].max(p[a])))
    })
}

/// Unit normal of a triangle; zero where it has no area.
pub fn normal_of(mesh: &Mesh, triangle: [u32; 3]) -> [f64; 3] {
    let [p, q, r] = triangle.map(|i| mesh.points[i as usize]);
    let area2 = cross(sub(q, p), sub(r, p));
    scale(area2, 1.0 / length(area2).max(1e-300))
}
