//! Finds what the pointer is on: rays against what is drawn.
//!
//! How: a search tree a drawn part (`seamwright_mesh::spatial`), and of what a ray meets in all of
//! them the nearest. It lives in a memory of its own, so that it answers while the keeper works.
//! Units: mm in item coordinates. Where items stand on the drawing is told by the ray, which starts
//! at another place for each of them. Not here: the shapes themselves (`shapes.rs`).

use super::messages::{Met, Ray};
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::vec3;
use std::collections::BTreeMap;

/// No drawing reaches farther than this from where a ray starts.
const REACH_MM: f64 = 1e6;

/// What is drawn of some items.
#[derive(Default)]
pub struct Finder {
    items: BTreeMap<String, Vec<Part>>,
}

/// One piece, or an item that is not cut yet.
struct Part {
    piece: Option<String>,
    pull_mm: [f64; 3],
    tree: Tree,
}

impl Finder {
    /// Forgets what was drawn of an item.
    pub fn forget(&mut self, item: &str) {
        self.items.remove(item);
    }

    /// Takes a part of an item as it is drawn: xyz after xyz, corners after corners; `piece` is
    /// `None` for an item that is not cut yet, `pull_mm` how far it moves with the slider at 1.
    pub fn take(
        &mut self,
        item: &str,
        piece: Option<String>,
        pull_mm: [f64; 3],
        points_mm: &[f32],
        triangles: &[u32],
    ) {
        let points = points_mm.as_chunks::<3>().0.iter().map(|p| p.map(f64::from)).collect();
        let Some(tree) = Tree::new(points, triangles.as_chunks::<3>().0.to_vec()) else { return };
        self.items.entry(item.into()).or_default().push(Part { piece, pull_mm, tree });
    }

