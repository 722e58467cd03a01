//! Whether every triangle of a piece lies on the item's surface or on one of its seams' planes.
//!
//! How: a triangle with the same three corners as one of the item is skin, and each triangle of
//! the item may be used so once; of the rest, corners and middle must lie within 0.003 mm of the
//! item's surface, or all corners within 0.003 mm of a seam plane. What lies on the plane of other
//! pieces' seams must be too small or too narrow to be a seam itself: where planes nearly meet in a
//! point or just under the skin, pieces touch in less.
//! Codes: `stray-face`, `skin-twice`.
//! That the skin is covered as a whole is checked by areas in `mates.rs`.

use std::collections::{HashMap, HashSet};

use seamwright_mesh::spatial::Tree;

use super::Notes;
use super::patches::{DUST_MM, DUST_MM2};
use super::stl::{Mesh, cross, dot, point_key, sub, triangle_area};

/// How far a point may lie from the surface or plane it should lie on: 0.002 mm for edges moved
/// apart (contract) and four grid steps.
pub(super) const NEAR_MM: f64 = 0.003;

/// A plane of seams in item coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct SeamPlane {
    pub normal: [f64; 3],
    pub offset_mm: f64,
}

impl SeamPlane {
    pub fn holds(&self, corners: [[f64; 3]; 3]) -> bool {
        corners.iter().all(|&p| (dot(self.normal, p) - self.offset_mm).abs() <= NEAR_MM)
    }
}

/// The item's surface, ready to be asked.
pub(super) struct Skin<'a> {
    item: &'a Mesh,
    points: HashMap<[u32; 3], u32>,
    /// Uses left of each triangle, keyed by its corners from the least on.
    triangles: HashMap<[u32; 3], u32>,
    tree: Option<Tree>,
}

impl<'a> Skin<'a> {
    pub fn new(item: &'a Mesh) -> Self {
        let points = item.points.iter().enumerate().map(|(i, &p)| (point_key(p), i as u32)).collect();
        let mut triangles = HashMap::with_capacity(item.triangles.len());
        for &t in &item.triangles {
            *triangles.entry(from_least(t)).or_insert(0) += 1;
        }
        Self { item, points, triangles, tree: None }
    }

    /// Distance of a point from the item's surface; the tree is built at the first question.
    fn distance_mm(&mut self, p: [f64; 3]) -> f64 {
        if self.tree.is_none() {
            self.tree = Tree::new(self.item.points.clone(), self.item.triangles.clone());
        }
        self.tree.as_ref().map_or(f64::INFINITY, |tree| tree.distance_mm(p))
    }
}

fn from_least(t: [u32; 3]) -> [u32; 3] {
    let k = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
    [t[k], t[(k + 1) % 3], t[(k + 2) % 3]]
}

