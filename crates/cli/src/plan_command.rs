//! `seamwright plan MODEL... --bed WxDxH --out DIR`.

use crate::args::placed;
use crate::audit_command::one_line;
use crate::watch::Terminal;
use crate::{folder, model_argument, project_argument};
use anyhow::{Context, Result, bail};
use clap::ArgMatches;
use seamwright_bed::{Bed, bed};
use seamwright_plan::PlanError;
use seamwright_plan::job::{Budget, ItemSettings, ModelInput, Options};
use seamwright_plan::make::{Made, make_plan};
use seamwright_plan::project::Project;
use seamwright_plan::records::PoseKind;
use seamwright_seams::outline::Prefer;
use std::path::PathBuf;

/// Search time of a call that says nothing.
const SECONDS: f64 = 20.0;

/// Plans; whether there is a plan and its audit holds.
///
/// # Errors
/// Wrong use or unreadable input: which file, where and why.
pub fn run(matches: &ArgMatches) -> Result<bool> {
    if matches.contains_id("wearer") {
        bail!("--wearer is not built yet; give --scale, --height or --volume-cm3");
    }
    let Some(out) = matches.get_one::<PathBuf>("out") else { bail!("no --out folder given") };
    folder::may_replace(out, matches.get_flag("force"))?;
    let quiet = matches.get_flag("quiet");
    for (name, what) in [("material", "no masses are computed yet"), ("joints", "no joints are made yet")] {
        if !quiet && matches.contains_id(name) {
            eprintln!("--{name} has no effect: {what}");
        }
    }
    let arguments: Vec<&String> = matches.get_many("models").into_iter().flatten().collect();
    let opened = project_argument::open(&arguments)?;
    let models = match &opened {
        Some(opened) => opened.models(&|settings| for_all(matches, settings))?,
        None => arguments.iter().map(|argument| model(matches, argument)).collect::<Result<_>>()?,
    };
    let options = match &opened {
        Some(opened) => {
            options(matches, Some(&opened.project)).with_context(|| opened.path.display().to_string())?
        }
        None => options(matches, None)?,
    };
    let seconds = match options.budget {
        Budget::Effort(_) => f64::INFINITY,
        Budget::Watch => matches.get_one("seconds").copied().unwrap_or(SECONDS),
    };
    if seconds.is_nan() || seconds < 0.0 {
        bail!("--seconds {seconds}: a time of 0 s or more is needed");
    }
    let watch = Terminal::new(seconds, quiet);
    let made = make_plan(models, &options, &watch);
    watch.finish();
    let made = match made {
        Err(stopped @ PlanError::Stopped) => {
            eprintln!("seamwright: {stopped}; nothing was written");
            return Ok(false);
        }
        made => made?,
    };
    folder::replace(out, &made.folder)?;
    report(&made, out, quiet);
    Ok(made.findings.is_empty())
}

/// Puts what the command line says for all models over a model's settings.
fn for_all(matches: &ArgMatches, settings: &mut ItemSettings) -> Result<()> {
    for name in ["scale", "height", "volume-cm3"] {
        if let Some(value) = matches.get_one::<f64>(name) {
            model_argument::apply(settings, name, &value.to_string()).with_context(|| format!("--{name}"))?;
        }
    }
    for name in ["units", "up", "mend", "leave-out", "wall", "simplify"] {
        if let Some(value) = matches.get_one::<String>(name) {
            model_argument::apply(settings, name, value).with_context(|| format!("--{name}"))?;
        }
    }
    settings.unite |= matches.get_flag("unite");
    Ok(())
}

fn model(matches: &ArgMatches, argument: &str) -> Result<ModelInput> {
    let mut all = ItemSettings::default();
    for_all(matches, &mut all)?;
    let (path, settings) = model_argument::parse(argument, &all)?;
    let bytes = std::fs::read(&path).with_context(|| format!("{} cannot be read", path.display()))?;
    Ok(ModelInput { name: path.display().to_string(), bytes, settings })
}

