//! One XML model part: objects, build items, unit.
//!
//! How: one function per element of the core grammar; elements and attributes of other namespaces
//! are stepped over (they are ignorable unless the file requires them). Rules that do not touch the
//! shape go to `rules.rs` in strict mode. Meshes are in `mesh.rs`.
//! Source: "3MF Core Specification" 1.3, chapters 3 and 4 (from memory).

use super::rules::Rules;
use super::values::{resource_id, transform_of, unit_named};
use super::xml::{Element, Ns, Xml};
use crate::model::{Notice, Unit};
use crate::placement::Placement;
use crate::read::{ReadError, ReadOptions, text};
use std::collections::BTreeMap;

/// Extensions whose requirement does not keep the meshes from being right: production paths are
/// followed, materials and named sets of triangles say nothing about the shape.
const UNDERSTOOD: [&str; 3] = [
    "http://schemas.microsoft.com/3dmanufacturing/production/2015/06",
    "http://schemas.microsoft.com/3dmanufacturing/material/2015/02",
    "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07",
];

/// What an object is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A thing to print, or a surface of one.
    Model,
    /// A support.
    Support,
    /// Named as "other", or unknown.
    Other,
}

/// A build item or a component.
#[derive(Debug, Clone)]
pub struct Reference {
    /// Model part that holds the object, if not this one.
    pub path: Option<String>,
    /// The object's id there.
    pub object_id: u32,
    /// From the object's frame to the outer one.
    pub transform: Placement,
    /// Line of the reference.
    pub line: usize,
}

/// The shape of an object.
pub enum Content {
    /// Triangles.
    Mesh {
        /// Positions in file units.
        points: Vec<[f64; 3]>,
        /// Triples of indices, all in range.
        triangles: Vec<[u32; 3]>,
    },
    /// Other objects.
    Components(Vec<Reference>),
}

/// An object.
pub struct Object {
    /// Its name, else its part number, else empty.
    pub name: String,
    /// What it is for.
    pub kind: Kind,
    /// Its shape.
    pub content: Content,
}

/// A model part.
pub struct ModelPart {
    /// The unit of all numbers.
    pub unit: Option<Unit>,
    /// Objects by id.
    pub objects: BTreeMap<u32, Object>,
    /// What is built.
    pub items: Vec<Reference>,
}

/// A model part being read.
pub struct Parser<'a, 'n> {
    pub(super) xml: Xml<'a>,
    pub(super) strict: bool,
    part: ModelPart,
    rules: Rules,
    notices: &'n mut Vec<Notice>,
}

/// Reads a model part.
///
/// # Errors
/// [`ReadError::PartLine`].
pub fn read(
    text: &str,
    name: &str,
    options: ReadOptions,
    notices: &mut Vec<Notice>,
) -> Result<ModelPart, ReadError> {
    let part = ModelPart { unit: Some(Unit::Mm), objects: BTreeMap::new(), items: Vec::new() };
    let xml = Xml::new(text, name, options.strict);
    let mut parser = Parser { xml, strict: options.strict, part, rules: Rules::default(), notices };
    parser.model()?;
    parser.xml.finish()?;
    Ok(parser.part)
}

