//! The table of exact cuts that `cargo xtask prove` makes: spheres, tori and thick shells of 100k,
//! 1M and 2M triangles by an oblique plane and by planes through vertices, edges and faces, and
//! chains of 40 cuts.
//!
//! A side is judged by its bytes as binary STL, points joined by value: every edge must be used once
//! each way. The volume error is that of both sides together against the whole, with cut points
//! where they would lie without the coordinate grid, and on it.

use crate::shapes;
use anyhow::{Context, Result};
use seamwright_mesh::split::{Split, split};
use seamwright_mesh::{Plane, Solid, lumps, vec3, write};
use std::fmt::Write;
use std::time::Instant;

/// Relative volume errors a cut may show before cut points are put on the grid, and after.
const ALLOWED: [f64; 2] = [1e-9, 1e-7];
const SIZES: [usize; 3] = [100_000, 1_000_000, 2_000_000];
/// Cuts of a chain.
const N_CHAIN: usize = 40;

/// Makes the table. Returns its text and whether every row holds.
///
/// # Errors
/// When a shape cannot be made.
pub fn make() -> Result<(String, bool)> {
    let mut text = format!(
        "## Exact cuts\n\n\
         Closed: edges of the sides' files not used once each way. Volume error: both sides against the whole, before cut points\n\
         are put on the grid (allowed {:.0e}; - where triangles beside the section had to be mended or a side is missing) and after ({:.0e}).\n\n\
         | shape | triangles | plane | sides | bad edges | error before | error after | holds |\n|---|---|---|---|---|---|---|---|\n",
        ALLOWED[0], ALLOWED[1]
    );
    let mut all_hold = true;
    for n_triangles in SIZES {
        for (name, solid, planes) in wholes(n_triangles)? {
            for (what, normal, offset_mm) in planes {
                let start = Instant::now();
                let (row, holds) = row(&solid, normal, offset_mm)?;
                all_hold &= holds;
                // Writing to a String cannot fail.
                let _ = writeln!(text, "| {name} | {} | {what} | {row} |", solid.n_triangles());
                let verdict = if holds { "holds" } else { "FAILED" };
                println!(
                    "cut {name} {n_triangles} {what}: {verdict} ({:.1} s)",
                    start.elapsed().as_secs_f64()
                );
            }
        }
    }
    for (name, solid) in [
        ("shell", shapes::shell(100.0, 96.0, SIZES[0])?),
        ("torus", shapes::torus(100.0, 40.0, SIZES[0])?),
        ("step", step(SIZES[0])?),
    ] {
        let (row, holds) = chain(&solid)?;
        all_hold &= holds;
        let _ = writeln!(text, "| {name} | {} | a chain of {N_CHAIN} cuts | {row} |", solid.n_triangles());
    }
    Ok((text, all_hold))
}

