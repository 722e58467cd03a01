//! The mesh of an object: vertices and triangles, indices checked.
//!
//! Source: "3MF Core Specification" 1.3, 4.1 (from memory).

use super::model_part::{Content, Parser};
use super::xml::{Element, Ns};
use crate::read::{ReadError, text};

impl<'a> Parser<'a, '_> {
    /// Reads a mesh element.
    ///
    /// # Errors
    /// [`ReadError::PartLine`] with the vertex or triangle, counted from 0 as the format counts.
    pub fn mesh(&mut self, mesh: &Element<'a>) -> Result<Content, ReadError> {
        let (mut points, mut triangles) = (Vec::new(), Vec::new());
        self.check(mesh, |rules, attributes| rules.plain(attributes))?;
        while let Some(list) = self.xml.child(mesh)? {
            match (list.ns, list.local()) {
                (Ns::Core, "vertices") => {
                    self.check(&list, |rules, attributes| rules.plain(attributes))?;
                    while let Some(element) = self.xml.child(&list)? {
                        if element.ns == Ns::Core && element.local() == "vertex" {
                            points.push(self.vertex(&element, points.len())?);
                        }
                        self.xml.skip(&element)?;
                    }
                }
                (Ns::Core, "triangles") => {
                    self.check(&list, |rules, attributes| rules.plain(attributes))?;
                    while let Some(element) = self.xml.child(&list)? {
                        if element.ns == Ns::Core && element.local() == "triangle" {
                            triangles.push(self.triangle(&element, triangles.len())?);
                        }
                        self.xml.skip(&element)?;
                    }
                }
                (ns, name) => {
                    if ns != Ns::Core && matches!(name, "beamlattice" | "booleans") {
                        self.notice(
                            "not-triangles",
                            format!("{name} data of a mesh were skipped: only triangles are read"),
                        );
                    }
                    self.foreign(&list)?;
                }
            }
        }
        let n_points = points.len();
        if let Some((index, bad)) = triangles.iter().enumerate().find_map(|(index, t)| {
            t.iter().find(|&&corner| corner as usize >= n_points).map(|&corner| (index, corner))
        }) {
            return Err(self
                .xml
                .error(&format!("triangle {index} uses vertex {bad}, the mesh has {n_points}")));
        }
        Ok(Content::Mesh { points, triangles })
    }

    fn vertex(&mut self, element: &Element<'a>, index: usize) -> Result<[f64; 3], ReadError> {
        let mut point = [f64::NAN; 3];
        self.xml.attributes(element, |ns, key, value| {
            let axis = match (ns, key) {
                (Ns::Absent, "x") => 0,
                (Ns::Absent, "y") => 1,
                (Ns::Absent, "z") => 2,
                _ => return Ok(()),
            };
            point[axis] =
                text::number(value.trim().as_bytes()).map_err(|why| format!("vertex {index}: {why}"))?;
            Ok(())
        })?;
        if point.iter().any(|value| value.is_nan()) {
            return Err(self.xml.error(&format!("vertex {index} needs x, y and z")));
        }
        Ok(point)
    }

    fn triangle(&mut self, element: &Element<'a>, index: usize) -> Result<[u32; 3], ReadError> {
        let mut corners = [None; 3];
        let mut has_property = false;
        self.xml.attributes(element, |ns, key, value| {
            let corner = match (ns, key) {
                (Ns::Absent, "v1") => 0,
                (Ns::Absent, "v2") => 1,
                (Ns::Absent, "v3") => 2,
                (Ns::Absent, "pid" | "p1" | "p2" | "p3") => {
                    has_property = true;
                    return Ok(());
                }
                _ => return Ok(()),
            };
            let parsed = value.trim().parse::<u32>();
            corners[corner] =
                Some(parsed.map_err(|_| format!("triangle {index}: {value:?} is not an index"))?);
            Ok(())
        })?;
        let [Some(a), Some(b), Some(c)] = corners else {
            return Err(self.xml.error(&format!("triangle {index} needs v1, v2 and v3")));
        };
        if self.strict {
            if a == b || b == c || c == a {
                return Err(self.xml.error(&format!("triangle {index} names a vertex twice")));
            }
            if has_property {
                self.check(element, |rules, attributes| rules.triangle(attributes))?;
            }
        }
        Ok([a, b, c])
    }
}
