//! What a proof stands on: of each lump of an item its plain proof and points of its surface. Where a search works on
//! a copy of the item (`trial.rs`) this comes from the item and travels with the copy.
//!
//! As numbers a lump is: a place on it, pieces proved plainly, 1 where its volume proves them, 1 where it fits a bed
//! as it is, how many points there are, and these.

use super::{LumpProof, Reason, plain};
use crate::cloud;
use crate::ground::Ground;
use crate::part::Part;
use seamwright_bed::Bed;

/// What proofs of an item stand on, lump by lump in the order of [`Ground::whole`].
#[derive(Debug, Clone, PartialEq)]
pub struct Footing {
    /// Beds a piece may be printed on.
    pub(super) beds: Vec<Bed>,
    pub(super) lumps: Vec<Lump>,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lump {
    pub plain: LumpProof,
    /// Whether it fits a bed as it is: then it is one piece and no more can be proved.
    pub fits: bool,
    /// Points of its surface, about evenly spread; none where it fits.
    pub cloud_mm: Vec<[f64; 3]>,
}

impl Footing {
    /// Of the item itself.
    pub fn of(ground: &Ground) -> Self {
        let of = |part: &Part| Lump {
            plain: plain(part, &ground.beds),
            fits: part.posed.is_some(),
            cloud_mm: if part.posed.is_some() { Vec::new() } else { cloud::points_mm(part) },
        };
        Self { beds: ground.beds.clone(), lumps: ground.whole.parts.iter().map(|part| of(part)).collect() }
    }

    /// Its lumps as numbers.
    pub fn to_numbers(&self) -> Vec<f64> {
        let mut numbers = Vec::new();
        for Lump { plain, fits, cloud_mm } in &self.lumps {
            numbers.extend(plain.at_mm);
            numbers.push(plain.pieces_at_least as f64);
            numbers.push(f64::from(u8::from(plain.reason == Reason::Volume)));
            numbers.push(f64::from(u8::from(*fits)));
            numbers.push(cloud_mm.len() as f64);
            numbers.extend(cloud_mm.iter().flatten());
        }
        numbers
    }

    /// What [`Self::to_numbers`] wrote; `None` where the numbers are none.
    pub fn from_numbers(mut numbers: &[f64], beds: &[Bed]) -> Option<Self> {
        let count =
            |number: f64| (number >= 0.0 && number.fract() == 0.0 && number < 1e9).then_some(number as usize);
        let mut lumps = Vec::new();
        while !numbers.is_empty() {
            let ([x, y, z, least, by_volume, fits, n_points], rest) = numbers.split_first_chunk::<7>()?;
            let (points, rest) = rest.split_at_checked(count(*n_points)?.checked_mul(3)?)?;
            let reason = if *by_volume > 0.0 { Reason::Volume } else { Reason::One };
            lumps.push(Lump {
                plain: LumpProof { at_mm: [*x, *y, *z], pieces_at_least: count(*least)?, reason },
                fits: *fits > 0.0,
                cloud_mm: points.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect(),
            });
            numbers = rest;
        }
        Some(Self { beds: beds.to_vec(), lumps })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bound::tests::cuboid;
    use crate::ground::tests::wish;

    #[test]
    fn it_comes_back_equal_from_its_numbers_and_broken_numbers_do_not() {
        for size_mm in [[400.0, 300.0, 200.0], [100.0, 50.0, 20.0]] {
            let wish = wish("180x180x180");
            let footing = Footing::of(&Ground::new(&cuboid(size_mm), &wish));
            let numbers = footing.to_numbers();
            assert_eq!(Footing::from_numbers(&numbers, &wish.beds), Some(footing.clone()));
            assert_eq!(footing.lumps[0].cloud_mm.is_empty(), size_mm[0] < 180.0);
            assert_eq!(Footing::from_numbers(&numbers[..numbers.len() - 1], &wish.beds), None);
            let mut broken = numbers;
            broken[6] = -1.0;
            assert_eq!(Footing::from_numbers(&broken, &wish.beds), None);
        }
    }
}
