//! Unit, up axis and size of a file: guesses with their reasons, and the placement they lead to.
//!
//! The guess is about costume parts: between 40 mm and 2.5 m. Where a number fits two units, the
//! one that makers' files use more often is taken and the guess says it is not sure.
//! Units and frame: the placement leads from file coordinates to the item's frame: mm, Z up, its box
//! starting at (0, 0, 0).
//! Source: ranges are common practice, no source.

use crate::model::{Model, Unit};
use crate::placement::Placement;
use crate::vec3;

/// A unit and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitGuess {
    /// The unit to take.
    pub unit: Unit,
    /// Nothing else is plausible.
    pub sure: bool,
    /// One plain sentence without a dot at its end.
    pub reason: String,
}

/// The axis of the file that points up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Up {
    X,
    Y,
    Z,
}

/// An up axis and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UpGuess {
    /// The axis to take.
    pub up: Up,
    /// One plain sentence without a dot at its end.
    pub reason: String,
}

/// How large the item shall be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// This many times the size in the file's unit.
    Scale(f64),
    /// Largest extent along Z in mm.
    HeightMm(f64),
    /// Volume in cm3.
    VolumeCm3(f64),
}

/// Why a size cannot be reached.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SizeError {
    /// There is no triangle.
    #[error("the model has no triangles")]
    Empty,
    /// The wished number is not positive.
    #[error("a size of {wished} is not possible; it must be above 0")]
    NotPositive {
        /// The number.
        wished: f64,
    },
    /// The model is flat along Z, so no factor gives it a height.
    #[error("the model has no height along its up axis, so it cannot be scaled to one")]
    NoHeight,
    /// The volume is not positive, so no factor gives it a volume.
    #[error("the model encloses {volume_mm3:.1} mm3, so it cannot be scaled to a volume")]
    NoVolume {
        /// The signed volume found, at the file's own scale.
        volume_mm3: f64,
    },
}

/// Largest extent that reads as metres, decimetres, inches and centimetres, in file units; anything
/// above is mm. Common practice, no source: 1 m, 300 mm, 480 mm and 400 mm in turn.
const LARGEST: [(f64, Unit); 4] = [(1.0, Unit::M), (3.0, Unit::Dm), (19.0, Unit::Inch), (40.0, Unit::Cm)];

/// Guesses the unit from the largest extent in file units and what the file declares.
///
/// # Examples
/// ```
/// use seamwright_mesh::{Unit, units::guess_unit};
/// assert_eq!(guess_unit(0.3, None).unit, Unit::M);
/// assert_eq!(guess_unit(11.0, None).unit, Unit::Inch);
/// assert!(guess_unit(280.0, None).sure);
/// ```
pub fn guess_unit(largest_extent: f64, declared: Option<Unit>) -> UnitGuess {
    let millimetres = |unit: Unit| number(largest_extent * unit.mm());
    if let Some(unit) = declared {
        let mm = largest_extent * unit.mm();
        let name = unit.name();
        if (5.0..=4096.0).contains(&mm) {
            return UnitGuess { unit, sure: true, reason: format!("the file says {name}") };
        }
        let reason =
            format!("the file says {name}, which makes the model {} mm long: check the unit", number(mm));
        return UnitGuess { unit, sure: false, reason };
    }
    let extent = number(largest_extent);
    for (limit, unit) in LARGEST {
        if largest_extent >= limit {
            continue;
        }
        // A tenth of a metre to a metre is a costume part in metres and nothing else.
        let sure = unit == Unit::M && largest_extent >= 0.1;
        let others: Vec<String> = LARGEST
            .iter()
            .map(|&(_, other)| other)
            .filter(|&other| other != unit && (40.0..=2500.0).contains(&(largest_extent * other.mm())))
            .map(|other| format!("{} mm in {}", millimetres(other), other.name()))
            .collect();
        let mut reason = format!(
            "{extent} units would be {extent} mm; in {} the model is {} mm long, a size people wear or carry",
            unit.name(),
            millimetres(unit)
        );
        if !sure && !others.is_empty() {
            reason.push_str(&format!("; it could also be {}", others.join(" or ")));
        }
        return UnitGuess { unit, sure, reason };
    }
    if largest_extent > 40_000.0 {
        let reason = format!(
            "{extent} units would be {extent} mm; in micron the model is {} mm long",
            millimetres(Unit::Micron)
        );
        return UnitGuess { unit: Unit::Micron, sure: false, reason };
    }
    let reason = format!("{extent} units read as mm, the usual unit of print files");
    UnitGuess { unit: Unit::Mm, sure: (60.0..=2500.0).contains(&largest_extent), reason }
}

/// Guesses the up axis: Z, unless the model stands on a flat foot that faces down along Y.
///
/// A foot is the area of faces that lie in the lowest plane of an axis, as a share of the box's
/// footprint; a fifth is a foot, a hundredth is none (own choice).
pub fn guess_up(model: &Model) -> UpGuess {
    let (foot_y, foot_z) = (foot_share(model, 1), foot_share(model, 2));
    if foot_y >= 0.2 && foot_z < 0.01 {
        let reason = format!(
            "a flat foot of {:.0} % of the footprint faces down along Y and none along Z",
            100.0 * foot_y
        );
        return UpGuess { up: Up::Y, reason };
    }
    let reason = if foot_z >= 0.2 {
        format!("a flat foot of {:.0} % of the footprint faces down along Z", 100.0 * foot_z)
    } else {
        "taken as Z, the usual axis of print files; nothing in the shape tells".into()
    };
    UpGuess { up: Up::Z, reason }
}