/// What the command line says; where it says nothing, what the project says.
fn options(matches: &ArgMatches, project: Option<&Project>) -> Result<Options> {
    let timed = matches.contains_id("seconds");
    let effort = matches.get_one("effort").copied();
    Ok(Options {
        beds: beds(matches, project)?,
        prefer: match matches.get_one::<String>("prefer").map(String::as_str) {
            Some("fewest") => Prefer::Fewest,
            Some("hidden") => Prefer::Hidden,
            _ => project.map_or(Ok(Prefer::Balanced), Project::prefer)?,
        },
        budget: effort.or_else(|| project.filter(|_| !timed)?.effort()).map_or(Budget::Watch, Budget::Effort),
        seed: matches.get_one("seed").copied().unwrap_or_else(|| project.map_or(1, Project::seed)),
        n_threads: match matches.get_one::<u64>("threads") {
            Some(&n) => n as usize,
            None => std::thread::available_parallelism().map_or(1, usize::from),
        },
        posed: matches.get_flag("posed"),
        no_models: matches.get_flag("no-models"),
    })
}

/// Beds in the order given. What follows a bed is its own, what stands before any bed is for all.
/// Beds of a project stand before everything the command line says.
fn beds(matches: &ArgMatches, project: Option<&Project>) -> Result<Vec<Bed>> {
    let mut given: Vec<(usize, Bed)> = Vec::new();
    for (place, text) in placed::<String>(matches, "bed") {
        given.push((place, Bed::parse(&text).with_context(|| format!("--bed {text}"))?));
    }
    for (place, path) in placed::<String>(matches, "printer") {
        let text = std::fs::read_to_string(&path).with_context(|| format!("{path} cannot be read"))?;
        let bed = seamwright_plan::card::bed_of_card(&text).with_context(|| path.clone())?;
        given.push((place, bed));
    }
    given.sort_by_key(|(place, _)| *place);
    let places: Vec<usize> = given.iter().map(|(place, _)| *place).collect();
    let mut beds: Vec<Bed> = given.into_iter().map(|(_, bed)| bed).collect();
    if let Some(project) = project.filter(|_| beds.is_empty()) {
        beds = project.beds()?;
    }
    if beds.is_empty() {
        bail!("no bed given: --bed 220x220x250");
    }
    // The bed a value belongs to; `None` for all.
    let owner = |place: usize| places.iter().rposition(|&bed| bed < place);
    for own in [false, true] {
        let mut each = |name: &str, set: &mut dyn FnMut(&mut Bed, f64)| {
            for (place, value) in placed::<f64>(matches, name) {
                match owner(place) {
                    Some(bed) if own => set(&mut beds[bed], value),
                    None if !own => beds.iter_mut().for_each(|bed| set(bed, value)),
                    _ => {}
                }
            }
        };
        each("margin", &mut |bed, mm| bed.margin_mm = mm);
        each("gap", &mut |bed, mm| bed.gap_mm = mm);
        for (place, text) in placed::<String>(matches, "keep-out") {
            let mine: Vec<usize> = match owner(place) {
                Some(bed) if own => vec![bed],
                None if !own => (0..beds.len()).collect(),
                _ => Vec::new(),
            };
            for bed in mine {
                beds[bed].add_keep_out(&text).with_context(|| format!("--keep-out {text}"))?;
            }
        }
    }
    bed::make_ids_unique(&mut beds);
    for bed in &beds {
        bed.check().with_context(|| format!("bed {}", bed.id))?;
    }
    Ok(beds)
}

#[allow(clippy::print_stdout)]
fn report(made: &Made, out: &std::path::Path, quiet: bool) {
    if !quiet {
        println!(
            "{:<28} {:>6} {:>11} {:>6} {:>9} {:>9}",
            "item", "pieces", "plain grid", "held", "seam mm", "shows mm"
        );
        for item in &made.plan.items {
            let pieces: Vec<_> = made.plan.pieces.iter().filter(|p| p.item == item.id).collect();
            let held = pieces.iter().filter(|p| p.pose_kind == PoseKind::Held).count();
            let grid = made.plan.grid.iter().find(|row| row.item == item.id).map_or(0, |row| row.pieces);
            let seams = made.plan.seams.iter().filter(|s| s.item == item.id);
            let (seam_mm, shows_mm) =
                seams.fold((0.0, 0.0), |sum, s| (sum.0 + s.line_mm, sum.1 + s.visible_mm));
            println!(
                "{:<28} {:>6} {:>11} {held:>6} {seam_mm:>9.0} {shows_mm:>9.0}",
                item.id,
                pieces.len(),
                grid
            );
        }
        println!("{} pieces on {} loads: {}", made.plan.pieces.len(), made.plan.loads.len(), out.display());
    }
    for finding in &made.findings {
        eprintln!("the plan does not hold: {}", one_line(finding));
    }
}
