//! How many lumps a mesh holds: what would fall apart in the hand.
//!
//! How: bodies whose surfaces come within 0.05 mm are joined; a body inside the solid of another
//! (it contains a point of it and no cavity of its own does) is joined with it; a body in a cavity
//! stays apart, so a ball rattling in a hollow is a second lump.
//! Needs: closed bodies. Containment is asked by the solid angle a body fills around a point.
//! Source: solid angle of a triangle, "The Solid Angle of a Plane Triangle", IEEE Transactions on
//! Biomedical Engineering 30 (1983) 125-126 (from memory).

use seamwright_mesh::spatial::{Tree, overlapping_boxes};

use super::stl::{Edges, Mesh, Sets, box_of, cross, dot, sub};

/// Bodies closer than this are one lump (contract).
const TOUCH_MM: f64 = 0.05;

struct Body {
    points: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    bounds: ([f64; 3], [f64; 3]),
    volume_mm3: f64,
}

/// Number of lumps of `mesh`, whose bodies are numbered in `edges`.
pub(super) fn count_lumps(mesh: &Mesh, edges: &Edges) -> usize {
    lump_of_bodies(mesh, edges).1
}

/// The lump of each body, and how many lumps there are.
pub(super) fn lump_of_bodies(mesh: &Mesh, edges: &Edges) -> (Vec<u32>, usize) {
    if edges.n_bodies <= 1 {
        return (vec![0; edges.n_bodies], edges.n_bodies);
    }
    let bodies = bodies_of(mesh, edges);
    let mut sets = Sets::new(bodies.len());
    join_touching(&bodies, &mut sets);
    join_nested(&bodies, &mut sets);
    sets.numbered()
}

fn bodies_of(mesh: &Mesh, edges: &Edges) -> Vec<Body> {
    let mut triangles = vec![Vec::new(); edges.n_bodies];
    for (t, &body) in mesh.triangles.iter().zip(&edges.body) {
        triangles[body as usize].push(*t);
    }
    let mut local = vec![u32::MAX; mesh.points.len()];
    triangles
        .into_iter()
        .map(|mut triangles| {
            let mut points = Vec::new();
            let mut used = Vec::new();
            for corner in triangles.iter_mut().flatten() {
                let global = *corner as usize;
                if local[global] == u32::MAX {
                    local[global] = points.len() as u32;
                    points.push(mesh.points[global]);
                    used.push(global);
                }
                *corner = local[global];
            }
            used.into_iter().for_each(|global| local[global] = u32::MAX);
            let part = Mesh { points, triangles };
            let volume_mm3 = part.volume_mm3();
            Body { bounds: box_of(&part.points), points: part.points, triangles: part.triangles, volume_mm3 }
        })
        .collect()
}

fn join_touching(bodies: &[Body], sets: &mut Sets) {
    let boxes: Vec<_> = bodies.iter().map(|b| b.bounds).collect();
    let trees: Vec<_> = bodies.iter().map(|b| Tree::new(b.points.clone(), b.triangles.clone())).collect();
    for (i, j) in overlapping_boxes(&boxes, 0.5 * TOUCH_MM) {
        if sets.find(i as u32) == sets.find(j as u32) {
            continue;
        }
        let (few, many) =
            if bodies[i].triangles.len() <= bodies[j].triangles.len() { (i, j) } else { (j, i) };
        let touches = trees[many].as_ref().is_some_and(|tree| {
            bodies[few]
                .triangles
                .iter()
                .any(|t| tree.near_triangle(t.map(|corner| bodies[few].points[corner as usize]), TOUCH_MM))
        });
        if touches {
            sets.join(i as u32, j as u32);
        }
    }
}

fn join_nested(bodies: &[Body], sets: &mut Sets) {
    // containers[i]: bodies that hold a point of body i, smallest first.
    let containers: Vec<Vec<usize>> = (0..bodies.len())
        .map(|i| {
            let p = bodies[i].points[0];
            let mut holders: Vec<usize> =
                (0..bodies.len()).filter(|&j| j != i && holds(&bodies[j], p)).collect();
            holders.sort_by(|&a, &b| bodies[a].volume_mm3.abs().total_cmp(&bodies[b].volume_mm3.abs()));
            holders
        })
        .collect();
    // A cavity belongs to the smallest solid body around it.
    let owner: Vec<Option<usize>> = (0..bodies.len())
        .map(|i| {
            (bodies[i].volume_mm3 < 0.0)
                .then(|| containers[i].iter().copied().find(|&j| bodies[j].volume_mm3 > 0.0))
                .flatten()
        })
        .collect();
    for i in 0..bodies.len() {
        if bodies[i].volume_mm3 < 0.0 {
            if let Some(owner) = owner[i] {
                sets.join(i as u32, owner as u32);
            }
            continue;
        }
        for &j in &containers[i] {
            let in_cavity_of_j = containers[i].iter().any(|&k| owner[k] == Some(j));
            if bodies[j].volume_mm3 > 0.0 && !in_cavity_of_j {
                sets.join(i as u32, j as u32);
            }
        }
    }
}

/// Whether a closed body holds a point, whichever way it faces.
fn holds(body: &Body, p: [f64; 3]) -> bool {
    let (low, high) = body.bounds;
    if (0..3).any(|k| p[k] < low[k] || p[k] > high[k]) {
        return false;
    }
    winding(&body.points, &body.triangles, p).abs() > 0.5
}

/// How often closed triangles wind around a point: 1 inside an outward body, 0 outside.
pub(super) fn winding(points: &[[f64; 3]], triangles: &[[u32; 3]], p: [f64; 3]) -> f64 {
    let mut angle = 0.0;
    for t in triangles {
        let [a, b, c] = t.map(|i| sub(points[i as usize], p));
        let [la, lb, lc] = [a, b, c].map(|v| dot(v, v).sqrt());
        let top = dot(a, cross(b, c));
        let bottom = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb;
        angle += 2.0 * libm::atan2(top, bottom);
    }
    angle / (4.0 * std::f64::consts::PI)
}
