//! Fewer points, quickly: those of one small cell that hang together become one.
//!
//! How: points are gathered by the cubic cell they lie in and, within it, by the edges between points that face
//! alike, so that the two skins of a wall thinner than a cell stay apart, at its rim too. A triangle with two corners
//! in one gathering vanishes. What is left is closed where the whole was: every edge is still run as often one
//! way as the other. Triangles that came to lie on each other cancel, and specks smaller than a cell are dropped.
//! Cost: linear; one pass for millions of triangles before the finer and slower `simplify.rs`.
//! Source: vertex clustering, "Multi-resolution 3D approximations for rendering complex scenes"
//! (1993, from memory); that only what hangs together is gathered is ours.

use crate::assemble::{Slivers, assemble};
use crate::edges::{Joined, QuickSet};
use crate::grid;
use crate::simplify::Mesh;
use crate::solid::{NotSolid, SKIN, Solid};
use crate::vec3;

/// Cosine of the most that two points joined by an edge may face apart: the rims of a wall's skins do by 90 degrees.
const ALIKE: f64 = 0.3;

/// A solid with its points gathered in cells of `cell_mm`; what is gathered with a point of `kept` comes to lie
/// there.
///
/// # Errors
/// [`NotSolid`] where what is left encloses nothing, or less.
pub fn gathered(solid: &Solid, cell_mm: f64, kept: &[[f64; 3]]) -> Result<Solid, NotSolid> {
    let fine = Mesh { points: solid.points_mm(), triangles: solid.triangles().to_vec() };
    let few = gather(&fine, cell_mm, kept);
    drop(fine);
    let snapped = |(point_index, &at_mm): (usize, &[f64; 3])| {
        grid::snap(at_mm).ok_or(NotSolid::OutOfRange { point_index, at_mm })
    };
    let points = few.points.iter().enumerate().map(snapped).collect::<Result<Vec<_>, _>>()?;
    let origin = vec![SKIN; few.triangles.len()];
    let specks = Slivers::Specks(cell_mm * cell_mm * cell_mm);
    assemble(&points, &few.triangles, &origin, specks).map(|(solid, _)| solid)
}

/// The same of a mesh, as it falls.
fn gather(mesh: &Mesh, cell_mm: f64, kept: &[[f64; 3]]) -> Mesh {
    let kept: QuickSet<[u64; 3]> = kept.iter().map(|p| p.map(f64::to_bits)).collect();
    let cells: Vec<[i32; 3]> = mesh.points.iter().map(|p| p.map(|c| (c / cell_mm).floor() as i32)).collect();
    let mut facing = vec![[0.0; 3]; mesh.points.len()];
    for t in &mesh.triangles {
        let [a, b, c] = t.map(|i| mesh.points[i as usize]);
        let area2 = vec3::cross(vec3::sub(b, a), vec3::sub(c, a));
        for &corner in t {
            facing[corner as usize] = vec3::add(facing[corner as usize], area2);
        }
    }
    let face_alike = |a: u32, b: u32| {
        let [a, b] = [a, b].map(|i| facing[i as usize]);
        vec3::dot(a, b) >= ALIKE * vec3::length(a) * vec3::length(b)
    };
    let mut patches = Joined::new(mesh.points.len());
    for &[a, b, c] in &mesh.triangles {
        for [from, to] in [[a, b], [b, c], [c, a]] {
            if cells[from as usize] == cells[to as usize] && face_alike(from, to) {
                patches.join(from, to);
            }
        }
    }
    let mut index_of = vec![u32::MAX; mesh.points.len()];
    let mut gatherings: Vec<Gathering> = Vec::new();
    let place = |(i, &p): (usize, &[f64; 3])| {
        let index = &mut index_of[patches.find(i as u32) as usize];
        if *index == u32::MAX {
            *index = gatherings.len() as u32;
            gatherings.push(Gathering::default());
        }
        let gathering = &mut gatherings[*index as usize];
        gathering.sum = vec3::add(gathering.sum, p);
        gathering.n += 1.0;
        if gathering.kept.is_none() && kept.contains(&p.map(f64::to_bits)) {
            gathering.kept = Some(p);
        }
        *index
    };
    let of: Vec<u32> = mesh.points.iter().enumerate().map(place).collect();
    let renamed = mesh.triangles.iter().map(|t| t.map(|i| of[i as usize]));
    Mesh {
        points: gatherings.iter().map(Gathering::place_mm).collect(),
        triangles: renamed.filter(|&[a, b, c]| a != b && b != c && c != a).collect(),
    }
}

