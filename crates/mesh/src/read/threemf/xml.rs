//! XML parts of a package: elements with their namespace and attributes, nothing more.
//!
//! Document type definitions are refused, so no entity can be declared; text is skipped; nesting is
//! limited. UTF-8 and UTF-16 are read.
//! Source: "3MF Core Specification" 1.3, 2.3.2 (encoding, no DTD) (from memory).

use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;
use quick_xml::{NsReader, XmlVersion};
use std::borrow::Cow;

use crate::read::ReadError;

/// Far beyond the six levels of a model.
const MAX_DEPTH: usize = 64;

/// More attributes than any element of the format has; duplicates are looked for in square time.
const MAX_ATTRIBUTES: usize = 256;

/// Namespaces that matter here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ns {
    /// The core of 3MF.
    Core,
    /// The production extension.
    Production,
    /// The materials and properties extension.
    Material,
    /// Relationships of a package.
    Relationships,
    /// Content types of a package.
    ContentTypes,
    /// Markup compatibility: says what may be ignored.
    Compatibility,
    /// One the file declares ignorable.
    Ignorable,
    /// The prefix `xml`.
    Xml,
    /// None at all.
    Absent,
    /// Any other.
    Other,
    /// A prefix that was never declared.
    Undeclared,
}

impl Ns {
    /// The namespace of a URI.
    pub fn of(uri: &str) -> Self {
        match uri {
            "http://schemas.microsoft.com/3dmanufacturing/core/2015/02" => Self::Core,
            "http://schemas.microsoft.com/3dmanufacturing/production/2015/06" => Self::Production,
            "http://schemas.microsoft.com/3dmanufacturing/material/2015/02" => Self::Material,
            "http://schemas.openxmlformats.org/package/2006/relationships" => Self::Relationships,
            "http://schemas.openxmlformats.org/package/2006/content-types" => Self::ContentTypes,
            "http://schemas.openxmlformats.org/markup-compatibility/2006" => Self::Compatibility,
            "http://www.w3.org/XML/1998/namespace" => Self::Xml,
            _ => Self::Other,
        }
    }

    fn resolved(result: &ResolveResult) -> Self {
        match result {
            ResolveResult::Bound(namespace) => Self::of(namespace.as_ref()),
            ResolveResult::Unbound => Self::Absent,
            ResolveResult::Unknown(_) => Self::Undeclared,
        }
    }
}

/// An opened element.
pub struct Element<'a> {
    /// Its namespace.
    pub ns: Ns,
    /// Whether it closes at once (`<a/>`).
    pub empty: bool,
    start: BytesStart<'a>,
}

/// What comes next.
enum Step<'a> {
    /// An element opens (and closes at once, if it is empty).
    Open(Element<'a>),
    /// The innermost open element closes.
    Close,
}

/// A part being read.
pub struct Xml<'a> {
    reader: NsReader<&'a [u8]>,
    text: &'a str,
    part: &'a str,
    depth: usize,
    strict: bool,
    /// URIs the root element declares ignorable.
    pub ignorable: Vec<String>,
}

/// The text of a part: UTF-8, or UTF-16 by its mark.
///
/// # Errors
/// [`ReadError::Package`].
pub fn decode(bytes: Vec<u8>, part: &str) -> Result<String, ReadError> {
    let wide = |unit: fn([u8; 2]) -> u16| {
        let units = bytes[2..].chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
        char::decode_utf16(units).collect::<Result<String, _>>().ok()
    };
    let text = if bytes.starts_with(&[0xFF, 0xFE]) {
        wide(u16::from_le_bytes)
    } else if bytes.starts_with(&[0xFE, 0xFF]) {
        wide(u16::from_be_bytes)
    } else {
        String::from_utf8(bytes).ok()
    };
    text.ok_or_else(|| ReadError::Package {
        part: part.into(),
        why: "the text is neither UTF-8 nor UTF-16".into(),
    })
}

impl<'a> Xml<'a> {
    /// Over the text of `part`.
    pub fn new(text: &'a str, part: &'a str, strict: bool) -> Self {
        let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
        Self { reader: NsReader::from_str(text), text, part, depth: 0, strict, ignorable: Vec::new() }
    }

