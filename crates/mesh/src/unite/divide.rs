//! Divide triangles along the lines in which others meet them.
//!
//! How: a constrained triangulation of the triangle's rim, with the nodes on it, and the lines within, in the
//! coordinate plane it leans to; what lies outside the rim (nodes on it are rounded) is left out.
//! Source: constrained Delaunay triangulation by the crate `spade`.

use super::meet::Net;
use super::{Mesh, Touching};
use crate::edges::{QuickMap, QuickSet, edge_key};
use crate::vec3;
use spade::handles::FixedVertexHandle;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};
use std::collections::VecDeque;

type Cdt = ConstrainedDelaunayTriangulation<Point2<f64>>;

/// All triangles, those that are met divided.
#[derive(Debug, Default)]
pub(super) struct Parts {
    /// In grid steps.
    pub nodes: Vec<[f64; 3]>,
    pub triangles: Vec<[u32; 3]>,
    /// Of which triangle of the mesh each is part.
    pub of: Vec<u32>,
    /// Edges that lie on a line: which meeting, and whether its nodes run from the lower node to the higher.
    pub on_line: QuickMap<u64, Line>,
}

/// A meeting seen from an edge on its line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    /// The two triangles, the lower first.
    pub triangles: [u32; 2],
    /// Its nodes run from the lower to the higher end of the edge.
    pub runs_up: bool,
}

/// Divides what is met.
///
/// # Errors
/// [`Touching`]: lines of a triangle fall on each other.
pub(super) fn divided(mesh: &Mesh, net: &Net) -> Result<Parts, Touching> {
    let mut parts = Parts { nodes: net.nodes.clone(), ..Parts::default() };
    for meeting in &net.meetings {
        for pair in meeting.nodes.windows(2) {
            let line = Line { triangles: meeting.triangles, runs_up: pair[0] < pair[1] };
            if parts.on_line.insert(edge_key(pair[0], pair[1]), line).is_some() {
                return Err(touching(mesh, meeting.triangles));
            }
        }
    }
    for triangle in 0..mesh.triangles.len() as u32 {
        let rim = rim(mesh, net, triangle);
        let lines = net.of_triangle.get(&triangle);
        if rim.len() == 3 && lines.is_none() {
            parts.triangles.push(mesh.triangles[triangle as usize]);
            parts.of.push(triangle);
            continue;
        }
        let lines = lines.into_iter().flatten().map(|&line| &net.meetings[line as usize].nodes[..]);
        let Some(divided) = divide(mesh, net, triangle, &rim, lines) else {
            let met = net.of_triangle.get(&triangle).and_then(|lines| lines.first());
            let pair = met.map_or([triangle; 2], |&line| net.meetings[line as usize].triangles);
            return Err(touching(mesh, pair));
        };
        parts.of.extend(std::iter::repeat_n(triangle, divided.len()));
        parts.triangles.extend(divided);
    }
    Ok(parts)
}

fn touching(mesh: &Mesh, triangles: [u32; 2]) -> Touching {
    let bodies = vec![triangles.map(|t| mesh.body_of[t as usize])];
    Touching { bodies, at_mm: mesh.corners_mm(triangles[0])[0] }
}

/// Nodes round a triangle, as it runs.
fn rim(mesh: &Mesh, net: &Net, triangle: u32) -> Vec<u32> {
    let corners = mesh.triangles[triangle as usize];
    let mut rim = Vec::with_capacity(3);
    for i in 0..3 {
        let (from, to) = (corners[i], corners[(i + 1) % 3]);
        rim.push(from);
        if let Some(nodes) = net.on_edge.get(&edge_key(from, to)) {
            if from < to { rim.extend(nodes) } else { rim.extend(nodes.iter().rev()) }
        }
    }
    rim
}

/// The parts of a triangle; `None` where its lines cross elsewhere than in their nodes.
fn divide<'a>(
    mesh: &Mesh,
    net: &Net,
    triangle: u32,
    rim: &[u32],
    lines: impl Iterator<Item = &'a [u32]>,
) -> Option<Vec<[u32; 3]>> {
    let corners = mesh.corners(triangle).map(|p| p.map(f64::from));
    let normal = vec3::cross(vec3::sub(corners[1], corners[0]), vec3::sub(corners[2], corners[0]));
    let axis = (0..3).fold(0, |best, i| if normal[i].abs() > normal[best].abs() { i } else { best });
    // In the plane of the other two axes, turned so that the triangle runs counter-clockwise.
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let (u, v) = if normal[axis] > 0.0 { (u, v) } else { (v, u) };
    let flat = |node: u32| {
        let at = vec3::sub(net.nodes[node as usize], corners[0]);
        Point2::new(at[u], at[v])
    };
    let mut name_of: QuickMap<u32, usize> = QuickMap::default();
    let (mut nodes, mut places) = (Vec::new(), Vec::new());
    let mut name = |node: u32| {
        *name_of.entry(node).or_insert_with(|| {
            nodes.push(node);
            places.push(flat(node));
            nodes.len() - 1
        })
    };
    let rim: Vec<usize> = rim.iter().map(|&node| name(node)).collect();
    let mut edges: Vec<[usize; 2]> = (0..rim.len()).map(|i| [rim[i], rim[(i + 1) % rim.len()]]).collect();
    let n_rim = edges.len();
    for line in lines {
        edges.extend(line.windows(2).map(|pair| [name(pair[0]), name(pair[1])]));
    }
    let mut conflicts = 0;
    let cdt = Cdt::try_bulk_load_cdt(places, edges.clone(), |_| conflicts += 1).ok()?;
    if conflicts > 0 || cdt.num_vertices() != nodes.len() {
        return None;
    }
    let edge = |ends: [usize; 2]| {
        let [a, b] = ends.map(FixedVertexHandle::from_index);
        cdt.get_edge_from_neighbors(a, b).filter(|edge| edge.is_constraint_edge())
    };
    if edges.iter().any(|&ends| edge(ends).is_none()) {
        return None;
    }
    // Inside is left of the rim, and what is reached from there without crossing it.
    let is_rim: QuickSet<u64> = edges[..n_rim].iter().map(|&[a, b]| edge_key(a as u32, b as u32)).collect();
    let mut is_inside = vec![false; cdt.num_all_faces()];
    let mut waiting: VecDeque<_> =
        edges[..n_rim].iter().filter_map(|&ends| edge(ends)).map(|edge| edge.face()).collect();
    while let Some(face) = waiting.pop_front() {
        let Some(face) = face.as_inner() else { continue };
        let slot = &mut is_inside[face.fix().index()];
        if std::mem::replace(slot, true) {
            continue;
        }
        for edge in face.adjacent_edges() {
            let [a, b] = [edge.from(), edge.to()].map(|v| v.fix().index() as u32);
            if !is_rim.contains(&edge_key(a, b)) {
                waiting.push_back(edge.rev().face());
            }
        }
    }
    let inside = cdt.inner_faces().filter(|face| is_inside[face.fix().index()]);
    Some(inside.map(|face| face.vertices().map(|v| nodes[v.fix().index()])).collect())
}
