//! A model file as it is, for the page: its report and its surface, before any mending.

use super::shapes::{MOST_TRIANGLES, Shape, shape_of_mesh};
use crate::inspect::{InspectRecord, inspect};
use crate::item::place;
use crate::job::ItemSettings;
use seamwright_mesh::placement::placed;
use seamwright_mesh::read::{ReadOptions, read_model};

/// The report of a file and its surface in the item's frame.
///
/// # Errors
/// Where and why it cannot be read or sized.
pub fn look(name: &str, settings: &ItemSettings, bytes: &[u8]) -> Result<(InspectRecord, Shape), String> {
    let report = inspect(bytes, name, settings, ReadOptions { strict: false })?;
    let model = read_model(bytes, name).map_err(|e| e.to_string())?;
    let (placement, ..) = place(&model, settings).map_err(|e| e.to_string())?;
    let (points_mm, triangles) = placed(&model, &placement);
    Ok((report, shape_of_mesh(&points_mm, &triangles, MOST_TRIANGLES, &|_| 1)))
}
