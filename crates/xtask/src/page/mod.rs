//! `cargo xtask page`: the page in both its outputs, `target/page/` and `target/seamwright.html`.

mod types;

use anyhow::Result;

/// Options of `page`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// Only write the page's types of records
    #[arg(long)]
    types: bool,
}

/// Builds; always true.
///
/// # Errors
/// When a step fails.
pub fn run(options: &Options) -> Result<bool> {
    types::write(false)?;
    if options.types {
        println!("{}", types::FILE);
    }
    Ok(true)
}
