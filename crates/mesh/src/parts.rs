//! Things in one file that stand apart, offered as items of their own.
//!
//! How: triangles that share a joined point are one body; bodies that come within the gap of each
//! other, directly or through others, are one cluster. Boxes decide first, then the surfaces.
//! Cost: a search tree a body that has a near neighbour, one distance a pair of near bodies.
//! Not here: lumps of a cut piece (`lumps.rs`), which touch within 0.05 mm.

use crate::edges::Joined;
use crate::model::{Model, Part};
use crate::spatial::{self, Tree};

/// Bodies this far apart, in mm, are items of their own if the person says so. Own choice.
pub const APART_MM: f64 = 1.0;
/// A gap drawn as 1 mm is apart although rounding in the file shortens it a little, in mm.
const ROUNDING_MM: f64 = 1e-3;
/// A file with more bodies is a loose heap of triangles, not a tray of parts: one cluster.
const MAX_BODIES: usize = 5_000;

/// The clusters of a model in file order, each as one part in file units; one alone if nothing
/// stands apart. `mm_per_unit` is the size of a file unit after scaling.
pub fn standing_apart(model: &Model, mm_per_unit: f64) -> Vec<Part> {
    let whole = merged(model);
    let mut bodies = body_of_triangle(&whole);
    let mut names: Vec<u32> = bodies.clone();
    names.sort_unstable();
    names.dedup();
    if names.len() > 1 && names.len() <= MAX_BODIES {
        let cluster_of = clusters(&whole, &bodies, &names, mm_per_unit);
        for body in &mut bodies {
            *body = cluster_of[names.binary_search(body).unwrap_or(0)];
        }
    } else {
        bodies.fill(0);
    }
    // Clusters are named by a body number, smallest first triangle first.
    let mut order: Vec<u32> = bodies.clone();
    order.sort_unstable();
    order.dedup();
    order.iter().map(|&cluster| extract(model, &whole, &bodies, cluster)).collect()
}

struct Whole {
    points: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    /// Per triangle: the part of the model it is from.
    part: Vec<u32>,
}

fn merged(model: &Model) -> Whole {
    let mut whole = Whole { points: Vec::new(), triangles: Vec::new(), part: Vec::new() };
    for (index, part) in model.parts.iter().enumerate() {
        let first = whole.points.len() as u32;
        whole.points.extend_from_slice(&part.points);
        whole.triangles.extend(part.triangles.iter().map(|t| t.map(|i| i + first)));
        whole.part.resize(whole.triangles.len(), index as u32);
    }
    whole
}

/// Per triangle: the first triangle of its body.
fn body_of_triangle(whole: &Whole) -> Vec<u32> {
    let key = |i: u32| whole.points[i as usize].map(f64::to_bits);
    let mut order: Vec<u32> = (0..whole.points.len() as u32).collect();
    order.sort_unstable_by_key(|&i| (key(i), i));
    let mut joined = Joined::new(whole.points.len());
    for pair in order.windows(2).filter(|pair| key(pair[0]) == key(pair[1])) {
        joined.join(pair[0], pair[1]);
    }
    for t in &whole.triangles {
        joined.join(t[0], t[1]);
        joined.join(t[1], t[2]);
    }
    let mut first_of = vec![u32::MAX; whole.points.len()];
    let triangles = whole.triangles.iter().enumerate();
    triangles
        .map(|(index, t)| {
            let first = &mut first_of[joined.find(t[0]) as usize];
            *first = (*first).min(index as u32);
            *first
        })
        .collect()
}

/// Per body (in the order of `names`): the name of its cluster.
fn clusters(whole: &Whole, bodies: &[u32], names: &[u32], mm_per_unit: f64) -> Vec<u32> {
    let mut lists: Vec<Vec<[u32; 3]>> = vec![Vec::new(); names.len()];
    for (triangle, body) in whole.triangles.iter().zip(bodies) {
        lists[names.binary_search(body).unwrap_or(0)].push(*triangle);
    }
    let boxes: Vec<_> = lists.iter().map(|list| box_of(whole, list, mm_per_unit)).collect();
    let mut trees: Vec<Option<Tree>> = names.iter().map(|_| None).collect();
    let mut joined = Joined::new(names.len());
    for (a, b) in spatial::overlapping_boxes(&boxes, 0.5 * APART_MM) {
        if joined.find(a as u32) == joined.find(b as u32) {
            continue;
        }
        // The smaller body's triangles against the larger one's tree.
        let (few, many) = if lists[a].len() < lists[b].len() { (a, b) } else { (b, a) };
        if trees[many].is_none() {
            trees[many] = tree_of(whole, &lists[many], mm_per_unit);
        }
        // One inside another is one thing too, however far the walls are apart.
        let near = inside(&boxes[a], &boxes[b])
            || trees[many].as_ref().is_some_and(|tree| {
                lists[few]
                    .iter()
                    .any(|t| tree.near_triangle(corners_mm(whole, t, mm_per_unit), APART_MM - ROUNDING_MM))
            });
        if near {
            joined.join(a as u32, b as u32);
        }
    }
    (0..names.len() as u32).map(|body| names[joined.find(body) as usize]).collect()
}

/// Whether one box lies in the other.
fn inside(a: &([f64; 3], [f64; 3]), b: &([f64; 3], [f64; 3])) -> bool {
    let holds = |outer: &([f64; 3], [f64; 3]), inner: &([f64; 3], [f64; 3])| {
        (0..3).all(|axis| outer.0[axis] <= inner.0[axis] && inner.1[axis] <= outer.1[axis])
    };
    holds(a, b) || holds(b, a)
}

