//! `cargo xtask bench`: seconds of the exact cut, sections, files and a first plan, each beside the
//! floor of the same run: reading every vertex and every triangle once.
//!
//! Median of 5, process CPU time beside wall time. Never asserted in a test: they are figures of a
//! machine and its load. Where the reference libraries are there, manifold3d cuts the same meshes in
//! the same run (`tests/reference/bench.py`).

use crate::folders::Work;
use crate::rows::{self, Row};
use crate::{bench_seams, folders, page, place, reference, shapes};
use anyhow::{Context, Result};
use cpu_time::ProcessTime;
use seamwright_mesh::{Plane, Solid, read, section::section, split::split, write};
use std::hint::black_box;
use std::time::Instant;

/// Options of `bench`.
#[derive(Debug, clap::Args)]
pub struct Options {
    /// `seams` for what the search reaches in a given time
    #[arg(value_parser = ["seams"])]
    table: Option<String>,
    /// Seconds each plan of that table may take
    #[arg(long, default_value_t = 10)]
    seconds: u32,
    /// The smaller mesh only, without manifold3d and without a plan
    #[arg(long)]
    quick: bool,
    /// The page in a browser alone
    #[arg(long)]
    page: bool,
}

const REPEATS: usize = 5;

/// The plane of the study in DEVELOPERS.md: oblique, through no vertex.
const DIRECTION: [f64; 3] = [0.36, 0.48, 0.8];
const OFFSET_MM: f64 = 3.1;

/// Prints the table.
///
/// # Errors
/// When a shape, a file or the program cannot be made.
pub fn run(options: &Options) -> Result<bool> {
    if options.table.is_some() {
        return bench_seams::run(options.seconds);
    }
    if options.page {
        return page::bench::print(REPEATS);
    }
    if cfg!(debug_assertions) {
        // Figures of this profile would mean nothing: the same chore again, in release.
        let quick = if options.quick { &["--quick"][..] } else { &[] };
        place::run(
            place::cargo()
                .args(["run", "--quiet", "--release", "--package", "xtask", "--", "bench"])
                .args(quick),
        )?;
        return Ok(true);
    }
    let mut plane = Plane::through([0.0; 3], DIRECTION).context("the normal has no length")?;
    plane.offset_mm = OFFSET_MM;
    println!("{:<34} {:>10} {:>10} {:>9} {:>9}", "median of 5", "wall ms", "CPU ms", "x floor", "Mtri/s");
    for n_triangles in if options.quick { vec![100_000] } else { vec![100_000, 1_000_000] } {
        let shell = shapes::shell(100.0, 96.0, n_triangles)?;
        table(&shell, &plane, "shell")?;
        let torus = shapes::torus(100.0, 40.0, n_triangles)?;
        let floor = time(|| floor_sum(&torus));
        line("torus, exact cut", &torus, time(|| split(&torus, &plane, 1)), floor);
        if !options.quick {
            beside_manifold(&shell, &plane)?;
        }
    }
    if !options.quick {
        first_plan()?;
    }
    Ok(true)
}

fn table(solid: &Solid, plane: &Plane, name: &str) -> Result<()> {
    println!("{name} of {} triangles", solid.n_triangles());
    let floor = time(|| floor_sum(solid));
    line("floor: all read once", solid, floor, floor);
    line("section: length and area", solid, time(|| section(solid, plane)), floor);
    line("exact cut, two closed pieces", solid, time(|| split(solid, plane, 1)), floor);
    line("volume, area, box", solid, time(|| (solid.volume_mm3(), solid.area_mm2(), solid.box_mm())), floor);
    line("write binary STL", solid, time(|| write::stl_bytes(solid)), floor);
    let bytes = write::stl_bytes(solid);
    line("read binary STL", solid, time(|| read::read_model(&bytes, "shell.stl")), floor);
    let model = read::read_model(&bytes, "shell.stl")?;
    let part = model.parts.first().context("the file has no part")?;
    line("prove it a solid", solid, time(|| Solid::from_triangles(&part.points, &part.triangles)), floor);
    Ok(())
}

/// Reads every point and every triangle once, as the study's floor does.
fn floor_sum(solid: &Solid) -> i64 {
    let points =
        solid.points().iter().map(|p| i64::from(p[0]) + i64::from(p[1]) + i64::from(p[2])).sum::<i64>();
    let corners = solid.triangles().iter().map(|t| i64::from(t[0] ^ t[1] ^ t[2])).sum::<i64>();
    points + corners
}

#[derive(Debug, Clone, Copy)]
struct Taken {
    wall_ms: f64,
    cpu_ms: f64,
}

fn time<T>(mut work: impl FnMut() -> T) -> Taken {
    let mut all: Vec<Taken> = Vec::new();
    for _ in 0..REPEATS {
        let (wall, cpu) = (Instant::now(), ProcessTime::now());
        black_box(work());
        let (cpu, wall) = (cpu.elapsed(), wall.elapsed());
        all.push(Taken { wall_ms: wall.as_secs_f64() * 1e3, cpu_ms: cpu.as_secs_f64() * 1e3 });
    }
    let middle = |field: fn(&Taken) -> f64| {
        let mut values: Vec<f64> = all.iter().map(field).collect();
        values.sort_by(f64::total_cmp);
        values[REPEATS / 2]
    };
    Taken { wall_ms: middle(|t| t.wall_ms), cpu_ms: middle(|t| t.cpu_ms) }
}

fn line(name: &str, solid: &Solid, taken: Taken, floor: Taken) {
    let per_s = solid.n_triangles() as f64 / taken.cpu_ms.max(1e-6) / 1e3;
    let times = taken.cpu_ms / floor.cpu_ms.max(1e-6);
    println!("  {name:<32} {:>10.2} {:>10.2} {times:>9.1} {per_s:>9.1}", taken.wall_ms, taken.cpu_ms);
}

fn beside_manifold(solid: &Solid, plane: &Plane) -> Result<()> {
    let python = match reference::python() {
        Ok(python) => python,
        Err(reason) => {
            println!("  manifold3d: left out: {reason}");
            return Ok(());
        }
    };
    let file = place::target().join("bench.stl");
    std::fs::write(&file, write::stl_bytes(solid))?;
    let script = place::root().join("tests/reference/bench.py");
    let numbers = plane.normal.iter().chain([&plane.offset_mm]).map(f64::to_string);
    place::run(std::process::Command::new(python).arg(script).arg(&file).args(numbers))?;
    std::fs::remove_file(&file)?;
    Ok(())
}

fn first_plan() -> Result<()> {
    let program = place::built_program(true)?;
    println!("first plan, one round, one thread, whole call with reading, files and audit");
    for (name, argument) in rows::costume()? {
        let row = Row::new(name, argument, "220x220x250");
        let folder = place::target().join("bench-plan");
        let mut walls = Vec::new();
        let mut n_pieces = 0;
        for _ in 0..REPEATS {
            let planned = folders::plan(&program, &row, Work { effort: 1, threads: 1 }, &folder)?;
            walls.push(planned.plan_s);
            n_pieces = planned.n_pieces();
        }
        walls.sort_by(f64::total_cmp);
        println!("  {name:<32} {:>8.2} s wall, {n_pieces} pieces", walls[REPEATS / 2]);
    }
    Ok(())
}