/// Checks the triangles of one piece, given the planes of its own seams and of the item's others.
/// Returns per own plane the area of the piece's triangles that lie on it and on the item's surface
/// too, facing along and against its normal.
pub(super) fn check_piece(
    id: &str,
    piece: &Mesh,
    skin: &mut Skin,
    [planes, others]: [&[SeamPlane]; 2],
    notes: &mut Notes,
) -> Vec<[f64; 2]> {
    let known: Vec<Option<u32>> =
        piece.points.iter().map(|&p| skin.points.get(&point_key(p)).copied()).collect();
    let mut distances = vec![f64::NAN; piece.points.len()];
    let mut on_both = vec![[0.0; 2]; planes.len()];
    let mut on_others: Vec<Vec<[u32; 3]>> = vec![Vec::new(); others.len()];
    let (mut strays, mut n_twice, mut first_twice) = (Vec::new(), 0, None);
    for &t in &piece.triangles {
        let corners = piece.corners(t);
        let middle = middle_of(corners);
        let mut is_skin = false;
        if let [Some(a), Some(b), Some(c)] = t.map(|i| known[i as usize])
            && let Some(left) = skin.triangles.get_mut(&from_least([a, b, c]))
        {
            is_skin = true;
            if *left == 0 {
                n_twice += 1;
                first_twice.get_or_insert(middle);
            } else {
                *left -= 1;
            }
        }
        let on_plane = planes.iter().position(|plane| plane.holds(corners));
        if !is_skin {
            is_skin = t.iter().all(|&i| {
                let distance = &mut distances[i as usize];
                if distance.is_nan() {
                    *distance = if known[i as usize].is_some() {
                        0.0
                    } else {
                        skin.distance_mm(piece.points[i as usize])
                    };
                }
                *distance <= NEAR_MM
            }) && skin.distance_mm(middle) <= NEAR_MM;
        }
        match (on_plane, is_skin) {
            (Some(plane), true) => {
                let normal = cross(sub(corners[1], corners[0]), sub(corners[2], corners[0]));
                let along = dot(normal, planes[plane].normal) > 0.0;
                on_both[plane][usize::from(!along)] += triangle_area(corners);
            }
            (None, false) => match others.iter().position(|plane| plane.holds(corners)) {
                Some(plane) => on_others[plane].push(t),
                None => strays.push(t),
            },
            _ => {}
        }
    }
    strays.extend(on_others.into_iter().filter(|faces| !is_dust(piece, faces)).flatten());
    if let Some(&first) = strays.first() {
        let at = middle_of(piece.corners(first));
        let stray_area: f64 = strays.iter().map(|&t| triangle_area(piece.corners(t))).sum();
        let text = format!(
            "{stray_area:.3} mm2 lie neither on the item's surface nor on a seam of the piece, near {at:.2?}"
        );
        notes.number("stray-face", id, &text, stray_area, 0.0);
    }
    if let Some(at) = first_twice {
        let text = format!("{n_twice} triangles of the item are used a second time, one near {at:.2?}");
        notes.number("skin-twice", id, &text, f64::from(n_twice), 0.0);
    }
    on_both
}

fn middle_of(corners: [[f64; 3]; 3]) -> [f64; 3] {
    std::array::from_fn(|k| (corners[0][k] + corners[1][k] + corners[2][k]) / 3.0)
}

/// Whether some faces in one plane are too small or too narrow for a seam.
fn is_dust(piece: &Mesh, faces: &[[u32; 3]]) -> bool {
    let edges = || faces.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]);
    let inner: HashSet<(u32, u32)> = edges().collect();
    let length = |(a, b): (u32, u32)| {
        let along = sub(piece.points[b as usize], piece.points[a as usize]);
        dot(along, along).sqrt()
    };
    let rim_mm: f64 = edges().filter(|&(a, b)| !inner.contains(&(b, a))).map(length).sum();
    let area_mm2: f64 = faces.iter().map(|&t| triangle_area(piece.corners(t))).sum();
    area_mm2 <= DUST_MM2 || 2.0 * area_mm2 <= DUST_MM * rim_mm
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A rectangle in the plane z = 0 as two triangles.
    fn rectangle(width_mm: f64, depth_mm: f64) -> Mesh {
        let points = vec![[0.0; 3], [width_mm, 0.0, 0.0], [width_mm, depth_mm, 0.0], [0.0, depth_mm, 0.0]];
        Mesh { points, triangles: vec![[0, 1, 2], [0, 2, 3]] }
    }

    #[test]
    fn faces_are_dust_below_the_area_or_the_width_of_a_seam() {
        let dust = |width_mm, depth_mm| {
            let mesh = rectangle(width_mm, depth_mm);
            is_dust(&mesh, &mesh.triangles)
        };
        assert!(dust(0.07, 0.07), "0.0049 mm2");
        assert!(!dust(0.08, 0.08), "0.0064 mm2");
        // Twice the area over the rim: 2 x 5 x 0.009 / 10.018 mm, and 2 x 5 x 0.012 / 10.024 mm.
        assert!(dust(5.0, 0.009));
        assert!(!dust(5.0, 0.012));
    }
}
