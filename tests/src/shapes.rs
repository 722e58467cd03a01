//! Closed meshes with known volumes, made here so that tests need no files.

use seamwright_mesh::Solid;
use std::f64::consts::{PI, TAU};

/// Points in mm and triangles, counter-clockwise from outside.
pub type Mesh = (Vec<[f64; 3]>, Vec<[u32; 3]>);

/// The solid of a mesh that is known to be closed.
pub fn solid(mesh: &Mesh) -> Solid {
    Solid::from_triangles(&mesh.0, &mesh.1).expect("the test shape is closed").0
}

/// Both meshes in one.
pub fn together(mut a: Mesh, b: Mesh) -> Mesh {
    let offset = a.0.len() as u32;
    a.0.extend(b.0);
    a.1.extend(b.1.iter().map(|t| t.map(|i| i + offset)));
    a
}

/// The mesh turned inside out.
pub fn reversed(mut mesh: Mesh) -> Mesh {
    for t in &mut mesh.1 {
        t.swap(1, 2);
    }
    mesh
}

/// Every point mapped.
pub fn mapped(mut mesh: Mesh, map: impl Fn([f64; 3]) -> [f64; 3]) -> Mesh {
    for p in &mut mesh.0 {
        *p = map(*p);
    }
    mesh
}

/// An axis-parallel box with `cells` squares along each edge.
pub fn cuboid(low: [f64; 3], high: [f64; 3], cells: usize) -> Mesh {
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for axis in 0..3 {
        for top in [false, true] {
            let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
            let start = mesh.0.len() as u32;
            for i in 0..=cells {
                for j in 0..=cells {
                    let mut p = [0.0; 3];
                    p[axis] = if top { high[axis] } else { low[axis] };
                    p[u] = low[u] + (high[u] - low[u]) * i as f64 / cells as f64;
                    p[v] = low[v] + (high[v] - low[v]) * j as f64 / cells as f64;
                    mesh.0.push(p);
                }
            }
            let at = |i: usize, j: usize| start + (i * (cells + 1) + j) as u32;
            for i in 0..cells {
                for j in 0..cells {
                    let quad = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                    let [a, b, c, d] = if top { quad } else { [quad[0], quad[3], quad[2], quad[1]] };
                    mesh.1.extend([[a, b, c], [a, c, d]]);
                }
            }
        }
    }
    mesh
}

/// A surface of revolution about Z through the closed `profile` of (radius, height), which runs
/// counter-clockwise with radius to the right; points on the axis become poles.
pub fn turned(profile: &[[f64; 2]], n_around: usize) -> Mesh {
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    let at: Vec<Vec<u32>> = profile
        .iter()
        .map(|&[radius, height]| {
            let n = if radius == 0.0 { 1 } else { n_around };
            (0..n_around)
                .map(|k| {
                    if k < n {
                        let turn = TAU * k as f64 / n_around as f64;
                        mesh.0.push([radius * libm::cos(turn), radius * libm::sin(turn), height]);
                    }
                    mesh.0.len() as u32 - 1
                })
                .collect()
        })
        .collect();
    for i in 0..profile.len() {
        let (row, up) = (&at[i], &at[(i + 1) % profile.len()]);
        for k in 0..n_around {
            let l = (k + 1) % n_around;
            for t in [[row[k], row[l], up[l]], [row[k], up[l], up[k]]] {
                if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
                    mesh.1.push(t);
                }
            }
        }
    }
    mesh
}

/// A closed profile with points at most `step_mm` apart.
pub fn refined(profile: &[[f64; 2]], step_mm: f64) -> Vec<[f64; 2]> {
    let mut fine = Vec::new();
    for (i, a) in profile.iter().enumerate() {
        let b = profile[(i + 1) % profile.len()];
        let n = (libm::hypot(b[0] - a[0], b[1] - a[1]) / step_mm).ceil();
        for k in 0..n as usize {
            let along = k as f64 / n;
            fine.push([a[0] + along * (b[0] - a[0]), a[1] + along * (b[1] - a[1])]);
        }
    }
    fine
}

