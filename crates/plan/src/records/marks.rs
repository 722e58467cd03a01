//! What a maker marked on an item, as a project holds it.
//!
//! Units: mm in item coordinates, of an item of the size named beside; on the same shape in another size
//! marks follow it. Not here: what marks do to a plan (`seams::marks`).

use crate::records::PlaneRecord;
use seamwright_mesh::{Plane, vec3};
use seamwright_seams::marks::{Dab, Forbidden, Locked, Marks};
use serde::{Deserialize, Serialize};

/// All marks on one item.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MarksRecord {
    /// Size of the item they were made on.
    pub size_mm: [f64; 3],
    /// Seams that stay, in the order they are cut.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub locked: Vec<SeamMark>,
    /// Seams that are not wanted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub forbidden: Vec<SeamMark>,
    /// Chalk, dab by dab; the later counts where two meet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chalk: Vec<ChalkDab>,
    /// A place on each piece that is printed already; the seams round it are among the locked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub printed: Vec<[f64; 3]>,
}

/// A seam and where it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeamMark {
    /// Its plane.
    pub plane: PlaneRecord,
    /// A place on its line.
    pub at_mm: [f64; 3],
    /// Points inside the regions that are cut alone; none where all that the plane meets is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inside_mm: Vec<[f64; 3]>,
}

/// Cuts of a plan made before, on an item of this size: the search begins with it where it still holds.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct BegunRecord {
    /// Size of the item.
    pub size_mm: [f64; 3],
    /// The cuts in their order, but for those that stay.
    pub cuts: Vec<SeamMark>,
}

impl BegunRecord {
    /// Whether there is nothing to begin with.
    pub fn is_empty(&self) -> bool {
        self.cuts.is_empty()
    }

    /// Whether every number is of use.
    ///
    /// # Errors
    /// Says which is not.
    pub fn check(&self) -> Result<(), String> {
        match self.cuts.iter().position(|cut| !cut.is_of_use()) {
            Some(index) => Err(format!("cut {} of the plan before is of no use", index + 1)),
            None => Ok(()),
        }
    }

    /// The cuts for an item of that size; none for another.
    pub fn on_item(&self, size_mm: [f64; 3]) -> Vec<Locked> {
        let is_same = (0..3).all(|k| (size_mm[k] / self.size_mm[k] - 1.0).abs() <= SAME_SHAPE);
        if is_same { self.cuts.iter().map(SeamMark::locked).collect() } else { Vec::new() }
    }
}

impl SeamMark {
    /// Of a seam that cuts all that its plane meets.
    pub fn new(plane: PlaneRecord, at_mm: [f64; 3]) -> Self {
        Self { plane, at_mm, inside_mm: Vec::new() }
    }

    fn is_of_use(&self) -> bool {
        let Self { plane, at_mm, inside_mm } = self;
        let is_unit = (vec3::length(plane.normal) - 1.0).abs() < UNIT;
        is_unit
            && plane.offset_mm.is_finite()
            && at_mm.iter().chain(inside_mm.iter().flatten()).all(|c| c.is_finite())
    }

    fn plane(&self) -> Plane {
        Plane { normal: self.plane.normal, offset_mm: self.plane.offset_mm }
    }

    /// As the search takes it.
    pub fn locked(&self) -> Locked {
        Locked { plane: self.plane(), at_mm: self.at_mm, inside_mm: self.inside_mm.clone() }
    }
}

/// A touch of chalk: a ball round a place on the skin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ChalkDab {
    /// Off where no seam is wanted, in where one is welcome.
    pub kind: ChalkKind,
    /// Its middle.
    pub at_mm: [f64; 3],
    /// Its radius.
    pub radius_mm: f64,
}

/// What chalk says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ChalkKind {
    /// No seam here.
    Off,
    /// A seam is welcome here.
    In,
}

/// Radii of chalk that can be drawn.
pub const CHALK_RADII_MM: [f64; 2] = [1.0, 100.0];

/// Most marks of a kind on an item.
const MOST: usize = 5_000;

/// A direction is a unit vector up to rounding.
const UNIT: f64 = 1e-6;

/// Sizes are the same shape if their ratios differ by less than this share.
const SAME_SHAPE: f64 = 1e-3;

impl MarksRecord {
    /// Whether nothing is marked.
    pub fn is_empty(&self) -> bool {
        self.locked.is_empty()
            && self.forbidden.is_empty()
            && self.chalk.is_empty()
            && self.printed.is_empty()
    }

