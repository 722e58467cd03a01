//! `cargo xtask tidy`: the house rules that a machine can check, one line for each broken one.
//!
//! Layers (`layers.rs`), headers and lengths of source files (`files.rs`), what must not leak into
//! the project (`leaks.rs`), licences and pins of what it stands on (`licences.rs`), and the table of sources (`sources.rs`). Only files known to git count.

mod files;
mod layers;
mod leaks;
mod licences;
mod sources;

use crate::place;
use anyhow::{Context, Result, bail};
use std::path::PathBuf;

/// Options of `tidy`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// Print the number of a word that must not occur, for the list in tidy/leaks.rs, and stop
    #[arg(long, value_name = "WORD")]
    number_of: Option<String>,
}

/// One text file of the project.
pub struct Text {
    /// Path from the top, with `/`.
    pub path: String,
    /// What it holds.
    pub text: String,
}

/// Returns whether every rule holds.
///
/// # Errors
/// When git or cargo cannot be asked.
pub fn run(options: &Options) -> Result<bool> {
    if let Some(word) = &options.number_of {
        println!("{:#018x}", leaks::number_of(word));
        return Ok(true);
    }
    let paths = known_paths()?;
    let texts = texts(&paths);
    let mut broken = layers::broken()?;
    broken.extend(files::broken(&paths, &texts));
    broken.extend(licences::broken()?);
    broken.extend(leaks::broken(&texts));
    broken.extend(sources::broken(&paths, &texts));
    broken.iter().for_each(|line| println!("{line}"));
    println!("tidy: {} files, {} broken rules", paths.len(), broken.len());
    Ok(broken.is_empty())
}

/// Files in git, and new ones that git does not ignore.
fn known_paths() -> Result<Vec<String>> {
    let mut git = std::process::Command::new("git");
    git.current_dir(place::root()).args(["ls-files", "--cached", "--others", "--exclude-standard"]);
    let heard = place::quiet(&mut git)?;
    if heard.code != 0 {
        bail!("git ls-files: {}", heard.last_line());
    }
    let mut paths: Vec<String> = heard.out.lines().map(String::from).collect();
    paths.retain(|path| full(path).is_file());
    paths.sort();
    paths.dedup();
    paths.first().context("git knows no files here")?;
    Ok(paths)
}

fn texts(paths: &[String]) -> Vec<Text> {
    let read =
        |path: &String| Some(Text { path: path.clone(), text: std::fs::read_to_string(full(path)).ok()? });
    paths.iter().filter_map(read).collect()
}

fn full(path: &str) -> PathBuf {
    place::root().join(path)
}
