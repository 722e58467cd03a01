//! Every chore of the project in Rust: `cargo xtask help` lists them.
//!
//! `start` plans the demo costume, `page` builds the page, `test` runs every kind of check on a sample, `prove` the full
//! tables, `bench` shows seconds, `tidy` checks the house rules, `cut` writes the two sides of one
//! cut for the reference libraries, `demo` makes the demo meshes again, `picture` draws models and plans.
//! Not here: any geometry of the product; chores only call the crates and the native program.

#![allow(clippy::print_stdout, reason = "chores talk to a person on a terminal")]

mod bench;
mod bench_seams;
mod bends;
mod cut;
mod cut_table;
mod demo;
mod folders;
mod formats;
mod fuzz;
mod hostile;
mod letter;
mod page;
mod picture;
mod place;
mod prove;
mod reference;
mod rows;
mod shapes;
mod start;
mod tally;
mod test;
mod tidy;
mod turns;
mod unions;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

#[derive(Parser)]
#[command(name = "cargo xtask", about = "Chores of the project", disable_version_flag = true)]
struct Arguments {
    #[command(subcommand)]
    chore: Chore,
}

#[derive(Subcommand)]
enum Chore {
    /// Build program and page, plan the demo costume, say where the files are, serve the page
    Start(start::Options),
    /// Build the page: the static folder target/page/ and the single file target/seamwright.html
    Page(page::Options),
    /// Every kind of check on a sample; the last line is the total
    Test(test::Options),
    /// The full tables; writes target/proof/ and tests/PROOF.md, resumable
    Prove(prove::Options),
    /// Seconds beside the floor of the same run: median of 5
    Bench(bench::Options),
    /// Spoil sample files at random, or let coverage lead, and see that nothing panics or hangs
    Fuzz(fuzz::Options),
    /// Make the demo meshes again
    Demo(demo::Options),
    /// Draw models or a plan as a PNG
    Picture(picture::Options),
    /// House rules: layers, headers, lengths, leaks, sources
    Tidy(tidy::Options),
    /// Split one mesh by one plane and write both sides
    Cut(cut::Options),
}

fn main() -> ExitCode {
    let done = match Arguments::parse().chore {
        Chore::Start(options) => start::run(&options),
        Chore::Page(options) => page::run(&options),
        Chore::Test(options) => test::run(&options),
        Chore::Prove(options) => prove::run(&options),
        Chore::Bench(options) => bench::run(&options),
        Chore::Fuzz(options) => fuzz::run(&options),
        Chore::Demo(options) => demo::run(&options),
        Chore::Picture(options) => picture::run(&options),
        Chore::Tidy(options) => tidy::run(&options),
        Chore::Cut(options) => cut::run(&options),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("xtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}
