//! Fill the section of one group by triangles: the cut face.
//!
//! How: constrained triangulation of the section lines in the coordinate plane the cut leans to
//! most (whole grid steps, so predicates are exact), then a flood fill of winding numbers from
//! outside; a face inside the material is laid once. The boundary of the faces equals the section
//! lines by construction.
//! Where lines cross each other (a surface that runs through itself) the triangulation cannot keep
//! them: then each loop is filled alone by clipping ears. The result is closed but may overlap
//! itself; it is reported as rough so that a planner moves the plane and tries again.
//! Source: constrained Delaunay triangulation by the crate `spade`; flood fill and ears are ours.

use crate::edges::{QuickMap, edge_key};
use spade::handles::FixedVertexHandle;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

/// Triangles of a cut face as indices into the given points, counter-clockwise in the 2D frame.
pub(crate) struct Cap {
    pub triangles: Vec<[u32; 3]>,
    /// Whether ears had to stand in for the triangulation.
    pub rough: bool,
}

/// Fills the region left of the directed `lines`, given as (from, to, how often).
pub(crate) fn fill(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Cap {
    match by_triangulation(points, lines) {
        Some(triangles) => Cap { triangles, rough: false },
        None => Cap { triangles: by_ears(points, lines), rough: true },
    }
}

fn by_triangulation(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Option<Vec<[u32; 3]>> {
    // Only points on lines take part.
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
    let cdt =
        ConstrainedDelaunayTriangulation::<Point2<f64>>::try_bulk_load_cdt(vertices, edges.clone(), |_| {
            conflicts += 1
        })
        .ok()?;
    if conflicts > 0 || cdt.num_vertices() != global.len() {
        return None;
    }
    // How often each line runs from its smaller point to its larger.
    let mut forward: QuickMap<u64, i32> = QuickMap::default();
    for (edge, line) in edges.iter().zip(lines) {
        let [a, b] = edge.map(FixedVertexHandle::from_index);
        cdt.get_edge_from_neighbors(a, b).filter(|edge| edge.is_constraint_edge())?;
        let sign = if edge[0] < edge[1] { line.2 } else { -line.2 };
        *forward.entry(edge_key(edge[0] as u32, edge[1] as u32)).or_default() += sign;
    }
    // Flood: winding left of a line = winding right of it + how often it runs that way.
    let n_faces = cdt.num_all_faces();
    let mut winding = vec![i32::MIN; n_faces];
    let outer = cdt.outer_face().fix();
    winding[outer.index()] = 0;
    let mut queue = std::collections::VecDeque::new();
    // Every hull edge seen from outside starts the flood.
    let step = |edge: spade::handles::DirectedEdgeHandle<'_, Point2<f64>, (), spade::CdtEdge<()>, ()>,
                from: i32| {
        let (a, b) = (edge.from().fix().index() as u32, edge.to().fix().index() as u32);
        let runs = forward.get(&edge_key(a, b)).copied().unwrap_or(0);
        // `edge` has the known face on its left; beyond it, on the right, one less per forward run.
        let along = if a < b { runs } else { -runs };
        from - along
    };
    for edge in cdt.directed_edges().filter(|edge| edge.is_outer_edge()) {
        let beyond = edge.rev().face();
        if !beyond.is_outer() && winding[beyond.fix().index()] == i32::MIN {
            winding[beyond.fix().index()] = step(edge, 0);
            queue.push_back(beyond.fix());
        }
    }
    while let Some(face) = queue.pop_front() {
        let inner = cdt.face(face).as_inner()?;
        let from = winding[face.index()];
        for edge in inner.adjacent_edges() {
            let beyond = edge.rev().face();
            if !beyond.is_outer() && winding[beyond.fix().index()] == i32::MIN {
                winding[beyond.fix().index()] = step(edge, from);
                queue.push_back(beyond.fix());
            }
        }
    }
    let mut triangles = Vec::new();
    for face in cdt.inner_faces() {
        let corners = face.vertices().map(|v| global[v.fix().index()]);
        match winding[face.fix().index()] {
            0 => {}
            1 => triangles.push(corners),
            // Laid twice or inside out: the surface runs through itself here.
            _ => return None,
        }
    }
    Some(triangles)
}

/// Fills every loop of lines by itself, whatever it crosses.
fn by_ears(points: &[[i32; 2]], lines: &[(u32, u32, i32)]) -> Vec<[u32; 3]> {
    let mut next: std::collections::BTreeMap<u32, Vec<u32>> = std::collections::BTreeMap::new();
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