type Planes = Vec<(&'static str, [f64; 3], f64)>;

fn step(n_triangles: usize) -> Result<Solid> {
    let profile = [[20.0, 0.0], [60.0, 0.0], [60.0, 30.0], [40.0, 30.0], [40.0, 60.0], [20.0, 60.0]];
    shapes::turned(&profile, n_triangles)
}

/// The shapes of one size and the planes each is cut by.
fn wholes(n_triangles: usize) -> Result<Vec<(&'static str, Solid, Planes)>> {
    let up = [0.0, 0.0, 1.0];
    let oblique = ("oblique", [0.36, 0.48, 0.8], 3.1);
    let both_ways = [
        [20.0, 0.0],
        [40.0, 0.0],
        [40.0, 30.0],
        [60.0, 30.0],
        [60.0, 60.0],
        [30.0, 60.0],
        [30.0, 30.0],
        [20.0, 30.0],
    ];
    Ok(vec![
        ("sphere", shapes::sphere(100.0, n_triangles)?, vec![oblique, ("through vertices", up, 0.0)]),
        (
            "torus",
            shapes::torus(100.0, 40.0, n_triangles)?,
            vec![oblique, ("through edge rings", up, 0.0), ("saddle vertex", [1.0, 0.0, 0.0], 60.0)],
        ),
        (
            "shell",
            shapes::shell(100.0, 96.0, n_triangles)?,
            vec![
                oblique,
                ("through vertices", up, 0.0),
                ("tangent", up, 100.0),
                ("offset 1e-12 mm", up, 1e-12),
                ("offset 1e-7 mm", up, 1e-7),
            ],
        ),
        ("step", step(n_triangles)?, vec![("coplanar step", up, 30.0), ("on an outer face", up, 60.0)]),
        (
            "step both ways",
            shapes::turned(&both_ways, n_triangles)?,
            vec![("coplanar faces both ways", up, 30.0)],
        ),
    ])
}

fn row(solid: &Solid, normal: [f64; 3], offset_mm: f64) -> Result<(String, bool)> {
    let mut plane = Plane::through([0.0; 3], normal).context("the normal has no length")?;
    plane.offset_mm = offset_mm;
    let halves = split(solid, &plane, 1);
    let whole = solid.volume_mm3();
    let sides = || [&halves.below, &halves.above].into_iter().flatten();
    let after = (sides().map(Solid::volume_mm3).sum::<f64>() / whole - 1.0).abs();
    let before = before_grid(&halves).map(|volume| (volume / whole - 1.0).abs());
    let bad_edges: usize = sides().map(bad_edges).sum();
    let n_sides = sides().count();
    let holds = bad_edges == 0 && after <= ALLOWED[1] && before.is_none_or(|error| error <= ALLOWED[0]);
    let before = before.map_or("-".to_string(), |error| format!("{error:.0e}"));
    let verdict = if holds { "holds" } else { "FAILED" };
    Ok((format!("{n_sides} | {bad_edges} | {before} | {after:.0e} | {verdict}"), holds))
}

/// The volume of both sides with cut points off the grid; `None` where a side was assembled anew.
fn before_grid(halves: &Split) -> Option<f64> {
    let (Some(below), Some(above)) = (&halves.below, &halves.above) else { return None };
    if halves.section_points.is_empty() {
        return None;
    }
    let volumes = [below, above].into_iter().enumerate().map(|(side, piece)| {
        let mut points = piece.points_mm();
        for point in &halves.section_points {
            points[point.index[side] as usize] = point.exact_mm;
        }
        let about = points[0];
        let six: f64 = piece
            .triangles()
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| vec3::sub(points[i as usize], about));
                vec3::dot(a, vec3::cross(b, c))
            })
            .sum();
        six / 6.0
    });
    Some(volumes.sum())
}

/// Edges of a solid's file that are not used exactly once each way.
fn bad_edges(solid: &Solid) -> usize {
    let bytes = write::stl_bytes(solid);
    // Binary STL: 84 bytes of head, then a normal, three corners of three f32 and two bytes each.
    let mut edges: Vec<([[u8; 12]; 2], bool)> = Vec::with_capacity(solid.n_triangles() * 3);
    for record in bytes[84..].chunks_exact(50) {
        let corner = |k: usize| -> [u8; 12] { std::array::from_fn(|i| record[12 + 12 * k + i]) };
        for k in 0..3 {
            let (a, b) = (corner(k), corner((k + 1) % 3));
            edges.push(([a.min(b), a.max(b)], a < b));
        }
    }
    edges.sort_unstable();
    edges.chunk_by(|a, b| a.0 == b.0).filter(|run| run.len() != 2 || run[0].1 == run[1].1).count()
}

/// Cuts the largest lump again and again, by planes that turn by the golden angle.
fn chain(solid: &Solid) -> Result<(String, bool)> {
    let whole = solid.volume_mm3();
    let mut parts = lumps::lumps(solid.clone());
    let golden = 2.399_963_229_728_653;
    for k in 0..N_CHAIN {
        let largest = (0..parts.len())
            .max_by(|&a, &b| parts[a].volume_mm3().total_cmp(&parts[b].volume_mm3()))
            .context("nothing is left")?;
        let part = parts.swap_remove(largest);
        let (low, high) = part.box_mm();
        let middle: [f64; 3] = std::array::from_fn(|i| (low[i] + high[i]) / 2.0);
        let (turn, height) = (golden * k as f64, 1.0 - (2 * k + 1) as f64 / N_CHAIN as f64);
        let flat = libm::sqrt(1.0 - height * height);
        let normal = [flat * libm::cos(turn), flat * libm::sin(turn), height];
        let plane = Plane::through(middle, normal).context("the normal has no length")?;
        let halves = split(&part, &plane, k as u32 + 1);
        parts.extend([halves.below, halves.above].into_iter().flatten().flat_map(lumps::lumps));
    }
    let error = (parts.iter().map(Solid::volume_mm3).sum::<f64>() / whole - 1.0).abs();
    let bad_edges: usize = parts.iter().map(bad_edges).sum();
    let holds = bad_edges == 0 && error <= ALLOWED[1];
    let verdict = if holds { "holds" } else { "FAILED" };
    Ok((format!("{} | {bad_edges} | - | {error:.0e} | {verdict}", parts.len()), holds))
}
