//! The section of a solid by a plane: its length and area, without building pieces.
//!
//! How: one signed distance a vertex, one segment a crossed triangle; the area is the sum of the
//! segments' signed triangles with a fixed point of the plane. Touches memory once: for searches.
//! Cost: O(n), about 24 bytes read a triangle.

use crate::edges::{QuickMap, edge_key};
use crate::grid::STEPS_PER_MM;
use crate::plane::Plane;
use crate::solid::Solid;
use crate::vec3;

/// Length and area of a section.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Section {
    /// Length of all its lines in mm, holes and overlapping bodies included.
    pub length_mm: f64,
    /// Area in mm2: material counted by winding.
    pub area_mm2: f64,
}

/// Measures the section of `solid` by `plane`; all zero where the plane misses it.
pub fn section(solid: &Solid, plane: &Plane) -> Section {
    let (mut length, mut twice_area) = (0.0, 0.0);
    each_chord(solid, plane, |_, _, [from, to]| {
        length += vec3::length(vec3::sub(to, from));
        twice_area += vec3::dot(plane.normal, vec3::cross(from, to));
    });
    Section { length_mm: length / STEPS_PER_MM, area_mm2: twice_area / 2.0 / (STEPS_PER_MM * STEPS_PER_MM) }
}

/// Visits each chord of the section: its triangle and its ends in mm. Seen from the normal's tip, material
/// lies left of it.
pub fn chords(solid: &Solid, plane: &Plane, mut visit: impl FnMut(usize, [[f64; 3]; 2])) {
    let about = about(solid);
    let to_mm = |p: [f64; 3]| vec3::scale(vec3::add(p, about), 1.0 / STEPS_PER_MM);
    each_chord(solid, plane, |triangle, _, ends| visit(triangle, ends.map(to_mm)));
}

/// A line of a section, chord by chord.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionLine {
    /// The triangle of each chord.
    pub triangles: Vec<usize>,
    /// Where the chords begin, in mm, and where the last ends; that is where the first begins on a closed line.
    pub points_mm: Vec<[f64; 3]>,
    /// Whether it is a loop, as every line of a closed surface is.
    pub is_closed: bool,
}

/// The lines of a section. Where more than two triangles share an edge a line may be told as several that are open.
pub fn lines(solid: &Solid, plane: &Plane) -> Vec<SectionLine> {
    let mut chords: Vec<(usize, [u64; 2], [f64; 3])> = Vec::new();
    let about = about(solid);
    let to_mm = |p: [f64; 3]| vec3::scale(vec3::add(p, about), 1.0 / STEPS_PER_MM);
    let mut ends_mm: Vec<[f64; 3]> = Vec::new();
    each_chord(solid, plane, |triangle, edges, [from, to]| {
        chords.push((triangle, edges, to_mm(from)));
        ends_mm.push(to_mm(to));
    });
    let by_start: QuickMap<u64, usize> =
        chords.iter().enumerate().map(|(i, chord)| (chord.1[0], i)).collect();
    let next: Vec<Option<usize>> = chords.iter().map(|chord| by_start.get(&chord.1[1]).copied()).collect();
    let mut has_one_before = vec![false; chords.len()];
    next.iter().flatten().for_each(|&i| has_one_before[i] = true);
    let mut is_taken = vec![false; chords.len()];
    // Open lines from their ends first; what is left then are loops.
    let ends = (0..chords.len()).filter(|&i| !has_one_before[i]);
    let mut found = Vec::new();
    for first in ends.chain(0..chords.len()) {
        let mut line = SectionLine { triangles: Vec::new(), points_mm: Vec::new(), is_closed: false };
        let (mut at, mut last) = (Some(first), first);
        while let Some(i) = at.filter(|&i| !is_taken[i]) {
            is_taken[i] = true;
            line.triangles.push(chords[i].0);
            line.points_mm.push(chords[i].2);
            (last, at) = (i, next[i]);
        }
        if !line.triangles.is_empty() {
            line.is_closed = at == Some(first);
            line.points_mm.push(ends_mm[last]);
            found.push(line);
        }
    }
    found
}

/// In grid steps, from which chords are measured: a point near by, so that areas are sums of small numbers.
fn about(solid: &Solid) -> [f64; 3] {
    solid.points.first().map_or([0.0; 3], |p| p.map(f64::from))
}