    /// Opens the root element.
    ///
    /// # Errors
    /// [`ReadError::PartLine`].
    pub fn root(&mut self) -> Result<Element<'a>, ReadError> {
        match self.next()? {
            Some(Step::Open(element)) => Ok(element),
            _ => Err(self.error("no root element")),
        }
    }

    /// The next child of an element that was opened; `None` where it closes. Each child must be
    /// walked or skipped before the next.
    ///
    /// # Errors
    /// [`ReadError::PartLine`].
    pub fn child(&mut self, parent: &Element) -> Result<Option<Element<'a>>, ReadError> {
        if parent.empty {
            return Ok(None);
        }
        match self.next()? {
            Some(Step::Open(element)) => Ok(Some(element)),
            _ => Ok(None),
        }
    }

    /// Steps over what is left inside an element that was opened.
    ///
    /// # Errors
    /// [`ReadError::PartLine`].
    pub fn skip(&mut self, element: &Element) -> Result<(), ReadError> {
        if element.empty {
            return Ok(());
        }
        let outside = self.depth - 1;
        while self.depth > outside {
            self.next()?;
        }
        Ok(())
    }

    /// Checks that nothing follows the root element.
    ///
    /// # Errors
    /// [`ReadError::PartLine`].
    pub fn finish(&mut self) -> Result<(), ReadError> {
        match self.next()? {
            None => Ok(()),
            Some(_) => Err(self.error("a second root element")),
        }
    }

    fn next(&mut self) -> Result<Option<Step<'a>>, ReadError> {
        loop {
            let (ns, event) = match self.reader.read_resolved_event() {
                Ok((result, event)) => (Ns::resolved(&result), event),
                Err(error) => return Err(self.error(&error.to_string())),
            };
            let (start, empty) = match event {
                Event::Start(start) => (start, false),
                Event::Empty(start) => (start, true),
                Event::End(_) => {
                    self.depth -= 1;
                    return Ok(Some(Step::Close));
                }
                Event::Eof if self.depth > 0 => {
                    return Err(self.error("the part ends inside an element: it is cut short"));
                }
                Event::Eof => return Ok(None),
                Event::DocType(_) => {
                    return Err(self.error("a document type definition; the format forbids it"));
                }
                Event::Decl(declaration) => {
                    let encoding =
                        declaration.encoding().and_then(Result::ok).unwrap_or_default().to_ascii_lowercase();
                    if self.strict && !matches!(encoding.as_str(), "" | "utf-8" | "utf-16") {
                        return Err(
                            self.error(&format!("encoding {encoding:?}; only UTF-8 and UTF-16 are allowed"))
                        );
                    }
                    continue;
                }
                _ => continue,
            };
            if self.strict && ns == Ns::Undeclared {
                return Err(self.error("an element whose prefix is not declared"));
            }
            if !empty {
                self.depth += 1;
                if self.depth > MAX_DEPTH {
                    return Err(self.error(&format!("elements nested deeper than {MAX_DEPTH}")));
                }
            }
            return Ok(Some(Step::Open(Element { ns, empty, start })));
        }
    }

    /// Calls `each` with the namespace, local name and value of every attribute that is no
    /// namespace declaration.
    ///
    /// # Errors
    /// [`ReadError::PartLine`], also what `each` finds wrong.
    pub fn attributes(
        &self,
        element: &Element,
        mut each: impl FnMut(Ns, &str, &str) -> Result<(), String>,
    ) -> Result<(), ReadError> {
        let mut attributes = element.start.attributes();
        // Looking for duplicates allocates for every element.
        attributes.with_checks(self.strict);
        for (index, attribute) in attributes.enumerate() {
            if index >= MAX_ATTRIBUTES {
                return Err(self.error(&format!("an element with more than {MAX_ATTRIBUTES} attributes")));
            }
            let attribute = attribute.map_err(|error| self.error(&error.to_string()))?;
            let key = attribute.key.0;
            if key == "xmlns" || key.starts_with("xmlns:") {
                continue;
            }
            let (ns, local) = if key.contains(':') {
                let (result, local) = self.reader.resolver().resolve_attribute(attribute.key);
                let ns = match &result {
                    ResolveResult::Bound(uri) if self.ignorable.iter().any(|known| known == uri.as_ref()) => {
                        Ns::Ignorable
                    }
                    _ => Ns::resolved(&result),
                };
                (ns, local.into_inner())
            } else {
                (Ns::Absent, key)
            };
            let raw: &str = &attribute.value;
            let value = if raw.bytes().any(|b| b == b'&' || b < b' ') {
                attribute
                    .normalized_value(XmlVersion::Implicit1_0)
                    .map_err(|error| self.error(&error.to_string()))?
            } else {
                Cow::Borrowed(raw)
            };
            each(ns, local, &value).map_err(|why| self.error(&why))?;
        }
        Ok(())
    }

    /// Declared prefixes of this element, with their URIs.
    pub fn prefixes(&self, element: &Element) -> Vec<(String, String)> {
        let declared = element.start.attributes().take(MAX_ATTRIBUTES).flatten();
        declared
            .filter_map(|a| Some((a.key.0.strip_prefix("xmlns:")?.to_string(), a.value.to_string())))
            .collect()
    }

    /// The line of the last step.
    pub fn line(&self) -> usize {
        let at = (self.reader.buffer_position() as usize).min(self.text.len());
        1 + self.text.as_bytes()[..at].iter().filter(|&&b| b == b'\n').count()
    }

    /// An error at the last step.
    pub fn error(&self, why: &str) -> ReadError {
        ReadError::PartLine { part: self.part.into(), line: self.line(), why: why.into() }
    }
}

impl Element<'_> {
    /// The name without its prefix.
    pub fn local(&self) -> &str {
        self.start.local_name().into_inner()
    }
}
