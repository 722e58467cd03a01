//! Fill the section of one group by triangles: the cut face.
//!
//! How: constrained triangulation of the section lines in the coordinate plane the cut leans to
//! most (whole grid steps, so predicates are exact), then a flood fill of winding numbers from
//! outside; a face inside the material is laid once. The boundary of the faces equals the section
//! lines by construction.
//! Where lines cross each other (a surface that runs through itself) the triangulation cannot keep
//! them all. Then faces are chosen by the winding number at their middle, and what their boundary
//! lacks of the lines, small loops round the crossings, is filled by clipping ears. The result is
//! closed but overlaps itself there; that area is reported, so that a planner can move the plane.
//! Source: constrained Delaunay triangulation by the crate `spade`; flood fill and ears are ours.

use crate::edges::{QuickMap, edge_key};
use spade::handles::{DirectedEdgeHandle, FixedVertexHandle};
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};
use std::collections::BTreeMap;

/// Triangles of a cut face as indices into the given points, counter-clockwise in the 2D frame.
pub(crate) struct Cap {
    pub triangles: Vec<[u32; 3]>,
    /// Whether lines cross, so that some triangles overlap.
    pub crossed: bool,
    /// Area of the triangles that had to be added by ears, in square steps.
    pub rough_steps2: f64,
}

type Cdt = ConstrainedDelaunayTriangulation<Point2<f64>>;

