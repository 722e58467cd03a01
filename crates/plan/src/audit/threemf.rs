//! The audit's own small 3MF reader, and whether two meshes are the same triangles.
//!
//! How: unzip, follow the package's relationship to the model part, read objects, components and
//! build items, multiply transforms. A 3MF transform is the transpose of a pose: 12 numbers, rows
//! `m00 m01 m02 ... m30 m31 m32`, row vectors, `q = p M`.
//! Source: 3MF Core Specification 1.3, chapters 3 and 4 (from memory).
//! Not shared with crate `mesh`, for the same reason as the STL reader. Units other than
//! millimetres are refused: the planner has no business writing them.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::stl::{cross, dot, sub};

/// Mesh times transform and posed file may differ by this much (contract).
const SAME_MM: f64 = 1e-3;

/// One build item with its transforms applied.
pub(super) struct Built {
    pub name: String,
    pub part_number: String,
    pub points: Vec<[f64; 3]>,
    pub triangles: Vec<[u32; 3]>,
}

#[derive(Default)]
struct Object {
    name: String,
    part_number: String,
    points: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    components: Vec<(String, [f64; 12])>,
}

/// Reads a 3MF.
pub(super) fn read(bytes: &[u8]) -> Result<Vec<Built>, String> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| e.to_string())?;
    for needed in ["[Content_Types].xml", "_rels/.rels"] {
        part(&mut archive, needed)?;
    }
    let relationships = part(&mut archive, "_rels/.rels")?;
    let model_path = model_target(&relationships)?;
    let model = part(&mut archive, model_path.trim_start_matches('/'))?;
    parse_model(&model)
}

fn part(archive: &mut zip::ZipArchive<Cursor<&[u8]>>, name: &str) -> Result<String, String> {
    let mut text = String::new();
    let mut file = archive.by_name(name).map_err(|e| format!("{name}: {e}"))?;
    file.read_to_string(&mut text).map_err(|e| format!("{name}: {e}"))?;
    Ok(text)
}

fn attribute(element: &BytesStart, name: &str) -> Result<Option<String>, String> {
    for found in element.attributes() {
        let found = found.map_err(|e| e.to_string())?;
        if found.key.local_name().as_ref() == name {
            return quick_xml::escape::unescape(&found.value)
                .map(|v| Some(v.into_owned()))
                .map_err(|e| e.to_string());
        }
    }
    Ok(None)
}

fn required<T: std::str::FromStr>(element: &BytesStart, name: &str) -> Result<T, String> {
    attribute(element, name)?
        .and_then(|v| v.parse().ok())
        .ok_or_else(|| format!("an element lacks a good attribute {name:?}"))
}

fn transform(element: &BytesStart) -> Result<[f64; 12], String> {
    let Some(text) = attribute(element, "transform")? else {
        return Ok([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0]);
    };
    let numbers: Vec<f64> =
        text.split_whitespace().map(str::parse).collect::<Result<_, _>>().map_err(|_| text.clone())?;
    numbers.try_into().map_err(|_| format!("the transform {text:?} has not 12 numbers"))
}

fn apply(m: &[f64; 12], p: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|k| p[0] * m[k] + p[1] * m[3 + k] + p[2] * m[6 + k] + m[9 + k])
}

fn model_target(relationships: &str) -> Result<String, String> {
    let mut reader = Reader::from_str(relationships);
    loop {
        match reader.read_event().map_err(|e| e.to_string())? {
            Event::Start(e) | Event::Empty(e)
                if e.local_name().as_ref() == "Relationship"
                    && attribute(&e, "Type")?.is_some_and(|t| t.ends_with("/3dmodel")) =>
            {
                return required(&e, "Target");
            }
            Event::Eof => return Err("no relationship leads to a model".to_owned()),
            _ => {}
        }
    }
}

