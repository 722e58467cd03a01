//! Which part of the package is the model: content types and relationships.
//!
//! Lenient: a package without relationships is read if it has the usual `3D/3dmodel.model`.
//! Strict: every relationship's target exists inside the package, one start part, at most one print
//! ticket a part, plain part names, content types present.
//! Source: "3MF Core Specification" 1.3, 2.1 and 2.2; "Open Packaging Conventions" (ECMA-376 part 2),
//! 6.2 and 6.5 (from memory).

use super::xml::{self, Ns, Xml};
use crate::model::Notice;
use crate::read::package::Package;
use crate::read::{ReadError, ReadOptions};

const START_PART: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";
const PRINT_TICKET: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/printticket";
const USUAL_PART: &str = "3D/3dmodel.model";
const ROOT_RELATIONS: &str = "_rels/.rels";
const CONTENT_TYPES: &str = "[Content_Types].xml";

struct Relation {
    kind: String,
    target: String,
    external: bool,
}

/// The name of the root model part.
///
/// # Errors
/// [`ReadError::Package`], [`ReadError::PartLine`].
pub fn root_part(
    package: &Package,
    options: ReadOptions,
    notices: &mut Vec<Notice>,
) -> Result<String, ReadError> {
    if options.strict {
        check_package(package)?;
    }
    let relations = read(package, ROOT_RELATIONS, options)?;
    let mut starts = relations.iter().filter(|relation| relation.kind == START_PART);
    let first = starts.next();
    if starts.next().is_some() {
        if options.strict {
            return Err(fail(ROOT_RELATIONS, "more than one start part".into()));
        }
        notice(notices, "several-start-parts", "the package names several start parts; the first was read");
    }
    match first {
        Some(relation) if relation.external => {
            Err(fail(ROOT_RELATIONS, format!("the model {:?} lies outside the package", relation.target)))
        }
        Some(relation) => Ok(resolve(ROOT_RELATIONS, &relation.target)),
        None if !options.strict && package.find(USUAL_PART)?.is_some() => {
            notice(notices, "no-start-part", "the package names no start part; 3D/3dmodel.model was read");
            Ok(USUAL_PART.into())
        }
        None => Err(fail(ROOT_RELATIONS, "no relationship to a 3D model: this is not a 3MF package".into())),
    }
}

fn check_package(package: &Package) -> Result<(), ReadError> {
    if package.find(CONTENT_TYPES)?.is_none() {
        return Err(fail(CONTENT_TYPES, "the package has no content types".into()));
    }
    for entry in &package.entries {
        if entry.name.split('/').any(|segment| segment.is_empty() || segment.ends_with('.')) {
            return Err(fail(
                &entry.name,
                "a part name with an empty segment or one that ends in a dot".into(),
            ));
        }
        if package.find(&entry.name)?.is_none() {
            return Err(fail(&entry.name, "the part cannot be found by its name".into()));
        }
    }
    let strict = ReadOptions { strict: true };
    for entry in package.entries.iter().filter(|entry| entry.name.to_ascii_lowercase().ends_with(".rels")) {
        let relations = read(package, &entry.name, strict)?;
        let n_tickets = relations.iter().filter(|relation| relation.kind == PRINT_TICKET).count();
        if n_tickets > 1 {
            return Err(fail(&entry.name, format!("{n_tickets} print tickets, at most one is allowed")));
        }
        for relation in relations.iter().filter(|relation| !relation.external) {
            let target = resolve(&entry.name, &relation.target);
            if package.find(&target)?.is_none() {
                return Err(fail(
                    &entry.name,
                    format!("the target {:?} is not in the package", relation.target),
                ));
            }
        }
    }
    Ok(())
}

/// Relationships of one part; none if the part does not exist.
fn read(package: &Package, name: &str, options: ReadOptions) -> Result<Vec<Relation>, ReadError> {
    let Some(entry) = package.find(name)? else { return Ok(Vec::new()) };
    let text = xml::decode(package.unpack(entry)?, name)?;
    let mut xml = Xml::new(&text, name, options.strict);
    let root = xml.root()?;
    let mut relations = Vec::new();
    while let Some(element) = xml.child(&root)? {
        if element.ns == Ns::Relationships && element.local() == "Relationship" {
            let mut relation = Relation { kind: String::new(), target: String::new(), external: false };
            xml.attributes(&element, |_, key, value| {
                match key {
                    "Type" => relation.kind = value.into(),
                    "Target" => relation.target = value.into(),
                    "TargetMode" => relation.external = value == "External",
                    _ => {}
                }
                Ok(())
            })?;
            relations.push(relation);
        }
        xml.skip(&element)?;
    }
    Ok(relations)
}

/// The part a target names: absolute, or relative to the folder of the part that the relationships
/// belong to (the folder above `_rels`).
fn resolve(relations_name: &str, target: &str) -> String {
    let target = percent_decoded(target).replace('\\', "/");
    if let Some(absolute) = target.strip_prefix('/') {
        return absolute.into();
    }
    let mut segments: Vec<&str> = relations_name.split('/').collect();
    // The file name and `_rels`.
    segments.truncate(segments.len().saturating_sub(2));
    for segment in target.split('/') {
        match segment {
            "." => {}
            ".." => {
                segments.pop();
            }
            _ => segments.push(segment),
        }
    }
    segments.join("/")
}

fn percent_decoded(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, tail @ ..] = rest {
        let hex = |b: &u8| char::from(*b).to_digit(16);
        if let (b'%', Some(high), Some(low)) = (first, tail.first().and_then(hex), tail.get(1).and_then(hex))
        {
            bytes.push((16 * high + low) as u8);
            rest = &tail[2..];
        } else {
            bytes.push(*first);
            rest = tail;
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

fn notice(notices: &mut Vec<Notice>, code: &'static str, text: &str) {
    notices.push(Notice { code, text: text.into(), count: 1, at_mm: Vec::new() });
}

fn fail(part: &str, why: String) -> ReadError {
    ReadError::Package { part: part.into(), why }
}

#[cfg(test)]
mod tests {
    use super::resolve;

    #[test]
    fn targets_are_found_from_the_folder_above_the_relationships() {
        assert_eq!(resolve("_rels/.rels", "/3D/3dmodel.model"), "3D/3dmodel.model");
        assert_eq!(resolve("_rels/.rels", "3D/3dmodel.model"), "3D/3dmodel.model");
        assert_eq!(resolve("3D/_rels/3dmodel.model.rels", "Texture/a.png"), "3D/Texture/a.png");
        assert_eq!(resolve("3D/_rels/3dmodel.model.rels", "../Metadata/a%20b.png"), "Metadata/a b.png");
    }
}
