//! `seamwright audit DIR`.

use crate::folder;
use anyhow::Result;
use clap::ArgMatches;
use seamwright_plan::audit;
use std::path::PathBuf;

/// Audits a folder; whether all holds.
///
/// # Errors
/// When the folder cannot be read.
#[allow(clippy::print_stdout)]
pub fn run(matches: &ArgMatches) -> Result<bool> {
    let Some(dir) = matches.get_one::<PathBuf>("dir") else { anyhow::bail!("no folder given") };
    let report = audit::audit(&folder::read(dir)?);
    for finding in &report.findings {
        println!("{}", one_line(finding));
    }
    let figures = &report.figures;
    println!(
        "{}: volume error {:.1e}, {} open edges, {} edges with more than two triangles, \
         worst fit margin {:.3} mm, {} overlaps",
        if report.ok() { "holds" } else { "does not hold" },
        figures.volume_error,
        figures.open_edges,
        figures.nonmanifold_edges,
        figures.worst_fit_margin_mm,
        figures.overlaps
    );
    Ok(report.ok())
}

/// A finding as one line.
pub fn one_line(finding: &audit::Finding) -> String {
    format!("{} {}: {}", finding.code, finding.subject, finding.text)
}
