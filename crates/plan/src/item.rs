//! From a model file to a sized item: read, guess units, place, prove solid.

use crate::PlanError;
use crate::job::{ItemSettings, ModelInput};
use seamwright_mesh::units::{self, Size, Up};
use seamwright_mesh::{Model, Notice, Placement, Solid, Unit, item, read};
use sha2::{Digest, Sha256};

/// A model read and sized.
pub struct SizedItem {
    /// Id made from the file name.
    pub id: String,
    /// Name for people: the file name without its ending.
    pub name: String,
    /// What it is worn as.
    pub role: Option<String>,
    /// SHA-256 of the file, hex.
    pub sha256: String,
    /// From file coordinates to item coordinates.
    pub placement: Placement,
    /// The item; its box starts at the origin.
    pub solid: Solid,
    /// What was found in the file and done about it.
    pub notices: Vec<Notice>,
}

/// Reads and sizes one model.
///
/// # Errors
/// [`PlanError`] naming the file, where and why.
pub fn read_item(input: &ModelInput) -> Result<SizedItem, PlanError> {
    let fail = |why: String| PlanError::Model { name: input.name.clone(), why };
    let model = read::read_model(&input.bytes, &input.name).map_err(|e| fail(e.to_string()))?;
    let (placement, mut notices) = place(&model, &input.settings).map_err(|e| fail(e.to_string()))?;
    let (solid, found) = item::solid_of(&model, &placement).map_err(|e| fail(e.to_string()))?;
    notices.splice(0..0, found);
    let name = stem(&input.name);
    Ok(SizedItem {
        id: id_of(&name),
        name,
        role: input.settings.role.clone(),
        sha256: sha256_hex(&input.bytes),
        placement,
        solid,
        notices,
    })
}

/// The map from file to item coordinates, with notices about what was guessed.
///
/// # Errors
/// A size that cannot be reached, or a model without triangles.
pub fn place(model: &Model, settings: &ItemSettings) -> Result<(Placement, Vec<Notice>), units::SizeError> {
    let size = match (settings.scale, settings.height_mm, settings.volume_cm3) {
        (_, Some(height_mm), _) => Size::HeightMm(height_mm),
        (_, _, Some(volume_cm3)) => Size::VolumeCm3(volume_cm3),
        (factor, None, None) => Size::Scale(factor.unwrap_or(1.0)),
    };
    let mut notices = Vec::new();
    let mut guessed = |code, text| notices.push(Notice { code, text, count: 1, at_mm: Vec::new() });
    let unit = settings.units.unwrap_or_else(|| {
        let guess = units::guess_unit(units::largest_extent(model), model.unit);
        if guess.unit != Unit::Mm || !guess.sure {
            guessed("units-guess", guess.reason);
        }
        guess.unit
    });
    let up = settings.up.unwrap_or_else(|| {
        let guess = units::guess_up(model);
        if guess.up != Up::Z {
            guessed("up-guess", guess.reason);
        }
        guess.up
    });
    Ok((units::item_placement(model, unit, up, size)?, notices))
}

fn stem(name: &str) -> String {
    let file = name.rsplit(['/', '\\']).next().unwrap_or(name);
    file.rsplit_once('.').map_or(file, |(stem, _)| stem).to_string()
}

/// An id of small letters, digits and dashes, short enough to take suffixes.
pub fn id_of(name: &str) -> String {
    const LONGEST: usize = 24;
    let mut id = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        if c.is_ascii_alphanumeric() {
            id.push(c);
        } else if !id.is_empty() && !id.ends_with('-') {
            id.push('-');
        }
    }
    id.truncate(LONGEST);
    let id = id.trim_matches('-').to_string();
    if id.is_empty() { "item".into() } else { id }
}

/// SHA-256 as 64 lower-case hex digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
