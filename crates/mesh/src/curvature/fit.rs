//! How the surface bends round a place: the change of the normal with the place, fitted.
//!
//! How: over the cells within a radius, weighted by area and nearness, the symmetric tensor `W` of
//! the tangent plane that makes `normal - mean normal = W (place - mean place)` hold best. On a
//! sphere and on a cylinder this is exact at every radius, since normal and place are in
//! proportion there. Means of normals over a cell depend on its rim alone, so how the surface is
//! cut into triangles hardly matters: that is why normals are fitted, not the bends of edges summed.
//! Which cells belong together: those whose normals agree, and whose joining line lies in the
//! surface. The line between two points of a circle is square to the sum of their normals; between
//! the two skins of a wall, or between two plates one over the other, it is not.
//! Source: the shape operator as the derivative of the normal: differential geometry, textbook;
//! weights and limits are ours.

use super::Bend;
use crate::vec3;

/// Normals whose cosine lies below the first belong to no common sheet; above the second, fully.
const AGREE_COS: (f64, f64) = (-0.2, 0.4);

/// Square of the cosine between the joining line and the mean normal: up to the first (45 degrees) a
/// step of the surface, beyond the second another sheet.
const JOINED_COS2: (f64, f64) = (0.5, 0.8);

/// Added to the spread of places, as a share of the square of the radius, so that a strip with no
/// width has no bend across: a fifth of a per cent of the spread of a full disc, which is 1/8.
const LEAST_SPREAD: f64 = 0.000_25;

/// A cell as the fit needs it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Patch {
    pub place_mm: [f64; 3],
    /// Mean of the unit normals.
    pub normal: [f64; 3],
    pub area_mm2: f64,
}

/// What a fit found.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fit {
    pub bend: Bend,
    /// One minus the length of the mean normal: how much the normals differ.
    pub spread: f64,
}

/// Fits the cells among `near` that belong to the place; `kept` is scratch.
pub(crate) fn fit(
    place_mm: [f64; 3],
    normal: [f64; 3],
    radius_mm: f64,
    patches: &[Patch],
    near: &[u32],
    kept: &mut Vec<(u32, f64)>,
) -> Fit {
    kept.clear();
    let (mut total, mut sum) = (0.0, [0.0; 3]);
    for &cell in near {
        let patch = &patches[cell as usize];
        let weight = weight(place_mm, normal, radius_mm, patch);
        if weight > 0.0 {
            kept.push((cell, weight));
            total += weight;
            sum = vec3::add(sum, vec3::scale(patch.normal, weight));
        }
    }
    let Some(mean) = vec3::unit(sum) else { return Fit { bend: Bend::flat(normal), spread: 1.0 } };
    let spread = 1.0 - vec3::length(sum) / total;
    Fit { bend: bend_of(kept, patches, place_mm, mean, total, radius_mm), spread }
}

fn weight(place_mm: [f64; 3], normal: [f64; 3], radius_mm: f64, patch: &Patch) -> f64 {
    let line = vec3::sub(patch.place_mm, place_mm);
    let away2 = vec3::dot(line, line);
    let near = 1.0 - away2 / (radius_mm * radius_mm);
    if near <= 0.0 {
        return 0.0;
    }
    let theirs = patch.normal;
    let cos = vec3::dot(normal, theirs);
    if cos <= AGREE_COS.0 {
        return 0.0;
    }
    let agree = ((cos - AGREE_COS.0) / (AGREE_COS.1 - AGREE_COS.0)).min(1.0);
    let both = vec3::add(normal, theirs);
    let along = vec3::dot(line, both);
    let scale = away2 * vec3::dot(both, both);
    let joined = if along * along <= JOINED_COS2.0 * scale {
        1.0
    } else {
        ((JOINED_COS2.1 * scale - along * along) / ((JOINED_COS2.1 - JOINED_COS2.0) * scale)).max(0.0)
    };
    patch.area_mm2 * near * near * agree * joined
}

