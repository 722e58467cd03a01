//! `cargo xtask demo`: makes the demo costume "Lantern Fair" again, byte for byte.
//!
//! How: each item is a signed distance field of our own (`helm.rs` and its neighbours), meshed
//! with sharp creases (`mesher.rs`), simplified (`mesh::simplify`), reflected, rounded and proved
//! closed (`shape.rs`), and written compactly (`files.rs`). Nothing depends on threads, hashes or
//! the processor: all functions beyond + - * / and square roots come from `libm`.

mod breastplate;
mod broken;
mod field;
mod files;
mod glaive;
mod helm;
mod meeting;
mod mesher;
mod pauldron;
mod shape;
mod untangle;
mod vambrace;

use crate::picture::{self, ink, raster};
use crate::{letter, place};
use anyhow::{Context, Result};
pub use files::three_mf;
pub use mesher::Mesh;
pub use shape::fewer;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Options of `cargo xtask demo`.
#[derive(clap::Args)]
pub struct Options {
    /// Only these files, by name without ending; all of them where none is given
    names: Vec<String>,
    /// Also draw each item from four sides into this folder
    #[arg(long, value_name = "DIR")]
    look: Option<PathBuf>,
}

/// A demo file.
struct Item {
    /// Path within `demo-meshes/`.
    file: &'static str,
    /// What it shows, for the table.
    shows: &'static str,
    /// Makes its mesh and bytes.
    make: fn() -> Result<(Mesh, Vec<u8>)>,
}

const ITEMS: [Item; 7] = [
    Item {
        file: "helm.3mf",
        shows: "Heron helm: beak, feathered comb, fluted skull, hollows beside the brow band, wings in relief, \
                rivets, breaths, a tail of lames; 4 mm shell",
        make: || {
            let helm = helm::Helm::new();
            let mesh = shape::build(&|p| helm.distance(p), helm::sampling(), 200_000)?;
            Ok((mesh.clone(), files::three_mf(&mesh, "Heron helm")))
        },
    },
    Item {
        file: "breastplate.3mf",
        shows: "Breastplate: keel, lantern between wings, riveted belt between straight hollows, pointed lames; 4 mm shell",
        make: || {
            let plate = breastplate::Breastplate::new();
            let mesh = shape::build(&|p| plate.distance(p), breastplate::sampling(), 84_000)?;
            Ok((mesh.clone(), files::three_mf(&mesh, "Breastplate")))
        },
    },
    Item {
        file: "vambrace.3mf",
        shows: "Left vambrace, one of a pair: lengthwise slit, wing on the thumb's side only; 3.6 mm shell",
        make: || {
            let vambrace = vambrace::Vambrace::new();
            let mesh = shape::build(&|p| vambrace.distance(p), vambrace::sampling(), 50_000)?;
            Ok((mesh.clone(), files::three_mf(&mesh, "Vambrace")))
        },
    },
    Item {
        file: "pauldron.3mf",
        shows: "Left pauldron, one of a pair: cap, four overlapping plates with panel lines, a guard; 4 mm shell",
        make: || {
            let pauldron = pauldron::Pauldron::new();
            let mesh = shape::build(&|p| pauldron.distance(p), pauldron::sampling(), 66_000)?;
            Ok((mesh.clone(), files::three_mf(&mesh, "Pauldron")))
        },
    },
    Item {
        file: "glaive.ply",
        shows: "Glaive: a 1.4 m prop, haft with cord and rings, blade with fuller and cut feathers; one solid body",
        make: || {
            let glaive = glaive::Glaive::new();
            let mesh = shape::build(&|p| glaive.distance(p), glaive::sampling(), 36_000)?;
            Ok((mesh.clone(), files::ply(&mesh)))
        },
    },
    Item {
        file: "broken/lantern.stl",
        shows: "Not of the costume: a lantern broken on purpose, two holes torn in it and a patch turned over",
        make: || {
            let mesh = broken::break_it(shape::build(&broken::distance, broken::sampling(), 5_000)?);
            Ok((mesh.clone(), files::stl(&mesh, "a lantern, broken on purpose; mm")))
        },
    },
    Item {
        file: "checks/letter-f.obj",
        shows: "Not of the costume: a plate with a letter F in relief, on which a mirrored pose cannot hide",
        make: || {
            let text = letter::plate().0;
            Ok((mesh_of_obj(&text)?, text.into_bytes()))
        },
    },
];

