//! A print job as a 3MF core package: objects with names and part numbers, placed on the bed.
//!
//! How: one XML part with a mesh and a build item per object, the relationship and content type
//! parts, packed by `archive.rs`. Coordinates have six decimals, so snapping what was read gives
//! back the grid points of a solid; transforms have nine.
//! Frame: a build item's transform is the transpose of our row-major 3x4 placement, because the
//! format multiplies row vectors.
//! Needs: closed, outward meshes without triangles that name a point twice, and turning placements
//! (no mirror): what a `Solid` and a pose are. Proved there, not again here.
//! Source: "3D Manufacturing Format Core Specification" 1.3, chapters 2 to 4 and appendix C
//! (from memory).

use super::archive::archive;
use crate::placement::Placement;

/// One object of a print job.
#[derive(Debug, Clone, Copy)]
pub struct JobObject<'a> {
    /// Name shown by slicers.
    pub name: &'a str,
    /// Part number: the id in the plan.
    pub part_number: &'a str,
    /// Points in mm, in the object's own frame.
    pub points_mm: &'a [[f64; 3]],
    /// Triples of indices into `points_mm`, counter-clockwise from outside.
    pub triangles: &'a [[u32; 3]],
    /// Where it stands on the bed.
    pub placement: Placement,
}

const CONTENT_TYPES: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
<Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
<Default Extension=\"model\" ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/>\
</Types>\n";

const RELATIONSHIPS: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
<Relationship Id=\"rel0\" Target=\"/3D/3dmodel.model\" \
Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/>\
</Relationships>\n";

/// The bytes of a 3MF package in millimetres.
///
/// # Examples
/// ```
/// use seamwright_mesh::{Placement, write::{JobObject, threemf_bytes}};
/// let points = [[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0], [0.0, 0.0, 10.0]];
/// let triangles = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
/// let placement = Placement::from_rows([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]], [50.0, 20.0, 0.0]);
/// let job = [JobObject { name: "tip", part_number: "tip-1", points_mm: &points, triangles: &triangles, placement }];
/// let model = seamwright_mesh::read::read_model(&threemf_bytes(&job), "job.3mf")?;
/// assert_eq!(model.parts[0].points[1], [50.0, 30.0, 0.0]);
/// # Ok::<(), seamwright_mesh::read::ReadError>(())
/// ```
pub fn threemf_bytes(objects: &[JobObject]) -> Vec<u8> {
    let model = model_xml(objects);
    archive(&[
        ("[Content_Types].xml", CONTENT_TYPES.as_bytes()),
        ("_rels/.rels", RELATIONSHIPS.as_bytes()),
        ("3D/3dmodel.model", &model),
    ])
}

fn model_xml(objects: &[JobObject]) -> Vec<u8> {
    // A vertex takes about 50 bytes, a triangle 42, each triangle brings half a vertex.
    let n_triangles: usize = objects.iter().map(|object| object.triangles.len()).sum();
    let mut xml = Vec::with_capacity(1000 + 72 * n_triangles);
    xml.extend_from_slice(
        b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en-US\" \
          xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n<resources>\n",
    );
    for (index, object) in objects.iter().enumerate() {
        write_object(&mut xml, index + 1, object);
    }
    xml.extend_from_slice(b"</resources>\n<build>\n");
    for (index, object) in objects.iter().enumerate() {
        xml.extend_from_slice(format!("<item objectid=\"{}\" transform=\"", index + 1).as_bytes());
        let m = &object.placement.0;
        for column in 0..4 {
            for row in 0..3 {
                if column + row > 0 {
                    xml.push(b' ');
                }
                xml.extend_from_slice(transform_number(m[row * 4 + column]).as_bytes());
            }
        }
        xml.extend_from_slice(b"\" partnumber=\"");
        xml.extend_from_slice(attribute(object.part_number).as_bytes());
        xml.extend_from_slice(b"\"/>\n");
    }
    xml.extend_from_slice(b"</build>\n</model>\n");
    xml
}

fn write_object(xml: &mut Vec<u8>, id: usize, object: &JobObject) {
    let (name, part_number) = (attribute(object.name), attribute(object.part_number));
    xml.extend_from_slice(
        format!("<object id=\"{id}\" type=\"model\" name=\"{name}\" partnumber=\"{part_number}\">\n<mesh>\n<vertices>\n").as_bytes(),
    );
    for point in object.points_mm {
        for (key, &value) in [&b"<vertex x=\""[..], b"\" y=\"", b"\" z=\""].iter().zip(point) {
            xml.extend_from_slice(key);
            push_coordinate(xml, value);
        }
        xml.extend_from_slice(b"\"/>\n");
    }
    xml.extend_from_slice(b"</vertices>\n<triangles>\n");
    for triangle in object.triangles {
        for (key, &index) in [&b"<triangle v1=\""[..], b"\" v2=\"", b"\" v3=\""].iter().zip(triangle) {
            xml.extend_from_slice(key);
            push_integer(xml, u64::from(index));
        }
        xml.extend_from_slice(b"\"/>\n");
    }
    xml.extend_from_slice(b"</triangles>\n</mesh>\n</object>\n");
}

/// A coordinate in mm to six decimals, in plain decimal, which every reader takes. Within 5e-7 mm
/// of the value: half a grid step is 1.2e-4.
fn push_coordinate(xml: &mut Vec<u8>, value: f64) {
    const SCALE: f64 = 1e6;
    let scaled = (value * SCALE).round();
    // Beyond any bed the plain formatter does; the cast below would saturate.
    if scaled.abs() >= 9e15 {
        xml.extend_from_slice(format!("{value}").as_bytes());
        return;
    }
    let micro = scaled as i64;
    if micro < 0 {
        xml.push(b'-');
    }
    let (whole, fraction) = (micro.unsigned_abs() / 1_000_000, micro.unsigned_abs() % 1_000_000);
    push_integer(xml, whole);
    if fraction == 0 {
        return;
    }
    xml.push(b'.');
    let mut digits = [b'0'; 6];
    let mut left = fraction;
    for digit in digits.iter_mut().rev() {
        *digit = b'0' + (left % 10) as u8;
        left /= 10;
    }
    let kept = digits.iter().rposition(|&d| d != b'0').map_or(0, |last| last + 1);
    xml.extend_from_slice(&digits[..kept]);
}

fn push_integer(xml: &mut Vec<u8>, value: u64) {
    let mut digits = [0u8; 20];
    let mut at = digits.len();
    let mut left = value;
    loop {
        at -= 1;
        digits[at] = b'0' + (left % 10) as u8;
        left /= 10;
        if left == 0 {
            break;
        }
    }
    xml.extend_from_slice(&digits[at..]);
}

/// A transform's number to nine decimals: an error of 5e-10 over 4 m moves a point by 2e-6 mm.
fn transform_number(value: f64) -> String {
    let text = format!("{value:.9}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Text for an attribute; what XML cannot hold is left out.
fn attribute(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => {}
            c => escaped.push(c),
        }
    }
    escaped
}