fn parse_model(text: &str) -> Result<Vec<Built>, String> {
    let mut reader = Reader::from_str(text);
    let mut objects: BTreeMap<String, Object> = BTreeMap::new();
    let mut built = Vec::new();
    let mut current = String::new();
    loop {
        match reader.read_event().map_err(|e| e.to_string())? {
            Event::Start(e) | Event::Empty(e) => match e.local_name().as_ref() {
                "model" => {
                    let unit = attribute(&e, "unit")?;
                    if unit.as_deref().is_some_and(|u| u != "millimeter") {
                        return Err(format!("the unit is {unit:?}"));
                    }
                }
                "object" => {
                    current = required(&e, "id")?;
                    let object = Object {
                        name: attribute(&e, "name")?.unwrap_or_default(),
                        part_number: attribute(&e, "partnumber")?.unwrap_or_default(),
                        ..Object::default()
                    };
                    if objects.insert(current.clone(), object).is_some() {
                        return Err(format!("object {current} is there twice"));
                    }
                }
                "vertex" => {
                    let point = [required(&e, "x")?, required(&e, "y")?, required(&e, "z")?];
                    objects.entry(current.clone()).or_default().points.push(point);
                }
                "triangle" => {
                    let object = objects.entry(current.clone()).or_default();
                    let triangle: [u32; 3] = [required(&e, "v1")?, required(&e, "v2")?, required(&e, "v3")?];
                    if triangle.iter().any(|&i| i as usize >= object.points.len()) {
                        return Err(format!("a triangle of object {current} points past the last vertex"));
                    }
                    object.triangles.push(triangle);
                }
                "component" => {
                    let row = (required(&e, "objectid")?, transform(&e)?);
                    objects.entry(current.clone()).or_default().components.push(row);
                }
                "item" => {
                    let id: String = required(&e, "objectid")?;
                    let object = objects.get(&id).ok_or_else(|| format!("object {id} is not there"))?;
                    let mut item = Built {
                        name: object.name.clone(),
                        part_number: object.part_number.clone(),
                        points: Vec::new(),
                        triangles: Vec::new(),
                    };
                    if let Some(number) = attribute(&e, "partnumber")? {
                        item.part_number = number;
                    }
                    gather(&objects, &id, &[transform(&e)?], &mut item)?;
                    built.push(item);
                }
                _ => {}
            },
            Event::Eof => return Ok(built),
            _ => {}
        }
    }
}

/// Adds an object and its components; `maps` are applied from the last to the first.
fn gather(
    objects: &BTreeMap<String, Object>,
    id: &str,
    maps: &[[f64; 12]],
    item: &mut Built,
) -> Result<(), String> {
    // A well-made file nests no deeper than a few; more is a ring.
    if maps.len() > 16 {
        return Err(format!("components of object {id} form a ring"));
    }
    let object = objects.get(id).ok_or_else(|| format!("object {id} is not there"))?;
    let first = item.points.len() as u32;
    item.points.extend(object.points.iter().map(|&p| maps.iter().rev().fold(p, |p, m| apply(m, p))));
    item.triangles.extend(object.triangles.iter().map(|t| t.map(|i| i + first)));
    for (child, map) in &object.components {
        let inner: Vec<[f64; 12]> = maps.iter().copied().chain([*map]).collect();
        gather(objects, child, &inner, item)?;
    }
    Ok(())
}

/// Whether two meshes have the same triangles, corners within 0.001 mm, facing the same way.
///
/// Asked in file order first; otherwise each triangle of `a` must find an own one in `b`.
pub(super) fn same_triangles(
    a_points: &[[f64; 3]],
    a_triangles: &[[u32; 3]],
    b_points: &[[f64; 3]],
    b_triangles: &[[u32; 3]],
) -> bool {
    if a_triangles.len() != b_triangles.len() {
        return false;
    }
    let a = |i: usize| a_triangles[i].map(|k| a_points[k as usize]);
    let b = |i: usize| b_triangles[i].map(|k| b_points[k as usize]);
    if (0..a_triangles.len()).all(|i| same(a(i), b(i))) {
        return true;
    }
    // Sorted by the middle's x; equal triangles lie within the tolerance of each other there.
    let middle_x = |t: [[f64; 3]; 3]| (t[0][0] + t[1][0] + t[2][0]) / 3.0;
    let mut rows: Vec<(f64, usize)> = (0..b_triangles.len()).map(|i| (middle_x(b(i)), i)).collect();
    rows.sort_by(|p, q| p.0.total_cmp(&q.0));
    let mut used = vec![false; rows.len()];
    (0..a_triangles.len()).all(|i| {
        let x = middle_x(a(i));
        let first = rows.partition_point(|row| row.0 < x - SAME_MM);
        let found = (first..rows.len())
            .take_while(|&r| rows[r].0 <= x + SAME_MM)
            .find(|&r| !used[r] && same(a(i), b(rows[r].1)));
        found.inspect(|&r| used[r] = true).is_some()
    })
}

fn same(a: [[f64; 3]; 3], b: [[f64; 3]; 3]) -> bool {
    let near = |p: [f64; 3], q: [f64; 3]| (0..3).all(|k| (p[k] - q[k]).abs() <= SAME_MM);
    let along = |t: [[f64; 3]; 3]| cross(sub(t[1], t[0]), sub(t[2], t[0]));
    let turned = (0..3).any(|r| (0..3).all(|k| near(a[k], b[(k + r) % 3])));
    // A sliver may match its mirror image within the tolerance; that is no difference.
    turned && dot(along(a), along(b)) >= -SAME_MM
}