fn box_of(whole: &Whole, triangles: &[[u32; 3]], mm_per_unit: f64) -> ([f64; 3], [f64; 3]) {
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for &corner in triangles.iter().flatten() {
        for axis in 0..3 {
            let mm = mm_per_unit * whole.points[corner as usize][axis];
            low[axis] = low[axis].min(mm);
            high[axis] = high[axis].max(mm);
        }
    }
    (low, high)
}

fn corners_mm(whole: &Whole, triangle: &[u32; 3], mm_per_unit: f64) -> [[f64; 3]; 3] {
    triangle.map(|i| whole.points[i as usize].map(|value| mm_per_unit * value))
}

/// A tree over the triangles with points of their own, so that many bodies do not each copy all.
fn tree_of(whole: &Whole, triangles: &[[u32; 3]], mm_per_unit: f64) -> Option<Tree> {
    let points = triangles.iter().flat_map(|t| corners_mm(whole, t, mm_per_unit)).collect();
    let triangles = (0..triangles.len() as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
    Tree::new(points, triangles)
}

/// The triangles of one cluster with the points they use, named after the part with most of them.
fn extract(model: &Model, whole: &Whole, clusters: &[u32], cluster: u32) -> Part {
    let mut part = Part::default();
    let mut copies = vec![u32::MAX; whole.points.len()];
    let mut n_from = vec![0usize; model.parts.len()];
    for (index, triangle) in
        whole.triangles.iter().enumerate().filter(|(index, _)| clusters[*index] == cluster)
    {
        n_from[whole.part[index] as usize] += 1;
        part.triangles.push(triangle.map(|corner| {
            let copy = &mut copies[corner as usize];
            if *copy == u32::MAX {
                *copy = part.points.len() as u32;
                part.points.push(whole.points[corner as usize]);
            }
            *copy
        }));
    }
    // The first of the largest, so that ties follow file order.
    let largest = (0..n_from.len()).rev().max_by_key(|&index| n_from[index]);
    part.name = largest.map(|index| model.parts[index].name.clone()).unwrap_or_default();
    part
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tetrahedron(name: &str, at: [f64; 3]) -> Part {
        let corners = [[0., 0., 0.], [10., 0., 0.], [0., 10., 0.], [0., 0., 10.]];
        Part {
            name: name.into(),
            points: corners.map(|c| crate::vec3::add(c, at)).to_vec(),
            triangles: vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]],
        }
    }

    #[test]
    fn bodies_a_millimetre_apart_are_items_and_nearer_ones_are_not() {
        let model = Model {
            parts: vec![
                tetrahedron("a", [0.0; 3]),
                tetrahedron("far", [50.0, 0.0, 0.0]),
                tetrahedron("near a", [-10.9, 0.0, 0.0]),
                tetrahedron("apart from a", [0.0, 0.0, 11.1]),
            ],
            ..Model::default()
        };
        let found = standing_apart(&model, 1.0);
        let names: Vec<(&str, usize)> =
            found.iter().map(|part| (part.name.as_str(), part.triangles.len())).collect();
        assert_eq!(names, [("a", 8), ("far", 4), ("apart from a", 4)]);
        // In a smaller unit all gaps shrink below the limit.
        assert_eq!(standing_apart(&model, 0.02).len(), 1);
    }

    #[test]
    fn one_part_of_loose_facets_falls_into_its_bodies() {
        let (a, b) = (tetrahedron("", [0.0; 3]), tetrahedron("", [40.0, 0.0, 0.0]));
        let mut soup = Part { name: "tray".into(), ..Part::default() };
        for part in [a, b] {
            for triangle in &part.triangles {
                let first = soup.points.len() as u32;
                soup.points.extend(triangle.map(|i| part.points[i as usize]));
                soup.triangles.push([first, first + 1, first + 2]);
            }
        }
        let found = standing_apart(&Model { parts: vec![soup], ..Model::default() }, 1.0);
        assert_eq!(found.iter().map(|part| part.triangles.len()).collect::<Vec<_>>(), [4, 4]);
        assert!(found.iter().all(|part| part.name == "tray" && part.points.len() == 12));
    }

    #[test]
    fn a_ball_in_a_hollow_ball_is_one_item() {
        let mut hollow = tetrahedron("hollow", [0.0; 3]);
        hollow.points.iter_mut().for_each(|p| *p = crate::vec3::scale(*p, 20.0));
        let model =
            Model { parts: vec![hollow, tetrahedron("ball", [30.0, 30.0, 30.0])], ..Model::default() };
        assert_eq!(standing_apart(&model, 1.0).len(), 1);
    }

    #[test]
    fn clusters_of_the_reference_models_take_no_time() {
        let Some(folder) = std::env::var_os("SEAMWRIGHT_REFERENCE").map(std::path::PathBuf::from) else {
            eprintln!("skipped: clusters_of_the_reference_models: SEAMWRIGHT_REFERENCE is not set");
            return;
        };
        let expected = [
            ("nasty/mail_144_rings.ply", 1.0, 1),
            ("nasty/soup_jitter_1e-4.stl", 1.0, 1),
            ("models/FlightHelmet_merged.ply", 1000.0, 1),
            ("corner/3mf_examples/multiple_cylinders.3mf", 1.0, 6),
        ];
        for (name, mm_per_unit, n_clusters) in expected {
            let model = crate::read::read_model(&std::fs::read(folder.join(name)).unwrap(), name).unwrap();
            let found = standing_apart(&model, mm_per_unit);
            assert_eq!(found.len(), n_clusters, "{name}");
            let n_kept: usize = found.iter().map(|part| part.triangles.len()).sum();
            assert_eq!(n_kept, model.parts.iter().map(|part| part.triangles.len()).sum::<usize>());
        }
    }
}
