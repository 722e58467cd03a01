//! Affine maps as in `plan.json`: 12 numbers, row-major 3x4, column vectors, `q = A p + t`.

use crate::model::Model;

/// An affine map; rigid ones ([`Placement::is_rigid`]) serve as poses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement(
    /// Row-major 3x4: `[a00, a01, a02, tx, a10, ...]`.
    pub [f64; 12],
);

impl Placement {
    /// Leaves every point where it is.
    pub const IDENTITY: Self = Self([1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0]);

    /// From rows of the linear part and a translation in mm.
    pub fn from_rows(rows: [[f64; 3]; 3], translation_mm: [f64; 3]) -> Self {
        let mut m = [0.0; 12];
        for row in 0..3 {
            m[row * 4..row * 4 + 3].copy_from_slice(&rows[row]);
            m[row * 4 + 3] = translation_mm[row];
        }
        Self(m)
    }

    /// Rows of the linear part.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        let m = &self.0;
        [[m[0], m[1], m[2]], [m[4], m[5], m[6]], [m[8], m[9], m[10]]]
    }

    /// The translation in mm.
    pub fn translation_mm(&self) -> [f64; 3] {
        [self.0[3], self.0[7], self.0[11]]
    }

    /// The image of a point.
    pub fn apply(&self, p: [f64; 3]) -> [f64; 3] {
        let m = &self.0;
        std::array::from_fn(|row| {
            m[row * 4] * p[0] + m[row * 4 + 1] * p[1] + m[row * 4 + 2] * p[2] + m[row * 4 + 3]
        })
    }

    /// The map that applies `self` first and `next` after it.
    pub fn then(&self, next: &Self) -> Self {
        let (a, b) = (next.rows(), self.rows());
        let rows = std::array::from_fn(|i| std::array::from_fn(|j| (0..3).map(|k| a[i][k] * b[k][j]).sum()));
        Self::from_rows(rows, next.apply(self.translation_mm()))
    }

    /// Determinant of the linear part: volume factor, negative for a mirror.
    pub fn determinant(&self) -> f64 {
        let [a, b, c] = self.rows();
        crate::vec3::dot(a, crate::vec3::cross(b, c))
    }

    /// Whether it only turns and moves (determinant +1, lengths kept) within `tolerance`.
    pub fn is_rigid(&self, tolerance: f64) -> bool {
        let rows = self.rows();
        (self.determinant() - 1.0).abs() <= tolerance
            && (0..3).all(|i| {
                (0..3).all(|j| {
                    let expected = if i == j { 1.0 } else { 0.0 };
                    (crate::vec3::dot(rows[i], rows[j]) - expected).abs() <= tolerance
                })
            })
    }
}

/// Points in mm and triangles of all parts together. `placement` leads from file coordinates; one
/// that mirrors turns every triangle over, so that the surface still faces outward.
pub fn placed(model: &Model, placement: &Placement) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let mirrors = placement.determinant() < 0.0;
    let (mut points_mm, mut triangles) = (Vec::new(), Vec::new());
    for part in &model.parts {
        let first = points_mm.len() as u32;
        points_mm.extend(part.points.iter().map(|&p| placement.apply(p)));
        triangles.extend(part.triangles.iter().map(|t| {
            let [a, b, c] = t.map(|i| i + first);
            if mirrors { [a, c, b] } else { [a, b, c] }
        }));
    }
    (points_mm, triangles)
}
