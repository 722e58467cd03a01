//! What is drawn of solids: single-precision points and triangles, few enough for any screen.
//!
//! How: where a solid has more triangles than it is granted, its points are gathered in cubic cells
//! and every cell's points fall on their mean; triangles with two corners in one cell vanish. Cells
//! grow until few enough are left. Source: vertex clustering, "Multi-resolution 3D approximations
//! for rendering complex scenes" (1993), from memory.
//! Units: mm in item coordinates. Not here: anything that is measured, cut or written.

use seamwright_mesh::solid::is_cut;
use seamwright_mesh::{Solid, vec3};
use std::collections::BTreeMap;

/// Triangles an item may have on the screen, its pieces taken together.
pub const MOST_TRIANGLES: usize = 150_000;

/// And on a picture no larger than a card.
pub const PICTURE_TRIANGLES: usize = 15_000;

/// A shape to draw.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shape {
    /// xyz after xyz.
    pub points_mm: Vec<f32>,
    /// Corners, counter-clockwise from outside.
    pub triangles: Vec<u32>,
    /// One a triangle: 1 skin, 0 cut face.
    pub skin: Vec<u8>,
}

/// The shape of a solid with at most `most_triangles`.
pub fn shape_of(solid: &Solid, most_triangles: usize) -> Shape {
    let skin = |t: usize| u8::from(!is_cut(solid.origins()[t]));
    shape_of_mesh(&solid.points_mm(), solid.triangles(), most_triangles, &skin)
}

/// The shape of any mesh, closed or not; `skin` is told the number of a triangle.
pub fn shape_of_mesh(
    points: &[[f64; 3]],
    triangles: &[[u32; 3]],
    most_triangles: usize,
    skin: &dyn Fn(usize) -> u8,
) -> Shape {
    if triangles.len() <= most_triangles {
        return Shape {
            points_mm: points.iter().flatten().map(|&c| c as f32).collect(),
            triangles: triangles.iter().flatten().copied().collect(),
            skin: (0..triangles.len()).map(skin).collect(),
        };
    }
    let area_mm2: f64 = triangles.iter().map(|t| vec3::area(t.map(|i| points[i as usize]))).sum();
    // Each cell the surface passes through leaves about two triangles.
    let mut cell_mm = (2.0 * area_mm2 / most_triangles.max(1) as f64).sqrt();
    loop {
        let shape = clustered(points, triangles, cell_mm, skin);
        if shape.skin.len() <= most_triangles {
            return shape;
        }
        cell_mm *= 1.15;
    }
}

fn clustered(points: &[[f64; 3]], triangles: &[[u32; 3]], cell_mm: f64, skin: &dyn Fn(usize) -> u8) -> Shape {
    let mut cells: BTreeMap<[i32; 3], u32> = BTreeMap::new();
    let mut sums: Vec<([f64; 3], f64)> = Vec::new();
    let of: Vec<u32> = points
        .iter()
        .map(|p| {
            let cell = p.map(|c| (c / cell_mm).floor() as i32);
            let index = *cells.entry(cell).or_insert_with(|| {
                sums.push(([0.0; 3], 0.0));
                sums.len() as u32 - 1
            });
            let (sum, n) = &mut sums[index as usize];
            (0..3).for_each(|k| sum[k] += p[k]);
            *n += 1.0;
            index
        })
        .collect();
    let mut shape = Shape {
        points_mm: sums.iter().flat_map(|(sum, n)| sum.map(|c| (c / n) as f32)).collect(),
        ..Shape::default()
    };
    for (t, corners) in triangles.iter().enumerate() {
        let [a, b, c] = corners.map(|i| of[i as usize]);
        if a != b && b != c && c != a {
            shape.triangles.extend([a, b, c]);
            shape.skin.push(skin(t));
        }
    }
    shape
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sphere of 50 mm in latitude bands.
    fn ball(n: usize) -> Solid {
        let at = |i: usize, k: usize| {
            let (a, b) = (
                std::f64::consts::PI * i as f64 / n as f64,
                std::f64::consts::TAU * k as f64 / (2 * n) as f64,
            );
            [
                50.0 + 50.0 * libm::sin(a) * libm::cos(b),
                50.0 + 50.0 * libm::sin(a) * libm::sin(b),
                50.0 + 50.0 * libm::cos(a),
            ]
        };
        let mut points = vec![at(0, 0), at(n, 0)];
        let index = |i: usize, k: usize| {
            if i == 0 {
                0
            } else if i == n {
                1
            } else {
                2 + (i - 1) * 2 * n + k % (2 * n)
            }
        };
        points.extend((1..n).flat_map(|i| (0..2 * n).map(move |k| (i, k))).map(|(i, k)| at(i, k)));
        let mut triangles: Vec<[u32; 3]> = Vec::new();
        for i in 0..n {
            for k in 0..2 * n {
                let [a, b, c, d] = [index(i, k), index(i + 1, k), index(i + 1, k + 1), index(i, k + 1)];
                triangles.extend([[a, b, c], [a, c, d]].map(|t| t.map(|i| i as u32)));
            }
        }
        triangles.retain(|[a, b, c]| a != b && b != c && c != a);
        Solid::from_triangles(&points, &triangles).unwrap().0
    }

    #[test]
    fn a_small_solid_is_drawn_as_it_is_and_a_fine_one_with_what_it_is_granted() {
        let ball = ball(60);
        let all = shape_of(&ball, usize::MAX);
        assert_eq!(all.triangles.len(), 3 * ball.n_triangles());
        assert!(all.skin.iter().all(|&skin| skin == 1));
        let few = shape_of(&ball, 2_000);
        assert!((500..=2_000).contains(&few.skin.len()), "{}", few.skin.len());
        assert_eq!(few.triangles.len(), 3 * few.skin.len());
        for p in few.points_mm.chunks(3) {
            let r = (0..3).map(|k| f64::from(p[k]) - 50.0).map(|d| d * d).sum::<f64>().sqrt();
            // Means of cells up to 6 mm wide lie a little inside.
            assert!((48.0..=50.001).contains(&r), "{r}");
        }
    }
}
