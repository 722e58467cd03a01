//! Fill the section of one group by triangles: the cut face.
//!
//! How: constrained triangulation of the section lines in the coordinate plane the cut leans to
//! most (whole grid steps, so predicates are exact), then a flood fill of winding numbers from
//! outside; a face inside the material is laid once. The boundary of the faces equals the section
//! lines by construction.
//! A surface that runs through itself winds twice round some of its section, or the wrong way:
//! then each level of winding is triangulated by itself, so that no two levels share their inner
//! edges. The levels overlap; that area is reported, so that a planner can move the plane.
//! Lines that cross each other must be split first (`meetings.rs`).
//! Source: constrained Delaunay triangulation by the crate `spade`; flood fill, levels and ears are
//! ours.

use crate::edges::{QuickMap, edge_key};
use spade::handles::{DirectedEdgeHandle, FaceHandle, FixedVertexHandle, PossiblyOuterTag};
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};
use std::collections::BTreeMap;

/// Triangles of a cut face as indices into the given points, counter-clockwise in the 2D frame.
pub(crate) struct Cap {
    pub triangles: Vec<[u32; 3]>,
    /// Area of the triangles beyond a single layer, in square steps; 0 for a sound surface.
    pub rough_steps2: f64,
}

type Cdt = ConstrainedDelaunayTriangulation<Point2<f64>>;

/// Fills the region left of the directed `lines`, given as (from, to, how often); `None` where
/// lines cross or run through the end of another.
pub(crate) fn fill(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Option<Cap> {
    let net = triangulated(points, lines)?;
    let winding = flood(&net, lines)?;
    let inner = || net.cdt.inner_faces().map(|face| winding[face.fix().index()]);
    let (lowest, highest) = inner().fold((0, 0), |(low, high), w| (w.min(low), w.max(high)));
    if lowest == 0 && highest <= 1 {
        return Some(Cap { triangles: net.faces(|face| winding[face] == 1), rough_steps2: 0.0 });
    }
    let mut cap = Cap { triangles: Vec::new(), rough_steps2: 0.0 };
    for level in (lowest..=highest).filter(|&level| level != 0) {
        let within = |face: usize| if level > 0 { winding[face] >= level } else { winding[face] <= level };
        let layer = fill(points, &net.rim(within))?.triangles;
        if level != 1 {
            cap.rough_steps2 += layer.iter().map(|&t| area_steps2(points, t)).sum::<f64>();
        }
        cap.triangles
            .extend(layer.into_iter().map(|[a, b, c]| if level > 0 { [a, b, c] } else { [a, c, b] }));
    }
    Some(cap)
}

/// Fills every loop of lines by itself, whatever it crosses: closed, but overlapping itself.
pub(crate) fn fill_anyhow(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Cap {
    let triangles = by_ears(points, lines);
    let rough_steps2 = triangles.iter().map(|&t| area_steps2(points, t)).sum();
    Cap { triangles, rough_steps2 }
}

fn area_steps2(points: &[[i32; 2]], t: [u32; 3]) -> f64 {
    let [a, b, c] = t.map(|i| points[i as usize].map(f64::from));
    ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs() / 2.0
}

/// A triangulation of the points on lines that keeps every line.
struct Triangulated {
    cdt: Cdt,
    /// Per vertex of the triangulation, the index of its point.
    global: Vec<u32>,
    /// Per line, its two vertices.
    edges: Vec<[usize; 2]>,
}

impl Triangulated {
    /// The chosen faces as triangles of points.
    fn faces(&self, chosen: impl Fn(usize) -> bool) -> Vec<[u32; 3]> {
        let faces = self.cdt.inner_faces().filter(|face| chosen(face.fix().index()));
        faces.map(|face| face.vertices().map(|v| self.global[v.fix().index()])).collect()
    }

    /// The lines round the chosen faces, which lie left of them.
    fn rim(&self, chosen: impl Fn(usize) -> bool) -> Vec<(u32, u32, i32)> {
        let inside = |face: FaceHandle<'_, PossiblyOuterTag, _, _, _, _>| {
            !face.is_outer() && chosen(face.fix().index())
        };
        let edges =
            self.cdt.directed_edges().filter(|edge| inside(edge.face()) && !inside(edge.rev().face()));
        edges
            .map(|edge| (self.global[edge.from().fix().index()], self.global[edge.to().fix().index()], 1))
            .collect()
    }
}

fn triangulated(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Option<Triangulated> {
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
    let kept = |edge: &[usize; 2]| {
        let [a, b] = edge.map(FixedVertexHandle::from_index);
        cdt.get_edge_from_neighbors(a, b).is_some_and(|edge| edge.is_constraint_edge())
    };
    let whole = conflicts == 0 && cdt.num_vertices() == global.len() && edges.iter().all(kept);
    whole.then_some(Triangulated { cdt, global, edges })
}

/// How often the lines wind round each face, by crossing from face to face.
fn flood(net: &Triangulated, lines: &[(u32, u32, i32)]) -> Option<Vec<i32>> {
    let cdt = &net.cdt;
    // How often each line runs from its smaller vertex to its larger.
    let mut forward: QuickMap<u64, i32> = QuickMap::default();
    for (edge, line) in net.edges.iter().zip(lines) {
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
    Some(winding)
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