    /// Whether every number is of use.
    ///
    /// # Errors
    /// Says which is not and why.
    pub fn check(&self) -> Result<(), String> {
        let is_place = |at_mm: &[f64; 3]| at_mm.iter().all(|c| c.is_finite());
        let seams = [("locked", &self.locked), ("forbidden", &self.forbidden)];
        let counts = [("chalk", self.chalk.len()), ("printed", self.printed.len())];
        let counts = seams.iter().map(|(what, seams)| (*what, seams.len())).chain(counts);
        for (what, n) in counts {
            if n > MOST {
                return Err(format!("{n} marks are {what}; {MOST} are the most"));
            }
        }
        for (what, marks) in seams {
            if let Some(index) = marks.iter().position(|mark| !mark.is_of_use()) {
                return Err(format!(
                    "{what} seam {} has no place, or no plane with a unit normal",
                    index + 1
                ));
            }
        }
        let [least, most] = CHALK_RADII_MM;
        for (index, dab) in self.chalk.iter().enumerate() {
            if !is_place(&dab.at_mm) || !(least..=most).contains(&dab.radius_mm) {
                return Err(format!(
                    "chalk {} has no place, or no radius of {least} to {most} mm",
                    index + 1
                ));
            }
        }
        match self.printed.iter().position(|at_mm| !is_place(at_mm)) {
            Some(index) => Err(format!("printed piece {} has no place", index + 1)),
            None if !self.is_empty() && self.size_mm.iter().any(|c| !(c.is_finite() && *c > 0.0)) => {
                Err("the marks do not say on an item of what size they were made".into())
            }
            None => Ok(()),
        }
    }

    /// The same marks on an item of another size.
    ///
    /// # Errors
    /// Where it is not the same shape, or pieces of another size are printed already.
    pub fn on_item(&self, size_mm: [f64; 3]) -> Result<Self, String> {
        if self.is_empty() {
            return Ok(Self::default());
        }
        let ratios: [f64; 3] = std::array::from_fn(|k| size_mm[k] / self.size_mm[k]);
        let factor = ratios[0];
        let sizes = || [self.size_mm, size_mm].map(|size| size.map(|c| format!("{c:.1}")).join(" x "));
        if ratios.iter().any(|ratio| (ratio / factor - 1.0).abs() > SAME_SHAPE) {
            let [before, now] = sizes();
            return Err(format!(
                "what is marked on it was marked on an item of {before} mm; this one is {now} mm and not the same \
                 shape. Set unit, size and up axis back, or remove the marks"
            ));
        }
        if (factor - 1.0).abs() <= SAME_SHAPE {
            return Ok(Self { size_mm, ..self.clone() });
        }
        if !self.printed.is_empty() {
            let [before, now] = sizes();
            return Err(format!(
                "pieces of it are marked as printed at a size of {before} mm; now it is {now} mm. Set the size \
                 back, or take the marks off those pieces"
            ));
        }
        let place = |at_mm: [f64; 3]| vec3::scale(at_mm, factor);
        let seam = |seam: &SeamMark| SeamMark {
            plane: PlaneRecord { offset_mm: seam.plane.offset_mm * factor, ..seam.plane },
            at_mm: place(seam.at_mm),
            inside_mm: seam.inside_mm.iter().map(|&at_mm| place(at_mm)).collect(),
        };
        let dab =
            |dab: &ChalkDab| ChalkDab { at_mm: place(dab.at_mm), radius_mm: dab.radius_mm * factor, ..*dab };
        Ok(Self {
            size_mm,
            locked: self.locked.iter().map(seam).collect(),
            forbidden: self.forbidden.iter().map(seam).collect(),
            chalk: self.chalk.iter().map(dab).collect(),
            printed: Vec::new(),
        })
    }

    /// As the search takes them.
    pub fn marks(&self) -> Marks {
        let dab = |dab: &ChalkDab| Dab {
            at_mm: dab.at_mm,
            radius_mm: dab.radius_mm,
            is_off: dab.kind == ChalkKind::Off,
        };
        Marks {
            locked: self.locked.iter().map(SeamMark::locked).collect(),
            forbidden: self
                .forbidden
                .iter()
                .map(|seam| Forbidden { plane: seam.plane(), at_mm: seam.at_mm })
                .collect(),
            chalk: self.chalk.iter().map(dab).collect(),
            printed: self.printed.clone(),
        }
    }
}
