//! Pictures made by the program itself: items and plans drawn on paper, as PNG.
//!
//! How: a software z-buffer (`raster.rs`), shade and ink (`ink.rs`), balloons (`label.rs`).
//! Nothing here is exact; it is for eyes.

pub mod ink;
pub mod label;
mod pulled;
pub mod raster;

use anyhow::{Context, Result, ensure};
use ink::Picture;
use raster::{Drawn, View};
use seamwright_mesh::read;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Options of `cargo xtask picture`.
#[derive(clap::Args)]
pub struct Options {
    /// Models to draw side by side
    #[arg(required_unless_present = "plan")]
    models: Vec<PathBuf>,
    /// Draw an item of this plan folder instead, pulled apart along its seams, pieces numbered
    #[arg(long, value_name = "DIR", conflicts_with = "models")]
    plan: Option<PathBuf>,
    /// Which item of the plan; its first where none is named
    #[arg(long, requires = "plan", value_name = "ID")]
    item: Option<String>,
    /// How far each seam is opened
    #[arg(long, default_value_t = 34.0, value_name = "MM")]
    gap: f64,
    /// Degrees round from the front towards the wearer's left, and degrees above the horizon
    #[arg(long, num_args = 2, default_values_t = [38.0, 16.0], allow_negative_numbers = true, value_names = ["ROUND", "ABOVE"])]
    from: Vec<f64>,
    /// Width and height of one drawing in pixels
    #[arg(long, num_args = 2, default_values_t = [960, 800], value_names = ["WIDE", "HIGH"])]
    size: Vec<usize>,
    /// The PNG to write
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Draws models or a plan; always true.
///
/// # Errors
/// Where a file cannot be read or written.
pub fn run(options: &Options) -> Result<bool> {
    let size_px = [options.size[0], options.size[1]];
    ensure!(size_px.iter().all(|n| (16..=4000).contains(n)), "a drawing is 16 to 4000 pixels wide and high");
    let view = View::from_angles(options.from[0].to_radians(), options.from[1].to_radians());
    let picture = match &options.plan {
        Some(folder) => pulled::draw(folder, options.item.as_deref(), options.gap, view, size_px)?,
        None => {
            let mut pictures = Vec::new();
            for (index, path) in options.models.iter().enumerate() {
                let model = shape_of(path, ink::CLOTH[index % ink::CLOTH.len()])?;
                pictures.push(draw(&[model], view, size_px));
            }
            tiles(&pictures, pictures.len().min(5))
        }
    };
    write(&picture, &options.out)?;
    println!("{}", options.out.display());
    Ok(true)
}

/// All of a model file as one thing to draw, equal points joined.
fn shape_of(path: &Path, tone: [u8; 3]) -> Result<Drawn> {
    let bytes = std::fs::read(path).with_context(|| format!("{} cannot be read", path.display()))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let model = read::read_model(&bytes, &name).with_context(|| path.display().to_string())?;
    let mut drawn = Drawn { points: Vec::new(), triangles: Vec::new(), tone };
    let mut known = BTreeMap::new();
    for part in &model.parts {
        for triangle in &part.triangles {
            drawn.triangles.push(triangle.map(|corner| {
                let point = part.points[corner as usize];
                *known.entry(point.map(f64::to_bits)).or_insert_with(|| {
                    drawn.points.push(point);
                    drawn.points.len() as u32 - 1
                })
            }));
        }
    }
    Ok(drawn)
}

/// Draws `drawn` from one side so that it fills a picture of `size_px` up to a margin of 6 %.
pub fn draw(drawn: &[Drawn], view: View, size_px: [usize; 2]) -> Picture {
    let fine = size_px.map(|n| n * ink::FINER);
    let [wide, high] = fine.map(|n| n as f64);
    let view =
        View { size_px: fine, ..view }.fit(drawn, [wide * 0.06, high * 0.06, wide * 0.94, high * 0.94]);
    let seen = raster::draw(drawn, &view);
    let tones: Vec<[u8; 3]> = drawn.iter().map(|d| d.tone).collect();
    ink::shade(&seen, &view, &tones)
}

/// Pictures side by side in rows of `n_columns`.
pub fn tiles(pictures: &[Picture], n_columns: usize) -> Picture {
    let [wide, high] = pictures.first().map_or([1, 1], |p| p.size_px);
    let size_px = [wide * n_columns, high * pictures.len().div_ceil(n_columns)];
    let mut sheet = Picture { size_px, pixels: vec![ink::PAPER; size_px[0] * size_px[1]] };
    for (k, picture) in pictures.iter().enumerate() {
        let (left, top) = (k % n_columns * wide, k / n_columns * high);
        for row in 0..high {
            let to = (top + row) * size_px[0] + left;
            sheet.pixels[to..to + wide].copy_from_slice(&picture.pixels[row * wide..(row + 1) * wide]);
        }
    }
    sheet
}

/// Writes a PNG.
///
/// # Errors
/// Where the file cannot be written.
pub fn write(picture: &Picture, path: &Path) -> Result<()> {
    let file = std::fs::File::create(path).with_context(|| format!("cannot write {}", path.display()))?;
    let mut encoder = png::Encoder::new(
        std::io::BufWriter::new(file),
        picture.size_px[0] as u32,
        picture.size_px[1] as u32,
    );
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    encoder.write_header()?.write_image_data(picture.pixels.as_flattened())?;
    Ok(())
}