impl<'a> Parser<'a, '_> {
    fn model(&mut self) -> Result<(), ReadError> {
        let root = self.xml.root()?;
        if root.ns != Ns::Core || root.local() != "model" {
            return Err(self.xml.error("the root element is not a 3MF model"));
        }
        self.model_attributes(&root)?;
        let (mut has_build, mut has_resources) = (false, false);
        while let Some(element) = self.xml.child(&root)? {
            match (element.ns, element.local()) {
                (Ns::Core, "resources") => {
                    has_resources = true;
                    self.resources(&element)?;
                }
                (Ns::Core, "build") => {
                    has_build = true;
                    self.build(&element)?;
                }
                (Ns::Core, "metadata" | "metadatagroup") => {
                    self.check(&element, |rules, attributes| rules.metadata(attributes))?;
                    self.xml.skip(&element)?;
                }
                _ => self.foreign(&element)?,
            }
        }
        if self.strict && !(has_build && has_resources) {
            return Err(self.xml.error("a model needs resources and a build"));
        }
        if !has_build && !self.part.objects.is_empty() {
            self.build_everything();
        }
        Ok(())
    }

    fn model_attributes(&mut self, root: &Element<'a>) -> Result<(), ReadError> {
        let prefixes = self.xml.prefixes(root);
        let (mut unit, mut required, mut ignorable) = (None, String::new(), String::new());
        self.xml.attributes(root, |ns, key, value| {
            match (ns, key) {
                (Ns::Absent, "unit") => unit = Some(value.to_string()),
                (Ns::Absent, "requiredextensions") => required = value.into(),
                (Ns::Compatibility, "Ignorable") => ignorable = value.into(),
                _ => {}
            }
            Ok(())
        })?;
        self.xml.ignorable = prefixes
            .iter()
            .filter(|(prefix, _)| ignorable.split_whitespace().any(|word| word == prefix))
            .map(|(_, uri)| uri.clone())
            .collect();
        for prefix in required.split_whitespace() {
            let uri = prefixes.iter().find(|(declared, _)| declared == prefix).map(|(_, uri)| uri.as_str());
            match uri {
                Some(uri) if UNDERSTOOD.contains(&uri) => {}
                Some(uri) => {
                    return Err(self
                        .xml
                        .error(&format!("the file requires the extension {uri}, which is not read")));
                }
                None => {
                    return Err(self.xml.error(&format!(
                        "the file requires the extension {prefix:?} and never declares it"
                    )));
                }
            }
        }
        if let Some(word) = unit {
            self.part.unit = unit_named(&word);
            if self.part.unit.is_none() {
                if self.strict {
                    return Err(self.xml.error(&format!("unknown unit {word:?}")));
                }
                self.notice(
                    "unknown-unit",
                    format!("the unit {word:?} is unknown; it is guessed from the size"),
                );
            }
        }
        self.check(root, |rules, attributes| rules.plain(attributes))
    }

    fn resources(&mut self, resources: &Element<'a>) -> Result<(), ReadError> {
        while let Some(element) = self.xml.child(resources)? {
            if element.ns == Ns::Core && element.local() == "object" {
                self.object(&element)?;
            } else if self.strict && (element.ns == Ns::Material || element.local() == "basematerials") {
                self.resource(&element)?;
            } else {
                self.foreign(&element)?;
            }
        }
        Ok(())
    }

    /// A material or texture: only rules care.
    fn resource(&mut self, element: &Element<'a>) -> Result<(), ReadError> {
        let kind = element.local().to_string();
        self.check(element, |rules, attributes| rules.resource(&kind, attributes))?;
        while let Some(child) = self.xml.child(element)? {
            let name = child.local().to_string();
            self.check(&child, |rules, attributes| rules.entry(&name, attributes))?;
            self.xml.skip(&child)?;
        }
        Ok(())
    }

    fn object(&mut self, element: &Element<'a>) -> Result<(), ReadError> {
        let (mut id, mut name, mut part_number, mut kind) = (None, String::new(), String::new(), Kind::Model);
        let mut unknown_kind = None;
        self.xml.attributes(element, |ns, key, value| {
            match (ns, key) {
                (Ns::Absent, "id") => id = Some(resource_id(value)?),
                (Ns::Absent, "name") => name = text::name(value.as_bytes()),
                (Ns::Absent, "partnumber") => part_number = text::name(value.as_bytes()),
                (Ns::Absent, "type") => {
                    kind = match value {
                        "model" | "surface" => Kind::Model,
                        "support" | "solidsupport" => Kind::Support,
                        "other" => Kind::Other,
                        _ => {
                            unknown_kind = Some(value.to_string());
                            Kind::Other
                        }
                    }
                }
                _ => {}
            }
            Ok(())
        })?;
        if let Some(word) = unknown_kind {
            if self.strict {
                return Err(self.xml.error(&format!("unknown object type {word:?}")));
            }
            self.notice(
                "unknown-type",
                format!("an object of the unknown type {word:?} was read as a model"),
            );
        }
        self.check(element, |rules, attributes| rules.resource("object", attributes))?;
        let Some(id) = id else { return Err(self.xml.error("an object without an id")) };
        if self.part.objects.contains_key(&id) {
            return Err(self.xml.error(&format!("two objects with the id {id}")));
        }
        let mut content = None;
        while let Some(child) = self.xml.child(element)? {
            let found = match (child.ns, child.local()) {
                (Ns::Core, "mesh") => self.mesh(&child)?,
                (Ns::Core, "components") => self.components(&child)?,
                (Ns::Core, "metadatagroup") => {
                    self.xml.skip(&child)?;
                    continue;
                }
                _ => {
                    self.foreign(&child)?;
                    continue;
                }
            };
            if content.replace(found).is_some() {
                return Err(self.xml.error(&format!("object {id} has more than one shape")));
            }
        }
        let Some(content) = content else { return Err(self.xml.error(&format!("object {id} has no shape"))) };
        let name = if name.is_empty() { part_number } else { name };
        self.part.objects.insert(id, Object { name, kind, content });
        Ok(())
    }

    fn components(&mut self, components: &Element<'a>) -> Result<Content, ReadError> {
        let mut references = Vec::new();
        while let Some(element) = self.xml.child(components)? {
            if element.ns == Ns::Core && element.local() == "component" {
                let reference = self.reference(&element)?;
                if self.strict
                    && reference.path.is_none()
                    && !self.part.objects.contains_key(&reference.object_id)
                {
                    let id = reference.object_id;
                    return Err(self
                        .xml
                        .error(&format!("a component names object {id}, which does not stand before it")));
                }
                references.push(reference);
            }
            self.xml.skip(&element)?;
        }
        Ok(Content::Components(references))
    }

    fn build(&mut self, build: &Element<'a>) -> Result<(), ReadError> {
        while let Some(element) = self.xml.child(build)? {
            if element.ns == Ns::Core && element.local() == "item" {
                let reference = self.reference(&element)?;
                self.part.items.push(reference);
            }
            self.xml.skip(&element)?;
        }
        Ok(())
    }

    fn reference(&mut self, element: &Element<'a>) -> Result<Reference, ReadError> {
        let (mut path, mut object_id, mut transform) = (None, None, Placement::IDENTITY);
        self.xml.attributes(element, |ns, key, value| {
            match (ns, key) {
                (Ns::Absent, "objectid") => object_id = Some(resource_id(value)?),
                (Ns::Absent, "transform") => transform = transform_of(value)?,
                (Ns::Production, "path") => path = Some(value.trim().to_string()),
                _ => {}
            }
            Ok(())
        })?;
        let Some(object_id) = object_id else {
            return Err(self.xml.error("a reference without an object id"));
        };
        // Lines are only counted for messages; counting each would take square time.
        let line =
            if path.is_none() && self.part.objects.contains_key(&object_id) { 0 } else { self.xml.line() };
        Ok(Reference { path, object_id, transform, line })
    }

    /// No build section: everything that is no component of something else.
    fn build_everything(&mut self) {
        let used: Vec<u32> = self
            .part
            .objects
            .values()
            .flat_map(|object| match &object.content {
                Content::Components(list) => {
                    list.iter().filter(|r| r.path.is_none()).map(|r| r.object_id).collect()
                }
                Content::Mesh { .. } => Vec::new(),
            })
            .collect();
        let ids: Vec<u32> = self.part.objects.keys().copied().filter(|id| !used.contains(id)).collect();
        self.notice(
            "no-build",
            format!("the file has no build section; its {} objects were read as they stand", ids.len()),
        );
        let item = |object_id| Reference { path: None, object_id, transform: Placement::IDENTITY, line: 0 };
        self.part.items = ids.into_iter().map(item).collect();
    }

    /// An element this reader does not know: an error in strict mode if it claims to be core.
    pub(super) fn foreign(&mut self, element: &Element<'a>) -> Result<(), ReadError> {
        if self.strict && element.ns == Ns::Core {
            return Err(self.xml.error(&format!("unknown element {:?}", element.local())));
        }
        self.xml.skip(element)
    }

    /// In strict mode, hands the attributes of an element to a rule.
    pub(super) fn check(
        &mut self,
        element: &Element<'a>,
        rule: impl FnOnce(&mut Rules, &BTreeMap<String, String>) -> Result<(), String>,
    ) -> Result<(), ReadError> {
        if !self.strict {
            return Ok(());
        }
        let mut attributes = BTreeMap::new();
        self.xml.attributes(element, |ns, key, value| {
            match ns {
                Ns::Absent => {
                    attributes.insert(key.to_string(), value.to_string());
                }
                Ns::Xml if key == "space" => return Err("xml:space is not allowed".into()),
                Ns::Undeclared => return Err(format!("the prefix of attribute {key:?} is not declared")),
                Ns::Other => {
                    return Err(format!("attribute {key:?} of a namespace that is not declared ignorable"));
                }
                _ => {}
            }
            Ok(())
        })?;
        rule(&mut self.rules, &attributes).map_err(|why| self.xml.error(&why))
    }

    pub(super) fn notice(&mut self, code: &'static str, text: String) {
        // One of a kind is enough: a file may have thousands of meshes.
        if !self.notices.iter().any(|notice| notice.code == code) {
            self.notices.push(Notice { code, text, count: 1, at_mm: Vec::new() });
        }
    }
}