/// Points that become one.
#[derive(Default)]
struct Gathering {
    sum: [f64; 3],
    n: f64,
    /// The first of them that is kept.
    kept: Option<[f64; 3]>,
}

impl Gathering {
    fn place_mm(&self) -> [f64; 3] {
        self.kept.unwrap_or_else(|| vec3::scale(self.sum, 1.0 / self.n))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate of 100 x 100 x 1 mm as a closed mesh of squares of 2 mm.
    fn plate() -> Mesh {
        const N: u32 = 50;
        let at = |i: u32, j: u32, top: u32| top * (N + 1) * (N + 1) + i * (N + 1) + j;
        let mut points = Vec::new();
        for top in 0..2_u32 {
            for i in 0..=N {
                points.extend((0..=N).map(|j| [f64::from(2 * i), f64::from(2 * j), f64::from(top)]));
            }
        }
        let mut triangles = Vec::new();
        let mut quad = |[a, b, c, d]: [u32; 4]| triangles.extend([[a, b, c], [a, c, d]]);
        for i in 0..N {
            for j in 0..N {
                quad([at(i, j, 1), at(i + 1, j, 1), at(i + 1, j + 1, 1), at(i, j + 1, 1)]);
                quad([at(i, j, 0), at(i, j + 1, 0), at(i + 1, j + 1, 0), at(i + 1, j, 0)]);
            }
            quad([at(i, 0, 0), at(i + 1, 0, 0), at(i + 1, 0, 1), at(i, 0, 1)]);
            quad([at(i + 1, N, 0), at(i, N, 0), at(i, N, 1), at(i + 1, N, 1)]);
            quad([at(0, i + 1, 0), at(0, i, 0), at(0, i, 1), at(0, i + 1, 1)]);
            quad([at(N, i, 0), at(N, i + 1, 0), at(N, i + 1, 1), at(N, i, 1)]);
        }
        Mesh { points, triangles }
    }

    fn volume_mm3(mesh: &Mesh) -> f64 {
        let triple = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|i| mesh.points[i as usize]);
            vec3::dot(a, vec3::cross(b, c)) / 6.0
        };
        mesh.triangles.iter().map(triple).sum()
    }

    #[test]
    fn both_skins_of_a_wall_thinner_than_a_cell_stay() {
        let plate = plate();
        assert!((volume_mm3(&plate) - 10_000.0).abs() < 1e-6);
        let few = gather(&plate, 8.0, &[[0.0; 3]]);
        assert!(few.triangles.len() * 8 < plate.triangles.len(), "{} left", few.triangles.len());
        // Its rim is drawn in by at most a cell; a plate gone flat would have no volume.
        assert!((0.8..1.01).contains(&(volume_mm3(&few) / 10_000.0)), "{} mm3", volume_mm3(&few));
        assert!(few.points.contains(&[0.0; 3]));
    }

    #[test]
    fn what_is_gathered_is_one_sound_body_that_reaches_where_it_is_kept() {
        let plate = plate();
        let (solid, _) = Solid::from_triangles(&plate.points, &plate.triangles).expect("a closed plate");
        for cell_mm in [3.0, 5.0, 9.0, 14.0] {
            let few = gathered(&solid, cell_mm, &[[100.0, 100.0, 1.0]]).expect("it encloses something");
            assert_eq!(few.n_bodies(), 1);
            assert!(few.points_mm().contains(&[100.0, 100.0, 1.0]), "cells of {cell_mm} mm");
            assert!((0.7..1.01).contains(&(few.volume_mm3() / 10_000.0)), "{} mm3", few.volume_mm3());
        }
        // Cells larger than the whole leave nothing.
        assert!(gathered(&solid, 400.0, &[]).is_err());
    }

    #[test]
    fn a_closed_mesh_stays_closed() {
        let few = gather(&plate(), 8.0, &[]);
        let mut uses: std::collections::BTreeMap<[u32; 2], i32> = Default::default();
        for &[a, b, c] in &few.triangles {
            for [from, to] in [[a, b], [b, c], [c, a]] {
                *uses.entry([from.min(to), from.max(to)]).or_default() += if from < to { 1 } else { -1 };
            }
        }
        assert!(uses.values().all(|&sum| sum == 0));
    }
}
