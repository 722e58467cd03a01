//! From a model file to a sized item: read, guess units, place, prove solid.

use crate::PlanError;
use crate::job::{ItemSettings, ModelInput};
use crate::limits;
use crate::records::marks::MarksRecord;
use seamwright_mesh::fewer::fewer;
use seamwright_mesh::unite::unite;
use seamwright_mesh::units::{self, Size, Up};
use seamwright_mesh::{Model, Notice, Part, Placement, Solid, Unit};
use seamwright_mesh::{bodies, item, lumps, parts, read, vec3};
use seamwright_seams::marks::Locked;
use sha2::{Digest, Sha256};

/// Which unit and up axis were taken for a file, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Unit of the file.
    pub unit: Unit,
    /// One plain sentence without a dot at its end.
    pub unit_why: String,
    /// No other unit is plausible, or the maker said it.
    pub unit_sure: bool,
    /// The file's axis that points up.
    pub up: Up,
    /// One plain sentence without a dot at its end.
    pub up_why: String,
    /// It is Z as usual, or the maker said it.
    pub up_sure: bool,
}

/// A model read and sized.
#[derive(Debug, Clone)]
pub struct SizedItem {
    /// Id made from the file name.
    pub id: String,
    /// Name for people: the file name without its ending.
    pub name: String,
    /// What it is worn as.
    pub role: Option<String>,
    /// What the maker marked on it, in its size.
    pub marks: MarksRecord,
    /// Cuts of a plan of it made before.
    pub begun: Vec<Locked>,
    /// SHA-256 of the file, hex.
    pub sha256: String,
    /// From file coordinates to item coordinates.
    pub placement: Placement,
    /// The item; its box starts at the origin.
    pub solid: Solid,
    /// What was found in the file and done about it.
    pub notices: Vec<Notice>,
    /// Unit and up axis.
    pub taken: Taken,
}

impl SizedItem {
    /// The same item with the marks and the plan before that its model's settings hold now.
    ///
    /// # Errors
    /// Where the marks are of another shape.
    pub fn marked(self, input: &ModelInput) -> Result<Self, String> {
        let size_mm = self.solid.size_mm();
        let marks = input.settings.marks.on_item(size_mm)?;
        Ok(Self { marks, begun: input.settings.begun.on_item(size_mm), ..self })
    }
}

/// Reads and sizes one model.
///
/// # Errors
/// [`PlanError`] naming the file, where and why.
pub fn read_item(input: &ModelInput) -> Result<SizedItem, PlanError> {
    let fail = |why: String| PlanError::Model { name: input.name.clone(), why };
    let mut model = read::read_model(&input.bytes, &input.name).map_err(|e| fail(e.to_string()))?;
    let n_triangles = model.parts.iter().map(|part| part.triangles.len()).sum();
    limits::check(n_triangles, input.settings.simplify).map_err(fail)?;
    let mut settings = input.settings.clone();
    let mut name = stem(&input.name);
    if let Some(number) = settings.part {
        // Unit and up axis are those of the file: a small part of it may look like another unit.
        let (_, _, taken) = place(&model, &settings).map_err(|e| fail(e.to_string()))?;
        (settings.units, settings.up) = (settings.units.or(Some(taken.unit)), settings.up.or(Some(taken.up)));
        model.parts = vec![part_of(&model, &settings, taken.unit, number).map_err(fail)?];
        name = format!("{name} part {number}");
    }
    let (mut placement, mut notices, taken) = place(&model, &settings).map_err(|e| fail(e.to_string()))?;
    let (mut solid, mut found) = item::solid_of(&model, &placement, settings.mending().as_ref())
        .map_err(|e| fail(why_not(&e, &settings)))?;
    solid = whole(solid, settings.unite, &mut found);
    if let Some(n) = settings.simplify.filter(|&n| solid.n_triangles() > n as usize) {
        let n_before = solid.n_triangles();
        let few = fewer(&solid, n as usize)
            .map_err(|e| fail(format!("{n} triangles do not hold its shape: {e}")))?;
        found.push(few.notice(n_before));
        solid = few.solid;
    }
    // A curved patch may reach past the box of the file.
    let low_mm = solid.box_mm().0;
    if low_mm != [0.0; 3] {
        let back_mm = low_mm.map(|mm| -mm);
        solid = solid.moved(back_mm);
        placement = placement.then(&Placement::from_rows(Placement::IDENTITY.rows(), back_mm));
        for place in found.iter_mut().flat_map(|notice| &mut notice.at_mm) {
            *place = vec3::add(*place, back_mm);
        }
    }
    notices.splice(0..0, found);
    let item = SizedItem {
        id: id_of(&name),
        name,
        role: input.settings.role.clone(),
        marks: MarksRecord::default(),
        begun: Vec::new(),
        sha256: sha256_hex(&input.bytes),
        placement,
        solid,
        notices,
        taken,
    };
    item.marked(input).map_err(fail)
}