/// Makes the files; always true.
///
/// # Errors
/// Where a shape is not closed or a file cannot be written.
pub fn run(options: &Options) -> Result<bool> {
    let folder = place::root().join("demo-meshes");
    let mut rows = Vec::new();
    for item in &ITEMS {
        let name = Path::new(item.file).file_stem().unwrap_or_default().to_string_lossy();
        if !options.names.is_empty() && !options.names.iter().any(|wanted| *wanted == name) {
            continue;
        }
        let (mesh, bytes) = (item.make)().with_context(|| item.file)?;
        let path = folder.join(item.file);
        std::fs::create_dir_all(path.parent().unwrap_or(&folder))?;
        std::fs::write(&path, &bytes).with_context(|| format!("cannot write {}", path.display()))?;
        println!("{}: {} triangles, {} bytes", item.file, mesh.triangles.len(), bytes.len());
        if let Some(look) = &options.look {
            draw(&mesh, &look.join(format!("{name}.png")))?;
        }
        rows.push(row(item, &mesh, bytes.len()));
    }
    if rows.len() == ITEMS.len() {
        std::fs::write(folder.join("README.md"), table(&rows))?;
    }
    Ok(true)
}

fn row(item: &Item, mesh: &Mesh, n_bytes: usize) -> String {
    let (low, high) = shape::box_mm(mesh);
    let [x, y, z] = [0, 1, 2].map(|a| format!("{:.0}", high[a] - low[a]));
    let (triangles, kib) = (mesh.triangles.len(), n_bytes.div_ceil(1024));
    format!("| `{}` | {} | {x} x {y} x {z} | {triangles} | {kib} |", item.file, item.shows)
}

fn table(rows: &[String]) -> String {
    let mut text = String::from(
        "# Demo meshes\n\nA made-up festival costume, \"Lantern Fair\", and two files outside it. All shapes are our own invention.\n\
         `cargo xtask demo` makes these files again, byte for byte, and this table with them. Lengths are mm; x to the\n\
         wearer's left, y backward, z up. `picture.png` is drawn by `cargo xtask picture`.\n\n\
         | file | what it shows | size, mm | triangles | KiB |\n|---|---|---|---:|---:|\n",
    );
    for row in rows {
        let _ = writeln!(text, "{row}"); // writing to a String cannot fail
    }
    text
}

/// Four sides of an item on one sheet.
fn draw(mesh: &Mesh, path: &Path) -> Result<()> {
    const SIDES_DEG: [(f64, f64); 4] = [(35.0, 18.0), (90.0, 6.0), (0.0, 5.0), (150.0, 22.0)];
    const SIZE_PX: [usize; 2] = [600, 600];
    let drawn = [raster::Drawn {
        points: mesh.points.clone(),
        triangles: mesh.triangles.clone(),
        tone: ink::CLOTH[1],
    }];
    let pictures: Vec<_> = SIDES_DEG
        .iter()
        .map(|&(around, above)| {
            picture::draw(&drawn, raster::View::from_angles(around.to_radians(), above.to_radians()), SIZE_PX)
        })
        .collect();
    picture::write(&picture::tiles(&pictures, 2), path)
}

/// Points and triangles of our own OBJ text (quads cut along their first diagonal).
fn mesh_of_obj(text: &str) -> Result<Mesh> {
    let mut mesh = Mesh::default();
    for line in text.lines() {
        let mut words = line.split(' ');
        match words.next() {
            Some("v") => {
                let at: Vec<f64> = words.map(str::parse).collect::<Result<_, _>>()?;
                mesh.points.push([at[0], at[1], at[2]]);
            }
            Some("f") => {
                let corners: Vec<u32> = words.map(str::parse).collect::<Result<_, _>>()?;
                mesh.triangles
                    .extend(corners[1..].windows(2).map(|pair| [corners[0] - 1, pair[0] - 1, pair[1] - 1]));
            }
            _ => {}
        }
    }
    Ok(mesh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use seamwright_mesh::{NotSolid, Solid};

    #[test]
    fn making_the_demo_again_gives_the_committed_bytes_and_solids() {
        std::thread::scope(|scope| {
            // Two at a time: the helm beside all the others.
            for part in [&ITEMS[..1], &ITEMS[1..]] {
                scope.spawn(move || {
                    for item in part {
                        let (mesh, bytes) = (item.make)().unwrap();
                        let committed =
                            std::fs::read(place::root().join("demo-meshes").join(item.file)).unwrap();
                        assert!(bytes == committed, "{} differs from the committed file", item.file);
                        let solid = Solid::from_triangles(&mesh.points, &mesh.triangles);
                        if item.file.starts_with("broken/") {
                            assert!(matches!(solid, Err(NotSolid::Open { .. } | NotSolid::Twisted { .. })));
                        } else {
                            let (solid, notices) = solid.unwrap();
                            assert_eq!(solid.triangles().len(), mesh.triangles.len(), "{}", item.file);
                            assert!(notices.is_empty(), "{}: {notices:?}", item.file);
                        }
                    }
                });
            }
        });
    }
}
