//! What one cut leaves, before it is made.

use seamwright_mesh::split::Split;
use seamwright_mesh::{Plane, Solid, lumps};

/// Why a plane was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoCut {
    /// It misses the part.
    Misses,
    /// Its section crosses itself there; a little farther on it may not.
    Rough,
    /// It chips off a crumb; a little farther on it may not.
    Crumb,
    /// What lies on both sides of the chosen regions hangs together elsewhere.
    Holds,
    /// What it parts holds each other: no direction was found in which to push it together.
    Locked,
    /// The maker does not want it.
    Forbidden,
}

/// A cut that may be made: what it leaves, lump by lump.
pub struct Parted {
    pub plane: Plane,
    /// Lumps below and above.
    pub sides: [Vec<Solid>; 2],
}

impl Parted {
    /// Takes both halves apart, if no more than `rough_mm2` of the cut face overlaps itself and no lump is
    /// smaller than `crumb_mm3`.
    pub fn of(halves: Split, plane: Plane, [rough_mm2, crumb_mm3]: [f64; 2]) -> Result<Self, NoCut> {
        let (Some(below), Some(above)) = (halves.below, halves.above) else { return Err(NoCut::Misses) };
        if halves.rough_mm2 > rough_mm2 {
            return Err(NoCut::Rough);
        }
        let sides = [below, above].map(lumps::lumps);
        if sides.iter().flatten().any(|lump| lump.volume_mm3() < crumb_mm3) {
            return Err(NoCut::Crumb);
        }
        Ok(Self { plane, sides })
    }
}