/// Why a model became no solid, and what it was asked to be mended without.
pub(crate) fn why_not(error: &impl std::fmt::Display, settings: &ItemSettings) -> String {
    match settings.leave_out {
        left_out if left_out.is_empty() => error.to_string(),
        left_out => format!("{error}; steps of mending were left out as asked: {left_out}"),
    }
}

/// The solid with its overlapping bodies united, if that is wished; else says that they overlap.
fn whole(solid: Solid, unites: bool, found: &mut Vec<Notice>) -> Solid {
    let n_bodies = bodies::bodies(&solid).iter().filter(|body| body.volume_mm3 > 0.0).count();
    let mut tell = |code, text, count| found.push(Notice { code, text, count, at_mm: Vec::new() });
    if n_bodies == 1 && !unites {
        return solid;
    }
    if !unites {
        if lumps::count_lumps(&solid) < n_bodies {
            let text = "bodies, some of which overlap or touch: each is cut by itself, and what touches stays one piece";
            tell("bodies-meet", text.into(), n_bodies);
        }
        return solid;
    }
    let united = unite(&solid);
    found.extend(united.steps);
    united.solid
}

/// One of the parts of a model that stand apart.
fn part_of(model: &Model, settings: &ItemSettings, unit: Unit, number: u32) -> Result<Part, String> {
    let mut apart = parts::standing_apart(model, unit.mm() * settings.scale.unwrap_or(1.0));
    let n_parts = apart.len();
    let index = (number as usize).checked_sub(1).filter(|&index| index < n_parts);
    index.map(|index| apart.swap_remove(index)).ok_or_else(|| {
        format!("part {number} is asked for; {n_parts} stand apart in the file, counted from 1")
    })
}

/// The map from file to item coordinates, with notices about what was guessed.
///
/// # Errors
/// A size that cannot be reached, or a model without triangles.
pub fn place(
    model: &Model,
    settings: &ItemSettings,
) -> Result<(Placement, Vec<Notice>, Taken), units::SizeError> {
    let size = match (settings.scale, settings.height_mm, settings.volume_cm3) {
        (_, Some(height_mm), _) => Size::HeightMm(height_mm),
        (_, _, Some(volume_cm3)) => Size::VolumeCm3(volume_cm3),
        (factor, None, None) => Size::Scale(factor.unwrap_or(1.0)),
    };
    let said = || "you said so".to_string();
    let (unit, unit_why, unit_sure) = match settings.units {
        Some(unit) => (unit, said(), true),
        None => {
            let guess = units::guess_unit(units::largest_extent(model), model.unit);
            (guess.unit, guess.reason, guess.sure)
        }
    };
    let (up, up_why, up_sure) = match settings.up {
        Some(up) => (up, said(), true),
        None => {
            let guess = units::guess_up(model);
            (guess.up, guess.reason, guess.up == Up::Z)
        }
    };
    let mut notices = Vec::new();
    let mut guessed =
        |code, text: &String| notices.push(Notice { code, text: text.clone(), count: 1, at_mm: Vec::new() });
    if settings.units.is_none() && (unit != Unit::Mm || !unit_sure) {
        guessed("units-guess", &unit_why);
    }
    if !up_sure {
        guessed("up-guess", &up_why);
    }
    let taken = Taken { unit, unit_why, unit_sure, up, up_why, up_sure };
    Ok((units::item_placement(model, unit, up, size)?, notices, taken))
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