/// Fills the region left of the directed `lines`, given as (from, to, how often).
pub(crate) fn fill(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Cap {
    let Some(load) = load(points, lines) else {
        let triangles = by_ears(points, lines);
        let rough_steps2 = triangles.iter().map(|&t| area_steps2(points, t)).sum();
        return Cap { triangles, crossed: true, rough_steps2 };
    };
    if load.whole
        && let Some(triangles) = flood(&load, lines)
    {
        return Cap { triangles, crossed: false, rough_steps2: 0.0 };
    }
    let mut triangles = by_winding(&load, points, lines);
    let added = by_ears(points, &missing(&triangles, lines));
    let rough_steps2 = added.iter().map(|&t| area_steps2(points, t)).sum();
    triangles.extend(added);
    Cap { triangles, crossed: true, rough_steps2 }
}

fn area_steps2(points: &[[i32; 2]], t: [u32; 3]) -> f64 {
    let [a, b, c] = t.map(|i| points[i as usize].map(f64::from));
    ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs() / 2.0
}

/// A triangulation of the points on lines, with as many lines as it can keep.
struct Load {
    cdt: Cdt,
    /// Per vertex of the triangulation, the index of its point.
    global: Vec<u32>,
    /// Per line, its two vertices.
    edges: Vec<[usize; 2]>,
    /// Whether it keeps every line.
    whole: bool,
}

fn load(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Option<Load> {
    let mut local = vec![u32::MAX; points.len()];
    let mut global = Vec::new();
    let mut name = |point: u32| {
        let slot = &mut local[point as usize];
        if *slot == u32::MAX {
            *slot = global.len() as u32;
            global.push(point);
        }
        *slot as usize
    };
    let edges: Vec<[usize; 2]> = lines.iter().map(|&(from, to, _)| [name(from), name(to)]).collect();
    let vertices: Vec<Point2<f64>> = global
        .iter()
        .map(|&i| Point2::new(f64::from(points[i as usize][0]), f64::from(points[i as usize][1])))
        .collect();
    let mut conflicts = 0;
    let cdt = Cdt::try_bulk_load_cdt(vertices, edges.clone(), |_| conflicts += 1).ok()?;
    if cdt.num_vertices() != global.len() {
        return None;
    }
    let kept = |edge: &[usize; 2]| {
        let [a, b] = edge.map(FixedVertexHandle::from_index);
        cdt.get_edge_from_neighbors(a, b).is_some_and(|edge| edge.is_constraint_edge())
    };
    let whole = conflicts == 0 && edges.iter().all(kept);
    Some(Load { cdt, global, edges, whole })
}

/// Faces inside the material, by crossing from face to face; `None` where some part is inside
/// twice or inside out.
fn flood(load: &Load, lines: &[(u32, u32, i32)]) -> Option<Vec<[u32; 3]>> {
    let cdt = &load.cdt;
    // How often each line runs from its smaller vertex to its larger.
    let mut forward: QuickMap<u64, i32> = QuickMap::default();
    for (edge, line) in load.edges.iter().zip(lines) {
        let sign = if edge[0] < edge[1] { line.2 } else { -line.2 };
        *forward.entry(edge_key(edge[0] as u32, edge[1] as u32)).or_default() += sign;
    }
    // Winding left of a line = winding right of it + how often it runs that way.
    let beyond = |edge: DirectedEdgeHandle<'_, Point2<f64>, (), spade::CdtEdge<()>, ()>, here: i32| {
        let (a, b) = (edge.from().fix().index() as u32, edge.to().fix().index() as u32);
        let runs = forward.get(&edge_key(a, b)).copied().unwrap_or(0);
        here - if a < b { runs } else { -runs }
    };
    let mut winding = vec![i32::MIN; cdt.num_all_faces()];
    winding[cdt.outer_face().fix().index()] = 0;
    let mut queue = std::collections::VecDeque::new();
    for edge in cdt.directed_edges().filter(|edge| edge.is_outer_edge()) {
        let face = edge.rev().face();
        if !face.is_outer() && winding[face.fix().index()] == i32::MIN {
            winding[face.fix().index()] = beyond(edge, 0);
            queue.push_back(face.fix());
        }
    }
    while let Some(at) = queue.pop_front() {
        let here = winding[at.index()];
        for edge in cdt.face(at).as_inner()?.adjacent_edges() {
            let face = edge.rev().face();
            if !face.is_outer() && winding[face.fix().index()] == i32::MIN {
                winding[face.fix().index()] = beyond(edge, here);
                queue.push_back(face.fix());
            }
        }
    }
    let mut triangles = Vec::new();
    for face in cdt.inner_faces() {
        match winding[face.fix().index()] {
            0 => {}
            1 => triangles.push(face.vertices().map(|v| load.global[v.fix().index()])),
            _ => return None,
        }
    }
    Some(triangles)
}

/// Faces whose middle the lines wind round at least once: slow, but needs no line kept.
fn by_winding(load: &Load, points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Vec<[u32; 3]> {
    let ends: Vec<([f64; 2], [f64; 2], i32)> = lines
        .iter()
        .map(|&(a, b, n)| (points[a as usize].map(f64::from), points[b as usize].map(f64::from), n))
        .collect();
    let faces = load.cdt.inner_faces().map(|face| face.vertices().map(|v| load.global[v.fix().index()]));
    faces
        .filter(|t| {
            let c = t.map(|i| points[i as usize].map(f64::from));
            let at: [f64; 2] = std::array::from_fn(|i| (c[0][i] + c[1][i] + c[2][i]) / 3.0);
            // Lines that cross the ray to the right of the middle, upward ones counted positive.
            let turns: i32 = ends
                .iter()
                .map(|&(p, q, n)| {
                    if (p[1] <= at[1]) == (q[1] <= at[1]) {
                        return 0;
                    }
                    let x = p[0] + (q[0] - p[0]) * (at[1] - p[1]) / (q[1] - p[1]);
                    if x <= at[0] {
                        0
                    } else if q[1] > p[1] {
                        n
                    } else {
                        -n
                    }
                })
                .sum();
            turns > 0
        })
        .collect()
}

/// What the boundary of `triangles` lacks of `lines`, or has beyond them the other way round.
fn missing(triangles: &[[u32; 3]], lines: &[(u32, u32, i32)]) -> Vec<(u32, u32, i32)> {
    let mut net: BTreeMap<(u32, u32), i32> = BTreeMap::new();
    let mut add = |a: u32, b: u32, n: i32| {
        if a < b {
            *net.entry((a, b)).or_default() += n;
        } else {
            *net.entry((b, a)).or_default() -= n;
        }
    };
    lines.iter().for_each(|&(a, b, n)| add(a, b, n));
    for t in triangles {
        for i in 0..3 {
            add(t[i], t[(i + 1) % 3], -1);
        }
    }
    let left = net.into_iter().filter(|(_, n)| *n != 0);
    left.map(|((a, b), n)| if n > 0 { (a, b, n) } else { (b, a, -n) }).collect()
}

/// Fills every loop of lines by itself, whatever it crosses.
fn by_ears(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Vec<[u32; 3]> {
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(from, to, times) in lines {
        for _ in 0..times {
            next.entry(from).or_default().push(to);
        }
    }
    let mut triangles = Vec::new();
    while let Some((&start, _)) = next.iter().find(|(_, to)| !to.is_empty()) {
        let mut ring = vec![start];
        let mut at = start;
        while let Some(to) = next.get_mut(&at).and_then(Vec::pop) {
            if to == start {
                break;
            }
            ring.push(to);
            at = to;
        }
        clip_ears(points, ring, &mut triangles);
    }
    triangles
}

fn clip_ears(points: &[[i32; 2]], mut ring: Vec<u32>, triangles: &mut Vec<[u32; 3]>) {
    let at = |i: u32| points[i as usize].map(i64::from);
    let turn = |a: u32, b: u32, c: u32| {
        let (a, b, c) = (at(a), at(b), at(c));
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let doubled: i64 = (0..ring.len())
        .map(|i| {
            let (a, b) = (at(ring[i]), at(ring[(i + 1) % ring.len()]));
            a[0] * b[1] - a[1] * b[0]
        })
        .sum();
    let sense = doubled.signum();
    while ring.len() > 3 {
        let n = ring.len();
        let corner = |i: usize| (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        let free = |i: usize| {
            let (a, b, c) = corner(i);
            turn(a, b, c) * sense > 0
                && !ring.iter().any(|&p| {
                    p != a
                        && p != b
                        && p != c
                        && [(a, b), (b, c), (c, a)].iter().all(|&(u, v)| turn(u, v, p) * sense >= 0)
                })
        };
        // Where no ear is free the ring crosses itself; any corner keeps the face closed.
        let ear = (0..n).find(|&i| free(i)).unwrap_or(1);
        let (a, b, c) = corner(ear);
        if a != b && b != c && c != a {
            triangles.push([a, b, c]);
        }
        ring.remove(ear);
    }
    if let [a, b, c] = ring[..]
        && a != b
        && b != c
        && c != a
    {
        triangles.push([a, b, c]);
    }
}
