//! What the maker marked on an item: seams that stay, seams that are not wanted, chalk, what is printed.
//!
//! How: a seam that stays is cut before anything else and never moved; what is printed is never cut. A seam
//! that is not wanted keeps every plane away that would lie about where it lay. Chalk is weighed by the field
//! (`field.rs`) and counted apart, because no line is short enough to lead through an area chalked off.
//! Units: mm in item coordinates.
//! Not here: where marks are kept in files (the planner's), how tasks start from what stays (`ground.rs`).

use crate::lines::surface::distance_to_side_mm;
use crate::part::{Look, Part};
use crate::partition::{NoCut, Partition};
use seamwright_mesh::section::chords;
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::{Plane, vec3};

/// All marks on one item.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Marks {
    /// Seams that stay, in the order they are cut.
    pub locked: Vec<Locked>,
    /// Seams that are not wanted.
    pub forbidden: Vec<Forbidden>,
    /// Chalk, dab by dab; the later counts where two meet.
    pub chalk: Vec<Dab>,
    /// A place on each piece that is printed already; the seams round it must be locked.
    pub printed: Vec<[f64; 3]>,
}

/// A seam that stays.
#[derive(Debug, Clone, PartialEq)]
pub struct Locked {
    /// Its plane.
    pub plane: Plane,
    /// A place on its line, which tells what it cuts.
    pub at_mm: [f64; 3],
    /// Points inside the regions that are cut alone; none where all that the plane meets is.
    pub inside_mm: Vec<[f64; 3]>,
}

/// A seam that is not wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forbidden {
    /// Its plane.
    pub plane: Plane,
    /// A place on its line.
    pub at_mm: [f64; 3],
}

/// One touch of chalk: a ball round a place on the skin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dab {
    /// Its middle.
    pub at_mm: [f64; 3],
    /// Its radius.
    pub radius_mm: f64,
    /// Whether no seam is wanted there; else a seam is welcome.
    pub is_off: bool,
}

/// A plane lies where another did if it is turned from it by less than 20 degrees and passes the place no
/// farther off than this (ours).
const SAME_ALONG: f64 = 0.94;
const SAME_MM: f64 = 15.0;

/// A place lies in a part's box even where a stand-in is a little smaller there than the item.
const BOX_MM: f64 = 2.0;

impl Marks {
    /// Whether nothing is marked.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Whether a plane may not cut a part.
    pub fn forbid(&self, part: &Part, plane: &Plane) -> bool {
        self.forbidden.iter().any(|unwanted| {
            let (low, high) = part.box_mm;
            let is_inside = (0..3).all(|k| {
                let c = unwanted.at_mm[k];
                low[k] - BOX_MM <= c && c <= high[k] + BOX_MM
            });
            is_inside
                && vec3::dot(unwanted.plane.normal, plane.normal).abs() > SAME_ALONG
                && plane.distance_mm(unwanted.at_mm).abs() < SAME_MM
        })
    }
}

impl Locked {
    /// Cuts what it tells it cuts.
    ///
    /// # Errors
    /// [`NoCut`]; the partition is unchanged then.
    pub fn cut(&self, partition: &mut Partition, look: &dyn Look) -> Result<(), NoCut> {
        let part = part_cut_at(partition, &self.plane, self.at_mm).ok_or(NoCut::Misses)?;
        partition.cut_inside_near(part, self.plane, &self.inside_mm, look)
    }
}

/// The open part that a plane cuts nearest to a place; `None` where it meets none.
pub fn part_cut_at(partition: &Partition, plane: &Plane, at_mm: [f64; 3]) -> Option<usize> {
    let mut best = (f64::INFINITY, None);
    for index in partition.pieces() {
        let part = &partition.parts[index];
        if part.is_passed_by(plane) {
            continue;
        }
        chords(&part.solid, plane, |_, [from, to]| {
            let off_mm = distance_to_side_mm(at_mm, from, to);
            if off_mm < best.0 {
                best = (off_mm, Some(index));
            }
        });
    }
    best.1
}

/// The open part whose skin lies nearest to a place.
pub fn part_at(partition: &Partition, at_mm: [f64; 3]) -> Option<usize> {
    let off_mm = |index: usize| {
        let solid = &partition.parts[index].solid;
        Some((Tree::new(solid.points_mm(), solid.triangles().to_vec())?.distance_mm(at_mm), index))
    };
    let all = partition.pieces().into_iter().filter_map(off_mm);
    all.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, index)| index)
}