/// Visits the chord of every triangle met, with the edges it begins and ends on.
fn each_chord(solid: &Solid, plane: &Plane, mut visit: impl FnMut(usize, [u64; 2], [[f64; 3]; 2])) {
    let normal = plane.normal;
    let offset = plane.offset_mm * STEPS_PER_MM;
    // A vertex on the plane counts as above, so every crossing is a proper one.
    let distance: Vec<f64> =
        solid.points.iter().map(|p| vec3::dot(normal, p.map(f64::from)) - offset).collect();
    let about = about(solid);
    for (index, t) in solid.triangles.iter().enumerate() {
        let d = t.map(|i| distance[i as usize]);
        let above = d.map(|d| d >= 0.0);
        if above[0] == above[1] && above[1] == above[2] {
            continue;
        }
        // The corner alone on its side, then the two crossings in the triangle's order.
        let lone = if above[1] == above[2] {
            0
        } else if above[0] == above[2] {
            1
        } else {
            2
        };
        let cross_at = |other: usize| {
            let (a, b) = (solid.points[t[lone] as usize], solid.points[t[other] as usize]);
            let along = d[lone] / (d[lone] - d[other]);
            std::array::from_fn(|i| f64::from(a[i]) + along * (f64::from(b[i]) - f64::from(a[i])) - about[i])
        };
        let (next, last): ([f64; 3], [f64; 3]) = (cross_at((lone + 1) % 3), cross_at((lone + 2) % 3));
        let edge = |other: usize| edge_key(t[lone], t[other]);
        let edges = [edge((lone + 1) % 3), edge((lone + 2) % 3)];
        if above[lone] {
            visit(index, edges, [next, last]);
        } else {
            visit(index, [edges[1], edges[0]], [last, next]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tube with a square hole, 10 mm tall.
    fn square_tube() -> Solid {
        let ring =
            |half: f64, z: f64| [[-half, -half, z], [half, -half, z], [half, half, z], [-half, half, z]];
        let points: Vec<[f64; 3]> =
            [ring(10.0, 0.0), ring(10.0, 10.0), ring(6.0, 0.0), ring(6.0, 10.0)].concat();
        let mut triangles: Vec<[u32; 3]> = Vec::new();
        for i in 0..4_u32 {
            let k = (i + 1) % 4;
            // Outer wall, inner wall, floor, top.
            triangles.extend([[i, k, 4 + k], [i, 4 + k, 4 + i]]);
            triangles.extend([[8 + i, 12 + k, 8 + k], [8 + i, 12 + i, 12 + k]]);
            triangles.extend([[i, 8 + i, 8 + k], [i, 8 + k, k]]);
            triangles.extend([[4 + i, 12 + k, 12 + i], [4 + i, 4 + k, 12 + k]]);
        }
        Solid::from_triangles(&points, &triangles).expect("a tube is closed").0
    }

    #[test]
    fn lines_are_loops_whose_chords_are_those_of_the_section() {
        let tube = square_tube();
        for (plane, lengths_mm) in [
            (Plane { normal: [0.0, 0.0, 1.0], offset_mm: 5.0 }, [80.0, 48.0]),
            (Plane { normal: [1.0, 0.0, 0.0], offset_mm: 1.0 }, [28.0, 28.0]),
        ] {
            let found = lines(&tube, &plane);
            assert_eq!(found.len(), 2);
            let mut by_length: Vec<f64> = Vec::new();
            for line in &found {
                assert!(line.is_closed);
                assert_eq!(line.points_mm.len(), line.triangles.len() + 1);
                let sides = line.points_mm.windows(2);
                by_length.push(sides.map(|side| vec3::length(vec3::sub(side[1], side[0]))).sum());
                let [first, last] = [line.points_mm[0], line.points_mm[line.points_mm.len() - 1]];
                assert!(vec3::length(vec3::sub(first, last)) < 1e-9);
            }
            by_length.sort_by(|a, b| b.total_cmp(a));
            for (found, asked) in by_length.iter().zip(lengths_mm) {
                assert!((found - asked).abs() < 1e-6, "{found} mm, not {asked}");
            }
            assert!((by_length.iter().sum::<f64>() - section(&tube, &plane).length_mm).abs() < 1e-6);
        }
    }
}
