//! A closed, outward-facing triangle mesh on the coordinate grid: what every later step works on.
//!
//! Closed and outward by construction: [`Solid::from_triangles`] proves it once for meshes from
//! outside, the exact cut keeps it. Later code takes `&Solid` and never re-checks.
//! Every directed edge has exactly one opposite; a body inside another faces inward (a cavity).
//! Groups: an outer body with the cavities directly inside it; a cut caps each group by itself.
//! Not here: mending. An open, twisted or inside-out mesh is refused with what is wrong and where.

use crate::assemble;
use crate::grid::{self, GridPoint};
use crate::model::Notice;
use std::sync::Arc;

/// A solid; see the file header for what is guaranteed. It never changes, so clones share its lists.
#[derive(Debug, Clone, PartialEq)]
pub struct Solid {
    pub(crate) points: Arc<Vec<GridPoint>>,
    pub(crate) triangles: Arc<Vec<[u32; 3]>>,
    /// Per triangle: skin, or the tag of the cut that made it.
    pub(crate) origin: Arc<Vec<u32>>,
    /// Group `g` owns `triangles[group_ends[g - 1]..group_ends[g]]`.
    pub(crate) group_ends: Arc<Vec<u32>>,
}

/// Origin of a triangle of the item's own surface, of which it is not known which; cuts are tagged from 1.
pub const SKIN: u32 = 0;

/// Set in the origin of skin of which more is known than [`SKIN`] says.
const KNOWN: u32 = 1 << 31;

/// Set beside it where skin of a stand-in is flat only because it has few triangles.
const BENT: u32 = 1 << 30;

/// In place of a number where only that is known.
const UNNUMBERED: u32 = BENT - 1;

/// Whether a cut made a triangle of this origin.
pub fn is_cut(origin: u32) -> bool {
    origin != SKIN && origin & KNOWN == 0
}

/// Whether it is skin of a stand-in that is flat only because it has few triangles.
pub fn is_bent(origin: u32) -> bool {
    origin & (KNOWN | BENT) == KNOWN | BENT
}

/// The triangle of the solid numbered by [`Solid::with_numbered_skin`] of which this skin is part.
pub fn face_of(origin: u32) -> Option<usize> {
    let number = origin & UNNUMBERED;
    (origin & KNOWN != 0 && number != UNNUMBERED).then_some(number as usize)
}

/// Why a mesh is not a solid. Every place is a point in mm.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NotSolid {
    /// There is no triangle with an area.
    #[error("no triangles")]
    Empty,
    /// A coordinate is not a number or lies farther than 4096 mm from the origin.
    #[error("point {point_index} at {at_mm:?} mm is beyond the 4096 mm the planner works in")]
    OutOfRange {
        /// Index of the first such point.
        point_index: usize,
        /// Where it is.
        at_mm: [f64; 3],
    },
    /// A triangle names a point that does not exist.
    #[error("triangle {triangle_index} points past the last of {n_points} points")]
    BadIndex {
        /// The first such triangle.
        triangle_index: usize,
        /// How many points there are.
        n_points: usize,
    },
    /// Edges with a triangle on one side only: the surface has holes.
    #[error("{count} open edges, the first near {} mm", shown(*at_mm))]
    Open {
        /// How many edges.
        count: usize,
        /// Middle of the first.
        at_mm: [f64; 3],
    },
    /// Edges whose two triangles run the same way: part of the surface is turned over.
    #[error("{count} edges between triangles that face opposite ways, the first near {} mm", shown(*at_mm))]
    Twisted {
        /// How many edges.
        count: usize,
        /// Middle of the first.
        at_mm: [f64; 3],
    },
    /// The enclosed volume is not positive.
    #[error("the surface faces inward: it encloses {volume_mm3:.1} mm3")]
    InsideOut {
        /// Signed volume found.
        volume_mm3: f64,
    },
}

/// A place as people read it.
pub(crate) fn shown([x, y, z]: [f64; 3]) -> String {
    format!("({x:.2}, {y:.2}, {z:.2})")
}

impl Solid {
    /// Of lists that hold what is guaranteed.
    pub(crate) fn of(
        points: Vec<GridPoint>,
        triangles: Vec<[u32; 3]>,
        origin: Vec<u32>,
        group_ends: Vec<u32>,
    ) -> Self {
        Self {
            points: points.into(),
            triangles: triangles.into(),
            origin: origin.into(),
            group_ends: group_ends.into(),
        }
    }