/// Turns the file's up axis to Z.
pub fn turn_up(up: Up) -> Placement {
    let rows = match up {
        Up::X => [[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]],
        Up::Y => [[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]],
        Up::Z => return Placement::IDENTITY,
    };
    Placement::from_rows(rows, [0.0; 3])
}

/// The placement from file coordinates to the item: unit, up axis and size applied, the box moved to
/// start at (0, 0, 0).
///
/// # Errors
/// [`SizeError`] where the model has no height or volume to scale, or the wish is not positive.
pub fn item_placement(model: &Model, unit: Unit, up: Up, size: Size) -> Result<Placement, SizeError> {
    let (Size::Scale(wished) | Size::HeightMm(wished) | Size::VolumeCm3(wished)) = size;
    if !wished.is_finite() || wished <= 0.0 {
        return Err(SizeError::NotPositive { wished });
    }
    let turn = turn_up(up);
    let (low, high) = box_of(model, &turn).ok_or(SizeError::Empty)?;
    let factor = match size {
        Size::Scale(scale) => unit.mm() * scale,
        Size::HeightMm(height_mm) => {
            let height = high[2] - low[2];
            if height <= 0.0 {
                return Err(SizeError::NoHeight);
            }
            height_mm / height
        }
        Size::VolumeCm3(volume_cm3) => {
            let volume = volume(model);
            let volume_mm3 = volume * unit.mm() * unit.mm() * unit.mm();
            if !volume.is_finite() || volume <= 0.0 {
                return Err(SizeError::NoVolume { volume_mm3 });
            }
            libm::cbrt(1000.0 * volume_cm3 / volume)
        }
    };
    let rows = turn.rows().map(|row| vec3::scale(row, factor));
    Ok(Placement::from_rows(rows, vec3::scale(low, -factor)))
}

/// The largest extent of the model's box in file units; 0 without triangles.
pub fn largest_extent(model: &Model) -> f64 {
    box_of(model, &Placement::IDENTITY)
        .map_or(0.0, |(low, high)| vec3::sub(high, low).into_iter().fold(0.0, f64::max))
}

/// Box of the points that triangles use.
fn box_of(model: &Model, placement: &Placement) -> Option<([f64; 3], [f64; 3])> {
    let mut found: Option<([f64; 3], [f64; 3])> = None;
    for part in &model.parts {
        for &corner in part.triangles.iter().flatten() {
            let point = placement.apply(part.points[corner as usize]);
            let (low, high) = found.get_or_insert((point, point));
            for axis in 0..3 {
                low[axis] = low[axis].min(point[axis]);
                high[axis] = high[axis].max(point[axis]);
            }
        }
    }
    found
}

/// Signed volume in file units, summed from the middle of the box.
fn volume(model: &Model) -> f64 {
    let Some((low, high)) = box_of(model, &Placement::IDENTITY) else { return 0.0 };
    let middle = vec3::scale(vec3::add(low, high), 0.5);
    let corners =
        |part: &crate::model::Part, t: &[u32; 3]| t.map(|i| vec3::sub(part.points[i as usize], middle));
    let six_fold = model.parts.iter().flat_map(|part| part.triangles.iter().map(move |t| corners(part, t)));
    six_fold.map(|[a, b, c]| vec3::dot(a, vec3::cross(b, c))).sum::<f64>() / 6.0
}

/// Area of the faces in the lowest plane of an axis, as a share of the box's footprint.
fn foot_share(model: &Model, axis: usize) -> f64 {
    let Some((low, high)) = box_of(model, &Placement::IDENTITY) else { return 0.0 };
    let size = vec3::sub(high, low);
    let footprint = size[(axis + 1) % 3] * size[(axis + 2) % 3];
    // A thousandth of the height counts as in the plane: exports round.
    let limit = low[axis] + 1e-3 * size[axis];
    let mut area = 0.0;
    for part in &model.parts {
        for triangle in &part.triangles {
            let [a, b, c] = triangle.map(|i| part.points[i as usize]);
            if a[axis] <= limit && b[axis] <= limit && c[axis] <= limit {
                area += 0.5 * vec3::cross(vec3::sub(b, a), vec3::sub(c, a))[axis].abs();
            }
        }
    }
    if footprint > 0.0 { area / footprint } else { 0.0 }
}