/// A sphere about the origin: 4 n^2 - 4 n triangles or so for n rows.
pub fn sphere(radius: f64, n_rows: usize) -> Mesh {
    let profile: Vec<[f64; 2]> = (0..=n_rows)
        .map(|i| {
            let polar = PI * i as f64 / n_rows as f64;
            let r = if i == 0 || i == n_rows { 0.0 } else { radius * libm::sin(polar) };
            [r, -radius * libm::cos(polar)]
        })
        .collect();
    turned(&profile, 2 * n_rows)
}

/// A ring about Z: 2 n_around n_tube triangles.
pub fn torus(ring_radius: f64, tube_radius: f64, n_around: usize, n_tube: usize) -> Mesh {
    let profile: Vec<[f64; 2]> = (0..n_tube)
        .map(|i| {
            let turn = TAU * i as f64 / n_tube as f64;
            [ring_radius + tube_radius * libm::cos(turn), tube_radius * libm::sin(turn)]
        })
        .collect();
    turned(&profile, n_around)
}

/// A hollow sphere with its cavity.
pub fn thick_shell(outer: f64, inner: f64, n_rows: usize) -> Mesh {
    together(sphere(outer, n_rows), reversed(sphere(inner, n_rows)))
}

/// An open tube with a wall, standing on z = 0.
pub fn tube(outer: f64, inner: f64, height: f64, n_around: usize) -> Mesh {
    turned(&[[inner, 0.0], [outer, 0.0], [outer, height], [inner, height]], n_around)
}

