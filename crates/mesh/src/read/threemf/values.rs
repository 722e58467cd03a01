//! Values of attributes: units, ids, transforms.
//!
//! Source: "3MF Core Specification" 1.3, 3.3 (transforms), 3.4 (units) (from memory).

use crate::model::Unit;
use crate::placement::Placement;
use crate::read::text;

/// The unit of this name.
pub fn unit_named(word: &str) -> Option<Unit> {
    Some(match word {
        "micron" => Unit::Micron,
        "millimeter" => Unit::Mm,
        "centimeter" => Unit::Cm,
        "inch" => Unit::Inch,
        "foot" => Unit::Foot,
        "meter" => Unit::M,
        _ => return None,
    })
}

/// An object or resource id.
///
/// # Errors
/// What is wrong with the text.
pub fn resource_id(value: &str) -> Result<u32, String> {
    // At most 2^31 - 1, and not 0.
    let parsed = value.trim().parse::<u32>().ok().filter(|id| (1..1 << 31).contains(id));
    parsed.ok_or_else(|| format!("{value:?} is not an object id"))
}

/// Twelve numbers `m00 m01 m02 m10 ... m32` for row vectors: the transpose of our placement.
///
/// # Errors
/// What is wrong with the text.
pub fn transform_of(value: &str) -> Result<Placement, String> {
    let mut numbers = [0.0; 12];
    let mut words = value.split_ascii_whitespace();
    for number in &mut numbers {
        let word = words.next().ok_or_else(|| format!("a transform of fewer than 12 numbers: {value:?}"))?;
        *number = text::number(word.as_bytes()).map_err(|why| format!("transform: {why}"))?;
    }
    if words.next().is_some() {
        return Err("a transform of more than 12 numbers".into());
    }
    let m = numbers;
    Ok(Placement([m[0], m[3], m[6], m[9], m[1], m[4], m[7], m[10], m[2], m[5], m[8], m[11]]))
}