/// A length for a sentence: three digits that count.
fn number(value: f64) -> String {
    let digits = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else if value >= 1.0 {
        2
    } else {
        3
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Part;
    use crate::write::block_mesh;

    fn block(low: [f64; 3], high: [f64; 3]) -> Model {
        let (points, triangles) = block_mesh(low, high);
        Model { parts: vec![Part { points, triangles, ..Part::default() }], ..Model::default() }
    }

    #[test]
    fn the_unit_follows_from_the_size_and_the_reason_says_how() {
        let cases = [
            (0.3, Unit::M, true),
            (0.12, Unit::M, true),
            (0.716, Unit::M, true),
            (1.7, Unit::Dm, false),
            (2.6, Unit::Dm, false),
            (4.7244, Unit::Inch, false),
            (11.0, Unit::Inch, false),
            (28.0, Unit::Cm, false),
            (50.0, Unit::Mm, false),
            (120.0, Unit::Mm, true),
            (1748.0, Unit::Mm, true),
            (280_000.0, Unit::Micron, false),
        ];
        for (extent, unit, sure) in cases {
            let guess = guess_unit(extent, None);
            assert_eq!((guess.unit, guess.sure), (unit, sure), "{extent}: {}", guess.reason);
        }
        let reason = guess_unit(11.0, None).reason;
        assert_eq!(
            reason,
            "11 units would be 11 mm; in inch the model is 279 mm long, a size people wear or carry; it could also be 1100 mm in dm or 110 mm in cm"
        );
    }

    #[test]
    fn a_declared_unit_is_taken_and_doubted_only_where_the_size_is_absurd() {
        assert_eq!(
            guess_unit(11.0, Some(Unit::Inch)),
            UnitGuess { unit: Unit::Inch, sure: true, reason: "the file says inch".into() }
        );
        let doubted = guess_unit(0.3, Some(Unit::Mm));
        assert_eq!((doubted.unit, doubted.sure), (Unit::Mm, false));
        assert!(doubted.reason.contains("0.3 mm long"), "{}", doubted.reason);
    }

    #[test]
    fn every_up_axis_turns_to_z_without_a_mirror() {
        let unit = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        for (up, axis) in [(Up::X, 0), (Up::Y, 1), (Up::Z, 2)] {
            let turn = turn_up(up);
            assert!(turn.is_rigid(1e-15));
            assert_eq!(turn.apply(unit[axis]), [0.0, 0.0, 1.0]);
        }
    }

    #[test]
    fn a_model_is_sized_by_scale_height_or_volume_and_starts_at_the_origin() {
        let model = block([-1.0, 2.0, 5.0], [1.0, 3.0, 9.0]);
        let low_high = |placement: &Placement| box_of(&model, placement).unwrap();
        let scaled = item_placement(&model, Unit::Cm, Up::Z, Size::Scale(1.5)).unwrap();
        assert_eq!(low_high(&scaled), ([0.0; 3], [30.0, 15.0, 60.0]));
        let tall = item_placement(&model, Unit::Inch, Up::Y, Size::HeightMm(300.0)).unwrap();
        let (low, high) = low_high(&tall);
        assert_eq!(low, [0.0; 3]);
        assert_eq!(high, [600.0, 1200.0, 300.0]);
        let heavy = item_placement(&model, Unit::M, Up::X, Size::VolumeCm3(64.0)).unwrap();
        let (_, high) = low_high(&heavy);
        // 2 x 1 x 4 file units are 64,000 mm3 at 20 mm a unit.
        for (found, expected) in high.iter().zip([80.0, 20.0, 40.0]) {
            assert!((found - expected).abs() < 1e-9, "{high:?}");
        }
        assert!((heavy.determinant() - 8000.0).abs() < 1e-6);
    }

    #[test]
    fn a_size_that_cannot_be_reached_is_refused() {
        let flat = block([0.0; 3], [1.0, 1.0, 0.0]);
        assert_eq!(item_placement(&flat, Unit::Mm, Up::Z, Size::HeightMm(10.0)), Err(SizeError::NoHeight));
        assert_eq!(
            item_placement(&flat, Unit::Mm, Up::Z, Size::VolumeCm3(10.0)),
            Err(SizeError::NoVolume { volume_mm3: 0.0 })
        );
        assert_eq!(
            item_placement(&flat, Unit::Mm, Up::Z, Size::Scale(0.0)),
            Err(SizeError::NotPositive { wished: 0.0 })
        );
        assert_eq!(
            item_placement(&Model::default(), Unit::Mm, Up::Z, Size::Scale(1.0)),
            Err(SizeError::Empty)
        );
    }

    #[test]
    fn a_foot_along_y_turns_the_guess_and_a_box_stays_as_it_is() {
        assert_eq!(guess_up(&block([0.0; 3], [1.0; 3])).up, Up::Z);
        // A pyramid on a square foot in the plane y = 0, its tip along Y.
        let points = vec![[0., 0., 0.], [2., 0., 0.], [2., 0., 2.], [0., 0., 2.], [1., 3., 1.]];
        let triangles = vec![[0, 1, 2], [0, 2, 3], [0, 4, 1], [1, 4, 2], [2, 4, 3], [3, 4, 0]];
        let model = Model { parts: vec![Part { points, triangles, ..Part::default() }], ..Model::default() };
        let guess = guess_up(&model);
        assert_eq!(guess.up, Up::Y);
        assert!(guess.reason.contains("100 %"), "{}", guess.reason);
    }
}