/// A solid of cubes: those cells of a drawing that are `#`, layers from below, rows from the back
/// (large y) to the front, `size_mm` each; the lowest front left cell begins at the origin.
pub fn cells(layers: &[&[&str]], size_mm: [f64; 3]) -> Mesh {
    let rows = layers.iter().map(|rows| rows.len()).max().unwrap_or(0);
    let filled = |[x, y, z]: [i64; 3]| {
        let layer = usize::try_from(z).ok().and_then(|z| layers.get(z));
        let row = usize::try_from(rows as i64 - 1 - y).ok().and_then(|row| layer?.get(row));
        row.zip(usize::try_from(x).ok()).is_some_and(|(row, x)| row.as_bytes().get(x) == Some(&b'#'))
    };
    let columns = layers.iter().flat_map(|rows| rows.iter()).map(|row| row.len()).max().unwrap_or(0);
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    let mut known: std::collections::BTreeMap<[i64; 3], u32> = std::collections::BTreeMap::new();
    for (x, y, z) in (0..columns as i64)
        .flat_map(|x| (0..rows as i64).flat_map(move |y| (0..layers.len() as i64).map(move |z| (x, y, z))))
        .filter(|&(x, y, z)| filled([x, y, z]))
    {
        for (axis, up) in (0..3).flat_map(|axis| [(axis, false), (axis, true)]) {
            let mut beside = [x, y, z];
            beside[axis] += if up { 1 } else { -1 };
            if filled(beside) {
                continue;
            }
            let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
            let quad = [[0, 0], [1, 0], [1, 1], [0, 1]].map(|[along_u, along_v]| {
                let mut corner = [x, y, z];
                corner[axis] += i64::from(up);
                corner[u] += along_u;
                corner[v] += along_v;
                *known.entry(corner).or_insert_with(|| {
                    mesh.0.push(std::array::from_fn(|k| corner[k] as f64 * size_mm[k]));
                    mesh.0.len() as u32 - 1
                })
            });
            let [a, b, c, d] = if up { quad } else { [quad[0], quad[3], quad[2], quad[1]] };
            mesh.1.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

/// Fills cells until no two of them, and no two empty ones, meet in an edge or a corner alone.
fn without_pinches(mut bits: Vec<bool>, n: usize) -> Vec<bool> {
    let at = |[x, y, z]: [usize; 3]| (z * n + y) * n + x;
    loop {
        let blocks = (0..n - 1)
            .flat_map(|x| (0..n - 1).flat_map(move |y| (0..n - 1).map(move |z| [x, y, z])))
            .map(|low| -> [usize; 8] {
                std::array::from_fn(|k| at(std::array::from_fn(|axis| low[axis] + (k >> axis & 1))))
            });
        let is_pinched = |block: &[usize; 8]| {
            // Alike along a diagonal of a face of the block and unlike along the other, or not connected.
            let faces = (0..3)
                .flat_map(|axis| [0, 1].map(|up| (1 << axis, 1 << ((axis + 1) % 3), up << ((axis + 2) % 3))));
            let mut crossed = faces.map(|(u, v, w)| [w, w | u, w | v, w | u | v].map(|k| bits[block[k]]));
            crossed.any(|[a, b, c, d]| a == d && b == c && a != b)
                || [true, false].into_iter().any(|kind| {
                    let alike: Vec<usize> = (0..8).filter(|&k| bits[block[k]] == kind).collect();
                    let mut met: Vec<usize> = alike.iter().copied().take(1).collect();
                    let mut next = 0;
                    while next < met.len() {
                        let beside = (0..3).map(|axis| met[next] ^ 1 << axis);
                        let new: Vec<usize> =
                            beside.filter(|k| alike.contains(k) && !met.contains(k)).collect();
                        met.extend(new);
                        next += 1;
                    }
                    met.len() < alike.len()
                })
        };
        let Some(cell) = blocks.filter(is_pinched).flatten().find(|&cell| !bits[cell]) else { return bits };
        bits[cell] = true;
    }
}

/// A clump of `n` x `n` x `n` cells of 10 mm or fewer, filled where the bits say and bent out of all
/// symmetry: loops, arms, cavities.
pub fn clump(bits: Vec<bool>, n: usize) -> Mesh {
    let bits = without_pinches(bits, n);
    let row = |z: usize, y: usize| -> String {
        (0..n).map(|x| if bits[(z * n + y) * n + x] { '#' } else { '.' }).collect()
    };
    let rows: Vec<Vec<String>> = (0..n).map(|z| (0..n).map(|y| row(z, y)).collect()).collect();
    let lines: Vec<Vec<&str>> = rows.iter().map(|layer| layer.iter().map(String::as_str).collect()).collect();
    let layers: Vec<&[&str]> = lines.iter().map(Vec::as_slice).collect();
    mapped(cells(&layers, [10.0; 3]), |[x, y, z]| {
        [
            x + 2.0 * libm::sin(0.09 * y + 0.4) + 0.7 * libm::sin(0.21 * z),
            y + 1.5 * libm::sin(0.11 * z + 1.0) + 0.5 * libm::cos(0.17 * x),
            z + 1.8 * libm::sin(0.08 * x + 2.0) + 0.6 * libm::sin(0.19 * y),
        ]
    })
}

/// A block from z = 0 up to `height(x, y)`, over squares that end at the given x and y.
pub fn block(xs: &[f64], ys: &[f64], height: impl Fn(f64, f64) -> f64) -> Mesh {
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for top in [true, false] {
        for &x in xs {
            mesh.0.extend(ys.iter().map(|&y| [x, y, if top { height(x, y) } else { 0.0 }]));
        }
    }
    let (nx, ny) = (xs.len(), ys.len());
    let at = |i: usize, j: usize, top: bool| (i * ny + j + if top { 0 } else { nx * ny }) as u32;
    for i in 0..nx - 1 {
        for j in 0..ny - 1 {
            let [a, b, c, d] = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
            let [e, f, g, h] = [a, b, c, d].map(|(i, j)| at(i, j, false));
            let [a, b, c, d] = [a, b, c, d].map(|(i, j)| at(i, j, true));
            mesh.1.extend([[a, b, c], [a, c, d], [e, g, f], [e, h, g]]);
        }
    }
    // Walls: the rim of the top, counter-clockwise from above.
    let mut rim: Vec<(usize, usize)> = (0..nx - 1).map(|i| (i, 0)).collect();
    rim.extend((0..ny - 1).map(|j| (nx - 1, j)));
    rim.extend((1..nx).rev().map(|i| (i, ny - 1)));
    rim.extend((1..ny).rev().map(|j| (0, j)));
    for k in 0..rim.len() {
        let (p, q) = (rim[k], rim[(k + 1) % rim.len()]);
        let [a, b] = [at(p.0, p.1, false), at(q.0, q.1, false)];
        let [d, c] = [at(p.0, p.1, true), at(q.0, q.1, true)];
        mesh.1.extend([[a, b, c], [a, c, d]]);
    }
    mesh
}

/// From zero to a length in even steps.
pub fn steps(length_mm: f64, n: usize) -> Vec<f64> {
    (0..=n).map(|i| length_mm * i as f64 / n as f64).collect()
}
