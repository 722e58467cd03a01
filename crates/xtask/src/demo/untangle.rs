//! Takes out the small folds that sharp creases leave where two of them meet within a cell.
//!
//! How: find triangles that pass through each other, draw their corners half-way to the middle of
//! their neighbours, and look again. Folds are smaller than a cell, so what is seen stays.
//! Cost: one tree and one query a triangle in each round; a few rounds are enough.
//! Not here: proving closedness (`shape.rs`); moving points cannot change it.

use super::mesher::Mesh;
use anyhow::{Context, Result, ensure};
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::vec3::{add, cross, dot, scale, sub};

/// Rounds before giving up.
const ROUNDS: usize = 40;

/// Moves points until no two triangles pass through each other; points with x = 0 of a half mesh
/// keep it.
///
/// # Errors
/// Where folds are left after the last round.
pub fn untangle(mut mesh: Mesh, mirrored: bool) -> Result<Mesh> {
    let mut around = vec![Vec::new(); mesh.points.len()];
    for triangle in &mesh.triangles {
        for k in 0..3 {
            around[triangle[k] as usize].extend([triangle[(k + 1) % 3], triangle[(k + 2) % 3]]);
        }
    }
    for _ in 0..ROUNDS {
        let moving = crossing_corners(&mesh)?;
        if moving.is_empty() {
            return Ok(mesh);
        }
        let moved: Vec<[f64; 3]> = moving
            .iter()
            .map(|&corner| {
                let near = &around[corner as usize];
                let sum = near.iter().fold([0.0; 3], |sum, &i| add(sum, mesh.points[i as usize]));
                let here = mesh.points[corner as usize];
                let mut point = scale(add(here, scale(sum, 1.0 / near.len() as f64)), 0.5);
                if mirrored && here[0] == 0.0 {
                    point[0] = 0.0;
                }
                point
            })
            .collect();
        for (corner, point) in moving.into_iter().zip(moved) {
            mesh.points[corner as usize] = point;
        }
    }
    let left = crossing_corners(&mesh)?;
    ensure!(
        left.is_empty(),
        "{} points in folds, the first at {:?}",
        left.len(),
        mesh.points[left[0] as usize]
    );
    Ok(mesh)
}

/// Corners of all triangles that pass through another, sorted.
pub fn crossing_corners(mesh: &Mesh) -> Result<Vec<u32>> {
    let tree = Tree::new(mesh.points.clone(), mesh.triangles.clone()).context("no triangles")?;
    let mut found = Vec::new();
    for triangle in &mesh.triangles {
        let corners = triangle.map(|i| mesh.points[i as usize]);
        let low = std::array::from_fn(|a| corners[0][a].min(corners[1][a]).min(corners[2][a]));
        let high = std::array::from_fn(|a| corners[0][a].max(corners[1][a]).max(corners[2][a]));
        for other in tree.in_box(low, high) {
            let other = mesh.triangles[other];
            let pierced = (0..3).any(|k| pierces(mesh, [triangle[k], triangle[(k + 1) % 3]], other));
            if pierced {
                found.extend(triangle);
                found.extend(other);
            }
        }
    }
    found.sort_unstable();
    found.dedup();
    Ok(found)
}

/// Whether an edge passes through the inside of a triangle it shares no corner with.
fn pierces(mesh: &Mesh, edge: [u32; 2], triangle: [u32; 3]) -> bool {
    if edge.iter().any(|end| triangle.contains(end)) {
        return false;
    }
    let [a, b] = edge.map(|i| mesh.points[i as usize]);
    let [p, q, r] = triangle.map(|i| mesh.points[i as usize]);
    let six_volumes = |a: [f64; 3], b, c, d| dot(sub(b, a), cross(sub(c, a), sub(d, a)));
    if six_volumes(p, q, r, a) * six_volumes(p, q, r, b) >= 0.0 {
        return false;
    }
    let turns = [six_volumes(a, b, p, q), six_volumes(a, b, q, r), six_volumes(a, b, r, p)];
    turns.iter().all(|&v| v > 0.0) || turns.iter().all(|&v| v < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_through_a_triangle_is_found_and_one_beside_it_is_not() {
        let points = vec![
            [0.0, 0.0, 0.0],
            [4.0, 0.0, 0.0],
            [0.0, 4.0, 0.0],
            [1.0, 1.0, -1.0],
            [1.0, 1.0, 1.0],
            [9.0, 9.0, 1.0],
        ];
        let mesh = Mesh { points, triangles: vec![[0, 1, 2], [3, 4, 5]] };
        assert_eq!(crossing_corners(&mesh).unwrap(), [0, 1, 2, 3, 4, 5]);
        assert!(!pierces(&mesh, [4, 5], [0, 1, 2]));
    }
}
