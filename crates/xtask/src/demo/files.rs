//! The bytes of the demo files: 3MF, binary PLY and binary STL, the same on every machine.
//!
//! Coordinates are whole hundredths of a mm (`shape.rs`). The packing is done by `miniz_oxide`,
//! whose result does not depend on the processor; dates in the archive are the earliest it can hold.
//! Source: "3MF Core Specification" 1.3; "PKZIP application note" 6.3 (both from memory).
//! Not here: the product's own writers (crate mesh); these files must not change when those do.

use super::mesher::Mesh;
use super::shape::{STEPS_PER_MM, normal_of};
use std::fmt::Write;

/// A 3MF archive with one object.
pub fn three_mf(mesh: &Mesh, name: &str) -> Vec<u8> {
    let mut model = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en-US\" \
         xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n<resources>\n",
    );
    // Writing to a String cannot fail, so the results are dropped.
    let _ = writeln!(model, "<object id=\"1\" type=\"model\" name=\"{name}\">\n<mesh>\n<vertices>");
    for &point in &mesh.points {
        let [x, y, z] = point.map(decimal);
        let _ = writeln!(model, "<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>");
    }
    model.push_str("</vertices>\n<triangles>\n");
    for [a, b, c] in &mesh.triangles {
        let _ = writeln!(model, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
    }
    model.push_str("</triangles>\n</mesh>\n</object>\n</resources>\n<build>\n<item objectid=\"1\"/>\n</build>\n</model>\n");
    const TYPES: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
        <Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
        <Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
        <Default Extension=\"model\" ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>\n";
    const RELATIONS: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
        <Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
        <Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" \
        Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>\n";
    archive(&[
        ("[Content_Types].xml", TYPES.as_bytes()),
        ("_rels/.rels", RELATIONS.as_bytes()),
        ("3D/3dmodel.model", model.as_bytes()),
    ])
}

/// Whole hundredths as a decimal number without needless zeros.
fn decimal(mm: f64) -> String {
    let steps = (mm * STEPS_PER_MM).round() as i64;
    let text = format!("{}{}.{:02}", if steps < 0 { "-" } else { "" }, steps.abs() / 100, steps.abs() % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A zip archive of deflated entries.
fn archive(entries: &[(&str, &[u8])]) -> Vec<u8> {
    const BEST: u8 = 9;
    let (mut bytes, mut list) = (Vec::new(), Vec::new());
    for (name, content) in entries {
        let packed = miniz_oxide::deflate::compress_to_vec(content, BEST);
        let mut head = Vec::new();
        // Version 2.0, no flags, deflate, midnight on 1 January 1980.
        [20u16, 0, 8, 0, 0x21].iter().for_each(|n| head.extend(n.to_le_bytes()));
        [crc32(content), packed.len() as u32, content.len() as u32]
            .iter()
            .for_each(|n| head.extend(n.to_le_bytes()));
        [name.len() as u16, 0].iter().for_each(|n| head.extend(n.to_le_bytes()));
        list.extend(b"PK\x01\x02\x14\x00");
        list.extend(&head);
        list.extend([0; 10]); // no comment, disk 0, no attributes
        list.extend((bytes.len() as u32).to_le_bytes());
        list.extend(name.as_bytes());
        bytes.extend(b"PK\x03\x04");
        bytes.extend(&head);
        bytes.extend(name.as_bytes());
        bytes.extend(&packed);
    }
    let (start, n) = (bytes.len() as u32, entries.len() as u16);
    let list_bytes = list.len() as u32;
    bytes.extend(list);
    bytes.extend(b"PK\x05\x06\x00\x00\x00\x00");
    [n, n].iter().for_each(|n| bytes.extend(n.to_le_bytes()));
    [list_bytes, start].iter().for_each(|n| bytes.extend(n.to_le_bytes()));
    bytes.extend([0; 2]);
    bytes
}

/// The check sum of zip archives.
fn crc32(content: &[u8]) -> u32 {
    let table: [u32; 256] = std::array::from_fn(|byte| {
        (0..8).fold(
            byte as u32,
            |value, _| if value & 1 == 1 { (value >> 1) ^ 0xedb8_8320 } else { value >> 1 },
        )
    });
    !content.iter().fold(u32::MAX, |sum, &byte| (sum >> 8) ^ table[(sum as u8 ^ byte) as usize])
}

/// A little-endian PLY with f32 coordinates.
pub fn ply(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = format!(
        "ply\nformat binary_little_endian 1.0\ncomment mm\nelement vertex {}\nproperty float x\nproperty float y\n\
         property float z\nelement face {}\nproperty list uchar uint vertex_indices\nend_header\n",
        mesh.points.len(),
        mesh.triangles.len()
    )
    .into_bytes();
    mesh.points.iter().flatten().for_each(|&mm| bytes.extend((mm as f32).to_le_bytes()));
    for triangle in &mesh.triangles {
        bytes.push(3);
        triangle.iter().for_each(|index| bytes.extend(index.to_le_bytes()));
    }
    bytes
}

/// A binary STL.
pub fn stl(mesh: &Mesh, title: &str) -> Vec<u8> {
    let mut bytes = format!("{title:<80.80}").into_bytes();
    bytes.extend((mesh.triangles.len() as u32).to_le_bytes());
    for &triangle in &mesh.triangles {
        let corners = triangle.map(|i| mesh.points[i as usize]);
        let rows = std::iter::once(normal_of(mesh, triangle)).chain(corners);
        rows.flatten().for_each(|value| bytes.extend((value as f32).to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check value of the polynomial for "123456789", from memory.
    #[test]
    fn the_check_sum_has_its_published_check_value() {
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn decimals_are_whole_hundredths_without_needless_zeros() {
        let texts = [0.0, -0.07, 12.5, -120.0, 3.21].map(decimal);
        assert_eq!(texts, ["0", "-0.07", "12.5", "-120", "3.21"]);
    }
}
