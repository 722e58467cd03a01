//! Tests of all readers: generated cases, mutated bytes, the reference data.

mod generated;
mod mutated;
mod packages;
mod reference;

/// Corners and faces of a tetrahedron, edge 10 along the axes, outward.
const POINTS: [[f64; 3]; 4] = [[0., 0., 0.], [10., 0., 0.], [0., 10., 0.], [0., 0., 10.]];
const TRIANGLES: [[u32; 3]; 4] = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];

/// A binary STL of the tetrahedron under this header.
fn binary_stl(header: &[u8]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, 0);
    bytes.extend_from_slice(&4u32.to_le_bytes());
    for triangle in TRIANGLES {
        bytes.extend_from_slice(&[0; 12]);
        for value in triangle.iter().flat_map(|&i| POINTS[i as usize]) {
            bytes.extend_from_slice(&(value as f32).to_le_bytes());
        }
        bytes.extend_from_slice(&[0; 2]);
    }
    bytes
}

/// An ASCII STL of the tetrahedron with this name and line end.
fn ascii_stl(name: &str, end: &str) -> String {
    let mut text = format!("solid {name}{end}");
    for triangle in TRIANGLES {
        text += &format!("facet normal 0 0 0{end}outer loop{end}");
        for [x, y, z] in triangle.map(|i| POINTS[i as usize]) {
            text += &format!("vertex {x:e} {y} {z:.3}{end}");
        }
        text += &format!("endloop{end}endfacet{end}");
    }
    text + &format!("endsolid {name}{end}")
}

/// A PLY of the tetrahedron with odd types, an extra element and extra columns.
fn ply(encoding: &str) -> Vec<u8> {
    let header = format!(
        "ply\nformat {encoding} 1.0\ncomment x\nelement edge 2\nproperty list uchar short a\nproperty char b\n\
         element vertex 4\nproperty double x\nproperty float y\nproperty uchar red\nproperty int z\n\
         element face 4\nproperty uchar flag\nproperty list ushort int vertex_index\nend_header\n"
    );
    let mut bytes = header.into_bytes();
    let big = encoding == "binary_big_endian";
    if encoding == "ascii" {
        bytes.extend_from_slice(b"2 7 8 -1\n0 5\n");
        for [x, y, z] in POINTS {
            bytes.extend_from_slice(format!("{x} {y:e} 200 {z}\n").as_bytes());
        }
        for [a, b, c] in TRIANGLES {
            bytes.extend_from_slice(format!("9 3 {a} {b} {c}\n").as_bytes());
        }
        return bytes;
    }
    let mut put = |value: &[u8]| {
        let mut value = value.to_vec();
        if big {
            value.reverse();
        }
        bytes.extend_from_slice(&value);
    };
    for value in [&[2u8][..], &7i16.to_le_bytes(), &8i16.to_le_bytes(), &[255], &[0], &[5]] {
        put(value);
    }
    for [x, y, z] in POINTS {
        for value in [&x.to_le_bytes()[..], &(y as f32).to_le_bytes(), &[200], &(z as i32).to_le_bytes()] {
            put(value);
        }
    }
    for triangle in TRIANGLES {
        put(&[9]);
        put(&3u16.to_le_bytes());
        triangle.iter().for_each(|i| put(&i.to_le_bytes()));
    }
    bytes
}

/// The model XML of a 3MF package: an object of the tetrahedron and what `rest` adds.
fn model_xml(model_attributes: &str, resources: &str, build: &str) -> String {
    let vertices: String =
        POINTS.iter().map(|[x, y, z]| format!("<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>")).collect();
    let triangles: String =
        TRIANGLES.iter().map(|[a, b, c]| format!("<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>")).collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <model xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\" {model_attributes}>\n<resources>\n\
         <object id=\"1\" name=\"tip\"><mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh></object>\n\
         {resources}\n</resources>\n<build>{build}</build>\n</model>\n"
    )
}

/// A package with this model part and further parts.
fn package(model: &[u8], further: &[(&str, &[u8])]) -> Vec<u8> {
    let types = "<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"/>";
    let relations = "<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">\
        <Relationship Id=\"a\" Target=\"/3D/3dmodel.model\" \
        Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";
    let mut parts: Vec<(&str, &[u8])> = vec![
        ("[Content_Types].xml", types.as_bytes()),
        ("_rels/.rels", relations.as_bytes()),
        ("3D/3dmodel.model", model),
    ];
    parts.extend_from_slice(further);
    crate::write::archive::archive(&parts)
}
