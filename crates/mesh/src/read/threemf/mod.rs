//! 3MF: the objects that the build section names, with their transforms applied.
//!
//! How: the package's relationships name the root model part (`relations.rs`); a model part becomes
//! objects and build items (`model_part.rs`); each build item is followed through components, also
//! into other model parts (production extension), and every mesh met becomes a part.
//! Support objects are left out: they are made anew for each printer.
//! Strict mode also checks the rules about resources and properties (`rules.rs`).
//! Source: "3D Manufacturing Format Core Specification" 1.3, "Production Extension" 1.1 (from memory).
//! Not here: beam lattices, slices, booleans, volumes: refused where a file requires them.

mod mesh;
mod model_part;
mod relations;
mod rules;
mod values;
mod xml;

use super::package::Package;
use super::{ReadError, ReadOptions};
use crate::model::{Model, Notice, Part};
use crate::placement::Placement;
use model_part::{Content, Kind, ModelPart, Object, Reference};
use std::collections::BTreeMap;

/// Components nested deeper than any assembly; also ends cycles.
const MAX_DEPTH: usize = 32;
/// Most meshes placed, most triangles in all: what native planning takes, five times over.
const MAX_PLACED: usize = 1_000_000;
const MAX_TRIANGLES: usize = 50_000_000;

struct Reader<'a> {
    package: &'a Package<'a>,
    options: ReadOptions,
    parts: BTreeMap<String, ModelPart>,
    model: Model,
    n_placed: usize,
    n_triangles: usize,
    n_supports: usize,
}

/// Reads a 3MF package.
///
/// # Errors
/// [`ReadError::Package`], [`ReadError::PartLine`], [`ReadError::TooLarge`].
pub fn read(bytes: &[u8], options: ReadOptions) -> Result<Model, ReadError> {
    let package = Package::open(bytes)?;
    let mut model = Model::default();
    let root = relations::root_part(&package, options, &mut model.notices)?;
    let mut reader = Reader {
        package: &package,
        options,
        parts: BTreeMap::new(),
        model,
        n_placed: 0,
        n_triangles: 0,
        n_supports: 0,
    };
    reader.load(&root)?;
    let root_part = &reader.parts[&root];
    reader.model.unit = root_part.unit;
    let items = root_part.items.clone();
    for item in &items {
        reader.place(&root, item, Placement::IDENTITY, "", 0)?;
    }
    let Reader { mut model, n_supports, .. } = reader;
    if n_supports > 0 {
        model.notices.push(Notice {
            code: "supports-left-out",
            text: format!("{n_supports} support objects were left out; supports are planned anew"),
            count: n_supports,
            at_mm: Vec::new(),
        });
    }
    Ok(model)
}

impl Reader<'_> {
    fn load(&mut self, name: &str) -> Result<(), ReadError> {
        if self.parts.contains_key(name) {
            return Ok(());
        }
        let Some(entry) = self.package.find(name)? else {
            return Err(ReadError::Package { part: name.into(), why: "the package has no such part".into() });
        };
        let text = xml::decode(self.package.unpack(entry)?, name)?;
        let part = model_part::read(&text, name, self.options, &mut self.model.notices)?;
        self.parts.insert(name.to_string(), part);
        Ok(())
    }

    /// Appends the meshes that a reference leads to.
    fn place(
        &mut self,
        from_part: &str,
        reference: &Reference,
        outer: Placement,
        outer_name: &str,
        depth: usize,
    ) -> Result<(), ReadError> {
        let part_name = reference.path.as_deref().unwrap_or(from_part).trim_start_matches('/').to_string();
        let fail = |line: usize, why: String| Err(ReadError::PartLine { part: from_part.into(), line, why });
        if depth > MAX_DEPTH {
            return fail(reference.line, format!("components nested deeper than {MAX_DEPTH}"));
        }
        self.n_placed += 1;
        if self.n_placed > MAX_PLACED {
            let what = "the build of the 3MF model".into();
            let (found, limit) = (self.n_placed as u64, MAX_PLACED as u64);
            return Err(ReadError::TooLarge { what, found, limit, unit: "placed objects" });
        }
        self.load(&part_name)?;
        let part = &self.parts[&part_name];
        let Some(object) = part.objects.get(&reference.object_id) else {
            return fail(
                reference.line,
                format!("object {} does not exist in {part_name}", reference.object_id),
            );
        };
        match object.kind {
            Kind::Support => {
                self.n_supports += 1;
                return Ok(());
            }
            Kind::Other if depth == 0 && self.options.strict => {
                return fail(
                    reference.line,
                    format!("the build names object {} of type \"other\"", reference.object_id),
                );
            }
            Kind::Model | Kind::Other => {}
        }
        let placement = reference.transform.then(&outer);
        let name = if object.name.is_empty() { outer_name.to_string() } else { object.name.clone() };
        match &object.content {
            Content::Components(components) => {
                // Small: references only, the meshes stay where they are.
                for component in components.clone() {
                    self.place(&part_name, &component, placement, &name, depth + 1)?;
                }
            }
            Content::Mesh { triangles, .. } => {
                self.n_triangles += triangles.len();
                if self.n_triangles > MAX_TRIANGLES {
                    let what = "the build of the 3MF model".into();
                    let (found, limit) = (self.n_triangles as u64, MAX_TRIANGLES as u64);
                    return Err(ReadError::TooLarge { what, found, limit, unit: "triangles" });
                }
                let placed = placed_mesh(object, &placement, name);
                let Some(placed) = placed else {
                    return fail(
                        reference.line,
                        "the transform flattens the object or leaves the range of numbers".into(),
                    );
                };
                self.model.parts.push(placed);
            }
        }
        Ok(())
    }
}

/// A mesh moved to its place; `None` if the transform is singular or a point overflows. A mirror
/// would turn the mesh inside out, so its triangles are turned with it.
fn placed_mesh(object: &Object, placement: &Placement, name: String) -> Option<Part> {
    let Content::Mesh { points, triangles } = &object.content else { return None };
    let determinant = placement.determinant();
    if determinant == 0.0 || !determinant.is_finite() {
        return None;
    }
    let points: Vec<[f64; 3]> = points.iter().map(|&p| placement.apply(p)).collect();
    if points.iter().flatten().any(|value| !value.is_finite()) {
        return None;
    }
    let turn = |t: &[u32; 3]| if determinant < 0.0 { [t[0], t[2], t[1]] } else { *t };
    Some(Part { name, points, triangles: triangles.iter().map(turn).collect() })
}
