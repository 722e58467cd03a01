//! How a model is made, as a project holds it: settings by name, checked when they are read.

use crate::job::{ItemSettings, Mend, ROLES, WALLS_MM};
use crate::limits::LEAST_SIMPLIFIED;
use crate::records::marks::{BegunRecord, MarksRecord};
use seamwright_mesh::Unit;
use seamwright_mesh::mend::LeftOut;
use seamwright_mesh::units::Up;
use serde::{Deserialize, Serialize};

/// Units a project may name.
pub const UNITS: [Unit; 7] = [Unit::Micron, Unit::Mm, Unit::Cm, Unit::Dm, Unit::Inch, Unit::Foot, Unit::M];
/// Up axes and their names.
pub const UPS: [(Up, &str); 3] = [(Up::X, "x"), (Up::Y, "y"), (Up::Z, "z")];
/// Settings of a model as a project holds them.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct SettingsRecord {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    role: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    scale: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    height_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    volume_cm3: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    units: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    up: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pair: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    copies: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    part: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    mend: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    leave_out: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    unite: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    simplify: Option<u32>,
    #[serde(default, skip_serializing_if = "MarksRecord::is_empty")]
    marks: MarksRecord,
    #[serde(default, skip_serializing_if = "BegunRecord::is_empty")]
    begun: BegunRecord,
}

impl SettingsRecord {
    /// The same with these cuts of a plan made before.
    pub(super) fn begun_with(self, begun: BegunRecord) -> Self {
        Self { begun, ..self }
    }
}

/// Settings as a project holds them.
pub fn settings_record(settings: &ItemSettings) -> SettingsRecord {
    SettingsRecord {
        role: settings.role.clone(),
        scale: settings.scale,
        height_mm: settings.height_mm,
        volume_cm3: settings.volume_cm3,
        units: settings.units.map(|unit| unit.name().into()),
        up: settings
            .up
            .and_then(|up| UPS.iter().find(|(axis, _)| *axis == up))
            .map(|(_, name)| (*name).into()),
        pair: settings.pair,
        copies: settings.copies,
        part: settings.part,
        mend: (settings.mend != Mend::default()).then(|| settings.mend.name().into()),
        leave_out: settings.leave_out.names().into_iter().map(Into::into).collect(),
        wall_mm: settings.wall_mm,
        unite: settings.unite,
        simplify: settings.simplify,
        marks: settings.marks.clone(),
        begun: settings.begun.clone(),
    }
}

/// Settings of a record, checked.
///
/// # Errors
/// Says which is wrong and what is allowed.
pub fn settings_of_record(record: &SettingsRecord) -> Result<ItemSettings, String> {
    if let Some(role) = record.role.as_ref().filter(|role| !ROLES.contains(&role.as_str())) {
        return Err(format!("role {role:?} is not one of {}", ROLES.join(", ")));
    }
    let sizes = [("scale", record.scale), ("height_mm", record.height_mm), ("volume_cm3", record.volume_cm3)];
    if let Some((name, Some(value))) = sizes.into_iter().find(|(_, v)| v.is_some_and(|v| v <= 0.0)) {
        return Err(format!("{name} is {value}, a positive number is needed"));
    }
    if record.copies.is_some_and(|copies| !(1..=99).contains(&copies)) {
        return Err("1 to 99 copies can be made".into());
    }
    if let Some(wall_mm) = record.wall_mm.filter(|wall_mm| !WALLS_MM.contains(wall_mm)) {
        return Err(format!("wall_mm is {wall_mm}; it can be {} to {}", WALLS_MM.start(), WALLS_MM.end()));
    }
    if let Some(n) = record.simplify.filter(|&n| n < LEAST_SIMPLIFIED) {
        return Err(format!("simplify is {n}; {LEAST_SIMPLIFIED} triangles are the least"));
    }
    record.marks.check()?;
    record.begun.check()?;
    let unit = |name: &String| {
        let known = UNITS.into_iter().find(|unit| unit.name() == name);
        known.ok_or_else(|| format!("unit {name:?} is not known"))
    };
    let axis = |name: &String| {
        let known = UPS.iter().find(|(_, axis)| axis == name);
        known.map(|(up, _)| *up).ok_or_else(|| format!("axis {name:?} is not x, y or z"))
    };
    Ok(ItemSettings {
        role: record.role.clone(),
        scale: record.scale,
        height_mm: record.height_mm,
        volume_cm3: record.volume_cm3,
        units: record.units.as_ref().map(unit).transpose()?,
        up: record.up.as_ref().map(axis).transpose()?,
        pair: record.pair,
        copies: record.copies,
        part: record.part,
        mend: record.mend.as_deref().map(Mend::named).transpose()?.unwrap_or_default(),
        leave_out: LeftOut::named(record.leave_out.iter().map(String::as_str))?,
        wall_mm: record.wall_mm,
        unite: record.unite,
        simplify: record.simplify,
        marks: record.marks.clone(),
        begun: record.begun.clone(),
    })
}