    /// Points on the grid.
    pub fn points(&self) -> &[GridPoint] {
        &self.points
    }

    /// Triples of indices into [`Self::points`].
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// Per triangle: what [`is_cut`], [`is_bent`] and [`face_of`] read.
    pub fn origins(&self) -> &[u32] {
        &self.origin
    }

    /// The same solid moved by whole grid steps.
    pub fn moved(&self, by_mm: [f64; 3]) -> Self {
        let by = by_mm.map(|mm| (mm * grid::STEPS_PER_MM).round_ties_even() as i32);
        let points = self.points.iter().map(|p| std::array::from_fn(|i| p[i] + by[i])).collect();
        Self { points: Arc::new(points), ..self.clone() }
    }

    /// The same solid with each origin renamed.
    pub fn with_origins(&self, renamed: &dyn Fn(u32) -> u32) -> Self {
        let origin = self.origin.iter().map(|&tag| renamed(tag)).collect();
        Self { origin: Arc::new(origin), ..self.clone() }
    }

    /// The same solid with those triangles of its skin marked that are said to be bent ([`is_bent`]).
    pub fn with_bent_skin(&self, is_bent: &[bool]) -> Self {
        let marked = |(&origin, &bent): (&u32, &bool)| match (bent, is_cut(origin)) {
            (true, false) => (if origin == SKIN { UNNUMBERED } else { origin }) | KNOWN | BENT,
            _ => origin,
        };
        let origin = self.origin.iter().zip(is_bent).map(marked).collect();
        Self { origin: Arc::new(origin), ..self.clone() }
    }

    /// The same solid with its skin numbered by triangle, so that of parts cut from it [`face_of`] tells where
    /// their skin comes from.
    pub fn with_numbered_skin(&self) -> Self {
        let numbered = |(number, &origin): (u32, &u32)| {
            if is_cut(origin) { origin } else { KNOWN | (origin & BENT) | number.min(UNNUMBERED) }
        };
        let origin = (0_u32..).zip(self.origin.iter()).map(numbered).collect();
        Self { origin: Arc::new(origin), ..self.clone() }
    }

    /// Positions in mm; exact.
    pub fn points_mm(&self) -> Vec<[f64; 3]> {
        self.points.iter().map(|&p| grid::to_mm(p)).collect()
    }

    /// The corners of a triangle in mm.
    pub fn corners_mm(&self, triangle_index: usize) -> [[f64; 3]; 3] {
        self.triangles[triangle_index].map(|i| grid::to_mm(self.points[i as usize]))
    }

    /// How many triangles.
    pub fn n_triangles(&self) -> usize {
        self.triangles.len()
    }

    /// Proves that a mesh is closed and outward and makes it a solid: points are snapped to the
    /// grid and equal ones joined, triangles without three different corners dropped, pairs that
    /// lie on each other with opposite sides dropped, edges that only touch moved apart by 0.002 mm.
    ///
    /// # Errors
    /// [`NotSolid`] with the first place; nothing is mended.
    pub fn from_triangles(
        points_mm: &[[f64; 3]],
        triangles: &[[u32; 3]],
    ) -> Result<(Self, Vec<Notice>), NotSolid> {
        let mut points = Vec::with_capacity(points_mm.len());
        for (point_index, &at_mm) in points_mm.iter().enumerate() {
            points.push(grid::snap(at_mm).ok_or(NotSolid::OutOfRange { point_index, at_mm })?);
        }
        if let Some(triangle_index) =
            triangles.iter().position(|t| t.iter().any(|&i| i as usize >= points.len()))
        {
            return Err(NotSolid::BadIndex { triangle_index, n_points: points.len() });
        }
        let origin = vec![SKIN; triangles.len()];
        assemble::assemble(&points, triangles, &origin, assemble::Slivers::Refuse)
    }

    /// The solid reflected by `x -> width - x`; `width_mm` is put on the grid, so the result is
    /// exact and reflecting twice gives the same solid again.
    pub fn mirrored_x(&self, width_mm: f64) -> Self {
        let width = (width_mm * grid::STEPS_PER_MM).round_ties_even() as i32;
        Self {
            points: Arc::new(self.points.iter().map(|&[x, y, z]| [width - x, y, z]).collect()),
            triangles: Arc::new(self.triangles.iter().map(|&[a, b, c]| [a, c, b]).collect()),
            origin: self.origin.clone(),
            group_ends: self.group_ends.clone(),
        }
    }
}
