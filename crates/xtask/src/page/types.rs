//! The page's types of records, written from the records of the core: `www/src/planner/records.ts`.
//!
//! How: the source files are parsed, every struct and enum in them becomes a TypeScript type with the
//! same fields, names as serde writes them, the first line of its doc as its comment. Lists of words
//! (roles, units ...) become lists and their unions. A check mode says whether the committed file is still what the
//! core says, so that the two faces cannot drift apart.
//! Not here: which messages the page sends (`www/src/planner/protocol.ts`).

use crate::place;
use anyhow::{Context, Result, bail};
use seamwright_mesh::mend::Step;
use seamwright_plan::{job, project};
use std::fmt::Write;
use syn::{Fields, GenericArgument, Item, PathArguments, Type};

/// Where the types go.
pub const FILE: &str = "www/src/planner/records.ts";

/// Source files and the types taken from each with their names on the page; no names means all,
/// named as they are.
const RECORDS: [(&str, &[(&str, &str)]); 6] = [
    ("crates/plan/src/records.rs", &[]),
    (
        "crates/plan/src/records/marks.rs",
        &[
            ("MarksRecord", "MarksRecord"),
            ("BegunRecord", "BegunRecord"),
            ("SeamMark", "SeamMark"),
            ("ChalkDab", "ChalkDab"),
            ("ChalkKind", "ChalkKind"),
        ],
    ),
    ("crates/plan/src/project/settings.rs", &[("SettingsRecord", "ItemSettings")]),
    ("crates/plan/src/project.rs", &[("Decision", "Decision")]),
    ("crates/plan/src/inspect.rs", &[]),
    ("crates/plan/src/remote/messages.rs", &[]),
];

const HEADER: &str = "/**\n * Records of files as the core writes and reads them. Made by `cargo xtask page --types` from\n * `records.rs`, `records/marks.rs`, `project.rs`, `project/settings.rs`, `inspect.rs` and `remote/messages.rs` of `crates/plan/src`; change those instead.\n *\n * Units: lengths mm, areas mm2, volumes mm3, masses g, times s. An absent field means its stage does not exist.\n * Longer than 400 lines because it is the table of the file formats.\n */\n";

/// Writes the types, or only looks whether the file holds them; returns whether it does.
///
/// # Errors
/// When a source cannot be read or holds a type that has no counterpart.
pub fn write(only_check: bool) -> Result<bool> {
    let due = all()?;
    let path = place::root().join(FILE);
    let found = std::fs::read_to_string(&path).unwrap_or_default();
    if only_check {
        return Ok(found == due);
    }
    if found != due {
        std::fs::write(&path, due).with_context(|| format!("cannot write {FILE}"))?;
    }
    Ok(true)
}

fn all() -> Result<String> {
    let mut text = String::from(HEADER);
    let units: Vec<&str> = project::UNITS.iter().map(|unit| unit.name()).collect();
    let ups: Vec<&str> = project::UPS.iter().map(|(_, name)| *name).collect();
    let prefers: Vec<&str> = project::PREFERS.iter().map(|(_, name)| *name).collect();
    let mends: Vec<&str> = job::Mend::NAMES.iter().map(|(_, name)| *name).collect();
    let steps: Vec<&str> = Step::NAMES.iter().map(|(_, name)| *name).collect();
    let lists = [
        ("Role", &job::ROLES[..]),
        ("Unit", &units),
        ("Up", &ups),
        ("Mend", &mends),
        ("Step", &steps),
        ("Prefer", &prefers),
    ];
    for (name, words) in lists {
        let words: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
        let list = format!("{}S", name.to_uppercase());
        writeln!(text, "\nexport const {list} = [{}] as const;", words.join(", "))?;
        writeln!(text, "export type {name} = (typeof {list})[number];")?;
    }
    for (source, wanted) in RECORDS {
        let code = std::fs::read_to_string(place::root().join(source))
            .with_context(|| format!("cannot read {source}"))?;
        text += &of_source(&code, wanted).with_context(|| source.to_string())?;
    }
    Ok(text)
}

fn of_source(code: &str, wanted: &[(&str, &str)]) -> Result<String> {
    let mut text = String::new();
    for item in syn::parse_file(code)?.items {
        let (attributes, name) = match &item {
            Item::Struct(s) => (&s.attrs, s.ident.to_string()),
            Item::Enum(e) => (&e.attrs, e.ident.to_string()),
            _ => continue,
        };
        let renamed = wanted.iter().find(|(from, _)| *from == name).map(|(_, to)| (*to).to_string());
        let Some(name) = renamed.or_else(|| wanted.is_empty().then_some(name)) else { continue };
        let serde = Serde::of(attributes)?;
        writeln!(text, "\n{}", comment(attributes, ""))?;
        match &item {
            Item::Struct(s) => text += &of_struct(&name, &s.fields)?,
            Item::Enum(e) => {
                let words = e.variants.iter().map(|v| format!("\"{}\"", serde.cased(&v.ident.to_string())));
                writeln!(text, "export type {name} = {};", words.collect::<Vec<_>>().join(" | "))?;
            }
            _ => {}
        }
    }
    Ok(text)
}

