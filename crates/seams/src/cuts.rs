//! The cuts of a partition as what they are made again from: in another memory, to the bit.
//!
//! As numbers a cut is: part, normal, offset, cost of its line, how much of it is chalked off, how many regions
//! are chosen (0: the whole plane); where some are, the direction of joining and their indices follow. A partial
//! cut's direction travels with it, so that its proof is not searched twice.
//! Not here: making them (`partition.rs`, `partial.rs`).

use seamwright_mesh::Plane;

/// One cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Index of the part that is cut.
    pub whole: usize,
    /// The plane.
    pub plane: Plane,
    /// Where not all regions are cut, those that are.
    pub partial: Option<Partial>,
    /// What its line costs, in mm of plain line.
    pub cost_mm: f64,
    /// How much of its line leads through detail.
    pub detail_mm: f64,
    /// How much of its line leads through areas chalked off.
    pub chalked_mm: f64,
}

/// What makes a cut a partial one.
#[derive(Debug, Clone, PartialEq)]
pub struct Partial {
    /// Indices of the regions that are cut, ascending, as `mesh::split::regions` lists them.
    pub regions: Vec<usize>,
    /// What is below is pushed along this unit vector against what is above.
    pub direction: [f64; 3],
}

/// The cuts as numbers.
pub fn to_numbers(cuts: &[Cut]) -> Vec<f64> {
    let mut numbers = Vec::new();
    for Cut { whole, plane, partial, cost_mm, detail_mm, chalked_mm } in cuts {
        numbers.push(*whole as f64);
        numbers.extend(plane.normal);
        numbers.extend([plane.offset_mm, *cost_mm, *detail_mm, *chalked_mm]);
        numbers.push(partial.as_ref().map_or(0, |partial| partial.regions.len()) as f64);
        if let Some(Partial { regions, direction }) = partial {
            numbers.extend(direction);
            numbers.extend(regions.iter().map(|&region| region as f64));
        }
    }
    numbers
}

/// The cuts that [`to_numbers`] wrote; `None` where the numbers are none.
pub fn from_numbers(mut numbers: &[f64]) -> Option<Vec<Cut>> {
    let index = |number: f64| {
        (number >= 0.0 && number < f64::from(u32::MAX) && number.fract() == 0.0).then_some(number as usize)
    };
    let mut cuts = Vec::new();
    while !numbers.is_empty() {
        let ([whole, x, y, z, offset_mm, cost_mm, detail_mm, chalked_mm, n], rest) =
            numbers.split_first_chunk::<9>()?;
        let plane = Plane { normal: [*x, *y, *z], offset_mm: *offset_mm };
        let (whole, n) = (index(*whole)?, index(*n)?);
        numbers = rest;
        let mut partial = None;
        if n > 0 {
            let (direction, rest) = numbers.split_first_chunk::<3>()?;
            let (regions, rest) = rest.split_at_checked(n)?;
            let regions = regions.iter().map(|&region| index(region)).collect::<Option<_>>()?;
            partial = Some(Partial { regions, direction: *direction });
            numbers = rest;
        }
        let [cost_mm, detail_mm, chalked_mm] = [*cost_mm, *detail_mm, *chalked_mm];
        cuts.push(Cut { whole, plane, partial, cost_mm, detail_mm, chalked_mm });
    }
    Some(cuts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_come_back_equal_from_their_numbers_and_broken_numbers_do_not() {
        let plane = |offset_mm| Plane { normal: [0.6, 0.0, 0.8], offset_mm };
        let some = Partial { regions: vec![0, 3], direction: [0.0, 0.0, 1.0] };
        let cut = |whole, plane, partial, [cost_mm, detail_mm, chalked_mm]: [f64; 3]| Cut {
            whole,
            plane,
            partial,
            cost_mm,
            detail_mm,
            chalked_mm,
        };
        let cuts = [
            cut(0, plane(1.5), None, [12.5, 6.0, 3.5]),
            cut(2, plane(-7.25), Some(some), [0.0; 3]),
            cut(1, plane(0.1), None, [7.0, 0.0, 0.0]),
        ];
        let numbers = to_numbers(&cuts);
        assert_eq!(numbers.len(), 9 + 14 + 9);
        assert_eq!(from_numbers(&numbers).as_deref(), Some(&cuts[..]));
        assert_eq!(from_numbers(&[]), Some(Vec::new()));
        for n in 1..numbers.len() {
            let whole_cuts = [9, 23].contains(&n);
            assert_eq!(from_numbers(&numbers[..n]).is_some(), whole_cuts, "{n} numbers");
        }
        for broken in [-1.0, 0.5, f64::NAN, f64::INFINITY] {
            let mut changed = numbers.clone();
            changed[8] = broken;
            assert_eq!(from_numbers(&changed), None, "{broken}");
        }
    }
}
