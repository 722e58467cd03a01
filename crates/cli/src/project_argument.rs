//! `costume.seam.json`: a project in place of models.

use crate::model_argument;
use anyhow::{Context, Result, bail};
use seamwright_plan::job::{ItemSettings, ModelInput};
use seamwright_plan::project::{PROJECT_ENDING, Project};
use std::path::PathBuf;

/// A project that was read.
pub struct Opened {
    /// What it holds.
    pub project: Project,
    /// Where it lies.
    pub path: PathBuf,
    argument: String,
}

/// The project the arguments name; `None` where they name models.
///
/// # Errors
/// When it cannot be read, or stands beside other arguments.
pub fn open(arguments: &[&String]) -> Result<Option<Opened>> {
    let is_project = |argument: &&&String| {
        // Settings that are wrong are told of when they are applied.
        let file = argument.rsplit_once(':').map_or(argument.as_str(), |(file, _)| file);
        argument.ends_with(PROJECT_ENDING) || file.ends_with(PROJECT_ENDING)
    };
    let Some(argument) = arguments.iter().find(is_project) else { return Ok(None) };
    if arguments.len() > 1 {
        bail!("{argument}: a project stands alone, without other models");
    }
    let (path, _) = model_argument::parse(argument, &ItemSettings::default())?;
    let bytes = std::fs::read(&path).with_context(|| format!("{} cannot be read", path.display()))?;
    let project = Project::read(&bytes).with_context(|| path.display().to_string())?;
    Ok(Some(Opened { project, path, argument: argument.to_string() }))
}

impl Opened {
    /// Its models: embedded, or found by name beside it. Over their settings goes what `for_all`
    /// puts, then what stands after the project's own name.
    ///
    /// # Errors
    /// Which model, and why.
    pub fn models(&self, for_all: &dyn Fn(&mut ItemSettings) -> Result<()>) -> Result<Vec<ModelInput>> {
        let find = |name: &str| {
            let beside = self.path.with_file_name(name);
            std::fs::read(&beside).map_err(|e| format!("{} cannot be read: {e}", beside.display()))
        };
        let models = self.project.models(&find).with_context(|| self.path.display().to_string())?;
        models
            .into_iter()
            .map(|mut model| {
                for_all(&mut model.settings)?;
                model.settings = model_argument::parse(&self.argument, &model.settings)?.1;
                Ok(model)
            })
            .collect()
    }
}