fn of_struct(name: &str, fields: &Fields) -> Result<String> {
    let mut text = format!("export interface {name} {{\n");
    for field in fields {
        let ident = field.ident.as_ref().with_context(|| format!("{name} has a field without a name"))?;
        let serde = Serde::of(&field.attrs)?;
        let note = comment(&field.attrs, "  ");
        if !note.is_empty() {
            writeln!(text, "{note}")?;
        }
        let key = serde.rename.unwrap_or_else(|| ident.to_string());
        let (ty, is_option) = typescript(&field.ty).with_context(|| format!("{name}.{ident}"))?;
        writeln!(text, "  {key}{}: {ty};", if is_option || serde.may_be_absent { "?" } else { "" })?;
    }
    text += "}\n";
    Ok(text)
}

/// The type, and whether it may be absent.
fn typescript(ty: &Type) -> Result<(String, bool)> {
    let of = |ty: &Type| -> Result<String> { Ok(typescript(ty)?.0) };
    match ty {
        Type::Array(array) => {
            let syn::Expr::Lit(syn::ExprLit { lit: syn::Lit::Int(n), .. }) = &array.len else {
                bail!("an array of unknown length");
            };
            let (n, inner): (usize, String) = (n.base10_parse()?, of(&array.elem)?);
            Ok((
                if n <= 4 { format!("[{}]", vec![inner; n].join(", ")) } else { format!("{inner}[]") },
                false,
            ))
        }
        Type::Path(path) => {
            let last = path.path.segments.last().context("a path without a name")?;
            let inner: Vec<&Type> = match &last.arguments {
                PathArguments::AngleBracketed(list) => list
                    .args
                    .iter()
                    .filter_map(|a| if let GenericArgument::Type(ty) = a { Some(ty) } else { None })
                    .collect(),
                _ => Vec::new(),
            };
            let name = last.ident.to_string();
            Ok(match (name.as_str(), &inner[..]) {
                ("f64" | "u64" | "u32" | "usize", _) => ("number".into(), false),
                ("String", _) => ("string".into(), false),
                ("bool", _) => ("boolean".into(), false),
                ("Value", _) => ("unknown".into(), false),
                ("Option", [inner]) => (of(inner)?, true),
                ("Vec", [inner]) => (format!("{}[]", of(inner)?), false),
                ("SettingsRecord", _) => ("ItemSettings".into(), false),
                ("BTreeMap", [_, inner]) => (format!("Record<string, {}>", of(inner)?), false),
                (_, []) => (name, false),
                _ => bail!("{name} has no counterpart"),
            })
        }
        _ => bail!("a type without a counterpart"),
    }
}

/// What serde's attributes say.
#[derive(Default)]
struct Serde {
    rename: Option<String>,
    rename_all: Option<String>,
    may_be_absent: bool,
}

impl Serde {
    fn of(attributes: &[syn::Attribute]) -> Result<Self> {
        let mut found = Self::default();
        for attribute in attributes.iter().filter(|a| a.path().is_ident("serde")) {
            attribute.parse_nested_meta(|meta| {
                let text = || -> syn::Result<String> { Ok(meta.value()?.parse::<syn::LitStr>()?.value()) };
                if meta.path.is_ident("rename") {
                    found.rename = Some(text()?);
                } else if meta.path.is_ident("rename_all") {
                    found.rename_all = Some(text()?);
                } else if meta.path.is_ident("skip_serializing_if") {
                    text()?;
                    found.may_be_absent = true;
                }
                Ok(())
            })?;
        }
        Ok(found)
    }

    /// A variant's name in the file: `FitCard` is `fit-card` or `fitcard`.
    fn cased(&self, name: &str) -> String {
        let kebab = self.rename_all.as_deref() == Some("kebab-case");
        let mut text = String::new();
        for (at, letter) in name.char_indices() {
            if kebab && at > 0 && letter.is_ascii_uppercase() {
                text.push('-');
            }
            text.push(if self.rename_all.is_some() { letter.to_ascii_lowercase() } else { letter });
        }
        text
    }
}

/// The first line of a doc as a comment.
fn comment(attributes: &[syn::Attribute], indent: &str) -> String {
    let line = attributes.iter().filter(|a| a.path().is_ident("doc")).find_map(|a| match &a.meta {
        syn::Meta::NameValue(syn::MetaNameValue {
            value: syn::Expr::Lit(syn::ExprLit { lit: syn::Lit::Str(text), .. }),
            ..
        }) => Some(text.value()),
        _ => None,
    });
    line.map_or_else(String::new, |line| format!("{indent}/** {} */", line.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_types_of_the_page_are_what_the_records_say() {
        assert!(write(true).unwrap(), "{FILE} is stale: run `cargo xtask page --types`");
    }

    #[test]
    fn fields_are_named_and_absent_as_in_the_file() {
        let code = "/// A thing.\npub struct Thing { /// Its use.\n#[serde(rename = \"for\")] pub serves: String,\n\
                    #[serde(default, skip_serializing_if = \"Option::is_none\")] pub size_mm: Option<[f64; 3]>, pub pose: [f64; 12] }\n\
                    #[serde(rename_all = \"kebab-case\")] pub enum Kind { Stub, FitCard }";
        let due = "\n/** A thing. */\nexport interface Thing {\n  /** Its use. */\n  for: string;\n  size_mm?: [number, number, number];\n  pose: number[];\n}\n\n\nexport type Kind = \"stub\" | \"fit-card\";\n";
        assert_eq!(of_source(code, &[]).unwrap(), due);
    }
}