    /// What the ray meets first; items it names that were never drawn are not met.
    pub fn find(&self, ray: &Ray) -> Option<Met> {
        let direction = vec3::unit(ray.direction)?;
        let mut nearest: Option<(f64, Met)> = None;
        for start in &ray.starts {
            for part in self.items.get(&start.item).into_iter().flatten() {
                // A part pulled away is where it was for a ray moved back as far.
                let from = vec3::sub(start.at_mm, vec3::scale(part.pull_mm, ray.pull));
                let Some(hit) = part.tree.cast_ray(from, direction, REACH_MM) else { continue };
                if nearest.as_ref().is_none_or(|(mm, _)| hit.distance_mm < *mm) {
                    let at_mm = vec3::add(from, vec3::scale(direction, hit.distance_mm));
                    let met = Met { item: start.item.clone(), piece: part.piece.clone(), at_mm };
                    nearest = Some((hit.distance_mm, met));
                }
            }
        }
        nearest.map(|(_, met)| met)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::remote::messages::RayStart;

    /// As far out as the page lets rays start.
    const OUTSIDE_MM: f64 = 1e5;

    /// An octahedron of `r` mm round `middle`: |x| + |y| + |z| = r, drawn exactly by single precision.
    fn octahedron(middle: [f32; 3], r: f32) -> (Vec<f32>, Vec<u32>) {
        let mut points = Vec::new();
        for axis in 0..3 {
            for sign in [r, -r] {
                let mut p = middle;
                p[axis] += sign;
                points.extend(p);
            }
        }
        let mut triangles = Vec::new();
        for x in [0, 1] {
            for y in [2, 3] {
                for z in [4, 5] {
                    let is_left = (x + y + z) % 2 == 1;
                    triangles.extend(if is_left { [x, z, y] } else { [x, y, z] });
                }
            }
        }
        (points, triangles)
    }

    fn ray(starts: &[(&str, [f64; 3])], direction: [f64; 3], pull: f64) -> Ray {
        let starts = starts.iter().map(|&(item, at_mm)| RayStart { item: item.into(), at_mm }).collect();
        Ray { direction, pull, starts }
    }

    #[test]
    fn a_ray_meets_a_face_of_an_octahedron_where_its_equation_says() {
        let mut finder = Finder::default();
        let middle = [100.0, 40.0, 60.0];
        let (points, triangles) = octahedron(middle.map(|c| c as f32), 32.0);
        finder.take("a", Some("a-1".into()), [0.0; 3], &points, &triangles);
        // It runs against all four upper faces, and the body is convex: whichever of their points it
        // is sent through is the one it meets first. Source: elementary.
        let direction = [0.25, -0.125, -1.0];
        for (i, k) in (-9..=9).flat_map(|i| (-9..=9).map(move |k| (i, k))) {
            let (x, y) = (f64::from(i) * 3.0 + 0.3, f64::from(k) * 3.0 + 0.7);
            let z = 32.0 - x.abs() - y.abs();
            let point = vec3::add(middle, [x, y, z]);
            let start = vec3::sub(point, vec3::scale(direction, OUTSIDE_MM));
            let met = finder.find(&ray(&[("a", start)], direction, 0.0));
            if z > 0.0 {
                let met = met.unwrap();
                assert_eq!(met.piece.as_deref(), Some("a-1"));
                assert!(vec3::length(vec3::sub(met.at_mm, point)) < 1e-8, "{:?} {point:?}", met.at_mm);
            }
        }
        assert_eq!(finder.find(&ray(&[("a", [140.0, 40.0, 500.0])], [0.0, 0.0, -1.0], 0.0)), None);
    }

    #[test]
    fn parts_are_met_where_they_were_pulled_to_and_told_where_they_lie_in_the_item() {
        let mut finder = Finder::default();
        for (piece, x) in [("a-1", 0.0), ("a-2", 60.0)] {
            let (points, triangles) = octahedron([x, 0.0, 0.0], 20.0);
            let away = if x > 0.0 { 30.0 } else { -30.0 };
            finder.take("a", Some(piece.into()), [away, 0.0, 0.0], &points, &triangles);
        }
        let down = |x: f64, pull: f64| finder.find(&ray(&[("a", [x, 0.0, 100.0])], [0.0, 0.0, -2.0], pull));
        let place = |x: f64| [x, 0.0, 20.0];
        let met = |piece: &str, at_mm| Some(Met { item: "a".into(), piece: Some(piece.into()), at_mm });
        assert_eq!(down(60.0, 0.0), met("a-2", place(60.0)));
        assert_eq!(down(60.0, 1.0), None);
        assert_eq!(down(90.0, 1.0), met("a-2", place(60.0)));
        assert_eq!(down(75.0, 0.5), met("a-2", place(60.0)));
        assert_eq!(down(-30.0, 1.0), met("a-1", place(0.0)));
    }

    #[test]
    fn of_items_in_a_row_the_nearer_is_met_until_it_is_forgotten() {
        let mut finder = Finder::default();
        let (points, triangles) = octahedron([0.0; 3], 20.0);
        finder.take("near", None, [0.0; 3], &points, &triangles);
        finder.take("far", Some("far-1".into()), [0.0; 3], &points, &triangles);
        finder.take("empty", None, [0.0; 3], &[], &[]);
        // The far item stands 100 mm behind the near one: for it the ray starts as much farther away.
        let starts = [
            ("far", [200.0, 0.0, 0.0]),
            ("near", [100.0, 0.0, 0.0]),
            ("empty", [0.0; 3]),
            ("unknown", [0.0; 3]),
        ];
        let both = ray(&starts, [-1.0, 0.0, 0.0], 0.0);
        let due = |item: &str, piece: Option<&str>| {
            Some(Met { item: item.into(), piece: piece.map(String::from), at_mm: [20.0, 0.0, 0.0] })
        };
        assert_eq!(finder.find(&both), due("near", None));
        finder.forget("near");
        assert_eq!(finder.find(&both), due("far", Some("far-1")));
    }
}
