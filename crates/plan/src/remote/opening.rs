//! Opens a project for the page: what it asks, and the models inside it.

use super::messages::{Asked, OpenedModel, OpenedProject};
use crate::project::{self, Project};

/// Opens a project whose models are inside it.
///
/// # Errors
/// A sentence about what is wrong.
pub fn open_project(bytes: &[u8]) -> Result<(OpenedProject, Vec<Vec<u8>>), String> {
    let project = Project::read(bytes).map_err(|e| e.to_string())?;
    let not_inside = |_: &str| Err("its file is not inside the project".to_string());
    let models = project.models(&not_inside).map_err(|e| e.to_string())?;
    let beds = project.beds().map_err(|e| e.to_string())?;
    let prefer = project.prefer().map_err(|e| e.to_string())?;
    let prefer = project::PREFERS.iter().find(|(p, _)| *p == prefer).map_or("balanced", |(_, name)| name);
    let opened = OpenedProject {
        models: models
            .iter()
            .map(|m| OpenedModel { name: m.name.clone(), settings: project::settings_record(&m.settings) })
            .collect(),
        asked: Asked {
            beds: beds.iter().map(crate::card::bed_record).collect(),
            prefer: prefer.into(),
            seed: project.seed(),
            effort: project.effort(),
        },
    };
    Ok((opened, models.into_iter().map(|m| m.bytes).collect()))
}