fn bend_of(
    kept: &[(u32, f64)],
    patches: &[Patch],
    place_mm: [f64; 3],
    normal: [f64; 3],
    total: f64,
    radius_mm: f64,
) -> Bend {
    let (u, v) = vec3::frame_of(normal);
    // Sums of place (x), normal (y), their squares and products, in the tangent plane.
    let (mut x, mut y, mut xx, mut yx) = ([0.0; 2], [0.0; 2], [0.0; 3], [[0.0; 2]; 2]);
    for &(cell, weight) in kept {
        let Patch { place_mm: theirs_mm, normal: theirs, .. } = patches[cell as usize];
        let line = vec3::sub(theirs_mm, place_mm);
        let p = [vec3::dot(line, u), vec3::dot(line, v)];
        let q = [vec3::dot(theirs, u), vec3::dot(theirs, v)];
        for i in 0..2 {
            x[i] += weight * p[i];
            y[i] += weight * q[i];
            for j in 0..2 {
                yx[i][j] += weight * q[i] * p[j];
            }
        }
        xx[0] += weight * p[0] * p[0];
        xx[1] += weight * p[0] * p[1];
        xx[2] += weight * p[1] * p[1];
    }
    let least = LEAST_SPREAD * radius_mm * radius_mm;
    let s = [
        xx[0] / total - x[0] * x[0] / (total * total) + least,
        xx[1] / total - x[0] * x[1] / (total * total),
        xx[2] / total - x[1] * x[1] / (total * total) + least,
    ];
    let q = |i: usize, j: usize| yx[i][j] / total - y[i] * x[j] / (total * total);
    // The best symmetric W solves W S + S W = Q + Q^T; in the axes of S each entry stands alone.
    let (spread, [cos, sin]) = principal(s);
    let axes = [[cos, sin], [-sin, cos]];
    let turned = |i: usize, j: usize| {
        let mut sum = 0.0;
        for k in 0..2 {
            for l in 0..2 {
                sum += axes[i][k] * (q(k, l) + q(l, k)) * axes[j][l];
            }
        }
        sum / (spread[i] + spread[j])
    };
    let (k, [cos_w, sin_w]) = principal([turned(0, 0), turned(0, 1), turned(1, 1)]);
    let in_plane = [cos_w * cos - sin_w * sin, cos_w * sin + sin_w * cos];
    Bend { normal, along: vec3::add(vec3::scale(u, in_plane[0]), vec3::scale(v, in_plane[1])), per_mm: k }
}

/// Eigenvalues of `[[a, b], [b, c]]`, the larger by size first, and the unit vector of the first.
pub(crate) fn principal([a, b, c]: [f64; 3]) -> ([f64; 2], [f64; 2]) {
    let (mean, half) = ((a + c) / 2.0, (a - c) / 2.0);
    let root = (half * half + b * b).sqrt();
    let k = if mean >= 0.0 { [mean + root, mean - root] } else { [mean - root, mean + root] };
    // Of the two equal ways to write the vector the one with the longer side.
    let vector = if (k[0] - a).abs() > (k[0] - c).abs() { [b, k[0] - a] } else { [k[0] - c, b] };
    let length = (vector[0] * vector[0] + vector[1] * vector[1]).sqrt();
    let vector = if length > 0.0 { vector.map(|x| x / length) } else { [1.0, 0.0] };
    (k, vector)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn principal_axes_rebuild_the_tensor() {
        arbtest::arbtest(|u| {
            let mut number = || Ok(f64::from(u.int_in_range(-1000..=1000_i32)?) / 10.0);
            let tensor = [number()?, number()?, number()?];
            let (k, [x, y]) = principal(tensor);
            assert!(k[0].abs() >= k[1].abs());
            assert!((x * x + y * y - 1.0).abs() < 1e-12);
            let rebuilt = [k[0] * x * x + k[1] * y * y, (k[0] - k[1]) * x * y, k[0] * y * y + k[1] * x * x];
            for i in 0..3 {
                assert!((rebuilt[i] - tensor[i]).abs() < 1e-9, "{tensor:?} became {rebuilt:?}");
            }
            Ok(())
        });
    }
}
