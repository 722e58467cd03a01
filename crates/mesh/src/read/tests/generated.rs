//! Small files made here, one trait each.

use super::{POINTS, TRIANGLES, ascii_stl, binary_stl, ply};
use crate::model::Model;
use crate::read::{Format, ReadError, format_of, read_model};

/// Corners of every triangle, so that differently indexed meshes compare.
fn corners(model: &Model) -> Vec<[[f64; 3]; 3]> {
    let of_part = |part: &crate::model::Part| -> Vec<[[f64; 3]; 3]> {
        part.triangles.iter().map(|t| t.map(|i| part.points[i as usize])).collect()
    };
    model.parts.iter().flat_map(of_part).collect()
}

fn tetrahedron() -> Vec<[[f64; 3]; 3]> {
    TRIANGLES.map(|t| t.map(|i| POINTS[i as usize])).to_vec()
}

/// Reads a file, which is the tetrahedron, and gives the codes of its notices.
fn check(bytes: &[u8], format: Format) -> Vec<&'static str> {
    assert_eq!(format_of(bytes, "").unwrap(), format);
    let model = read_model(bytes, "").unwrap();
    assert_eq!(corners(&model), tetrahedron());
    model.notices.iter().map(|notice| notice.code).collect()
}

fn refusal(bytes: &[u8], name: &str) -> String {
    read_model(bytes, name).unwrap_err().to_string()
}

#[test]
fn a_binary_stl_is_known_by_its_size_whatever_its_header_says() {
    for header in [&b""[..], b"solid exported", b"ply\n", b"OFF", b"v 0 0 0"] {
        assert_eq!(check(&binary_stl(header), Format::StlBinary), [""; 0]);
    }
    let mut longer = binary_stl(b"");
    longer.extend_from_slice(&[0; 77]);
    assert_eq!(check(&longer, Format::StlBinary), ["trailing-bytes"]);
}

#[test]
fn a_binary_stl_cut_short_names_the_facet() {
    let bytes = binary_stl(b"");
    let text = refusal(&bytes[..84 + 120], "a.stl");
    assert_eq!(
        text,
        "binary STL byte 184, facet 3: the header announces 4 facets, the file holds 2 whole ones: it is cut short"
    );
    let mut huge = bytes;
    huge[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(refusal(&huge, "a.stl").contains("announces 4294967295 facets, the file holds 4"));
    assert!(refusal(&[0; 60], "a.stl").contains("the header takes 84 bytes"));
}

#[test]
fn a_coordinate_that_is_no_number_is_refused_with_its_facet() {
    for (value, word) in [(f32::NAN, "not a number"), (f32::NEG_INFINITY, "infinite")] {
        let mut bytes = binary_stl(b"");
        // Facet 2, corner 3, y.
        let at = 84 + 50 + 12 + 4 * 7;
        bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
        assert_eq!(refusal(&bytes, ""), format!("binary STL byte {at}, facet 2: y of corner 3 is {word}"));
    }
}

#[test]
fn an_ascii_stl_reads_in_any_case_with_any_line_end() {
    for end in ["\n", "\r\n", "\r", " "] {
        for name in ["", "part one"] {
            let text = ascii_stl(name, end);
            assert_eq!(check(text.as_bytes(), Format::StlAscii), [""; 0], "{end:?} {name}");
            // Upper case as some exporters write it; exponents too.
            assert_eq!(check(text.to_ascii_uppercase().as_bytes(), Format::StlAscii), [""; 0]);
        }
    }
    let with_mark = [&b"\xEF\xBB\xBF"[..], ascii_stl("a", "\n").as_bytes()].concat();
    assert_eq!(check(&with_mark, Format::StlAscii), [""; 0]);
}

#[test]
fn several_solids_are_several_parts_with_their_names() {
    let text = ascii_stl("left hand", "\n") + &ascii_stl("right", "\r\n") + "solid empty\nendsolid\n";
    let model = read_model(text.as_bytes(), "").unwrap();
    let names: Vec<(&str, usize)> =
        model.parts.iter().map(|part| (part.name.as_str(), part.triangles.len())).collect();
    assert_eq!(names, [("left hand", 4), ("right", 4)]);
}

#[test]
fn an_ascii_stl_cut_short_names_the_line_and_the_facet() {
    let text = ascii_stl("a", "\n");
    let cut = &text[..text.find("vertex 1e1").unwrap() + 8];
    assert_eq!(
        refusal(cut.as_bytes(), ""),
        "ASCII STL line 6: the file ends inside facet 1, corner 3: it is cut short"
    );
    let whole_facets = &text[..text.rfind("endsolid").unwrap()];
    assert_eq!(check(whole_facets.as_bytes(), Format::StlAscii), ["no-endsolid"]);
}

#[test]
fn decimal_commas_are_refused_with_the_way_out() {
    let text = ascii_stl("a", "\n").replace("0.000", "0,5");
    assert_eq!(
        refusal(text.as_bytes(), ""),
        "ASCII STL line 4: facet 1, corner 1: \"0,5\" has a comma; write numbers with a decimal point (export with English number settings)"
    );
    let text = "v 0 0 0\nv 1,5 0 0\nv 0 1 0\nf 1 2 3\n";
    assert!(refusal(text.as_bytes(), "").starts_with("OBJ line 2: \"1,5\" has a comma"));
}

#[test]
fn obj_faces_read_with_textures_normals_negative_indices_and_joined_lines() {
    let text = "# made by hand\nmtllib a.mtl\nv 0 0 0\nv 10 0 0 1 0 0\nv 0 10 0\nv 0 0 10\nvt 0 0\nvn 0 0 1\n\
                g base\nf 1/1/1 3/1/1 \\\n 2//1\nf -4 -3 -1\ng sides\nusemtl b\nf 2 3 4 # comment\nf 3/1 1/1 4/1\nl 1 2\n";
    let model = read_model(text.as_bytes(), "").unwrap();
    assert_eq!(corners(&model), tetrahedron());
    let names: Vec<&str> = model.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["base", "sides"]);
    assert_eq!(model.notices[0].code, "not-polygons");
    assert_eq!(model.parts[1].points.len(), 4);
}

#[test]
fn obj_indices_out_of_range_name_their_line() {
    let start = "v 0 0 0\nv 1 0 0\nv 0 1 0\n";
    let cases = [
        ("f 1 2 4\n", "OBJ line 4: a face uses point 4, the file has 3"),
        (
            "f 0 1 2\n",
            "OBJ line 4: a face uses point 0; indices start at 1, or count back from -1 (3 points so far)",
        ),
        (
            "f -4 1 2\n",
            "OBJ line 4: a face uses point -4; indices start at 1, or count back from -1 (3 points so far)",
        ),
        ("f 1 2 x\n", "OBJ line 4: \"x\" is not a point index"),
        (
            "f 1 2 9223372036854775807\n",
            "OBJ line 4: a face uses point 9223372036854775807; indices start at 1, or count back from -1 (3 points so far)",
        ),
    ];
    for (line, message) in cases {
        assert_eq!(refusal((start.to_string() + line).as_bytes(), ""), message);
    }
}

#[test]
fn utf_16_text_is_refused_by_name() {
    let text = "solid a\nfacet normal 0 0 0\n";
    let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    assert_eq!(
        refusal(&little, "a.stl"),
        "the text is UTF-16 (little endian); save it as UTF-8 or plain ASCII"
    );
    assert_eq!(refusal(&big, "a.obj"), "the text is UTF-16 (big endian); save it as UTF-8 or plain ASCII");
    assert_eq!(
        read_model(&[&[0xFF, 0xFE], &little[..]].concat(), "").unwrap_err(),
        ReadError::Encoding { encoding: "UTF-16 (little endian)" }
    );
}

#[test]
fn a_ply_of_odd_types_reads_in_all_three_encodings() {
    for encoding in ["ascii", "binary_little_endian", "binary_big_endian"] {
        assert_eq!(check(&ply(encoding), Format::Ply), [""; 0], "{encoding}");
    }
}

#[test]
fn a_ply_cut_short_or_with_wild_counts_is_refused_with_the_row() {
    let bytes = ply("binary_big_endian");
    let text = refusal(&bytes[..bytes.len() - 1], "");
    assert!(text.contains("face 3: the file ends here, 4 were announced: it is cut short"), "{text}");
    let wild =
        String::from_utf8(ply("ascii")).unwrap().replace("element vertex 4", "element vertex 4000000000");
    assert!(
        refusal(wild.as_bytes(), "").contains("is not a number")
            || refusal(wild.as_bytes(), "").contains("cut short")
    );
    let wild = String::from_utf8(ply("ascii")).unwrap().replace("9 3 1 2 3", "9 3 1 2 4");
    assert_eq!(
        refusal(wild.as_bytes(), ""),
        "PLY line 24: face 2: uses point 4, the file has 4, numbered from 0"
    );
}

#[test]
fn ply_strips_turn_every_second_triangle() {
    let text = "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n\
                element tristrips 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n8 0 1 2 3 -1 0 1 2\n";
    let model = read_model(text.as_bytes(), "").unwrap();
    assert_eq!(model.parts[0].triangles, [[0, 1, 2], [2, 1, 3], [0, 1, 2]]);
}

#[test]
fn an_off_reads_with_comments_colours_and_counts_on_the_head_line() {
    for head in ["OFF\n4 4 6", "# c\nCOFF 4 4 0", "OFF4 4 6 # glued"] {
        let mut text = format!("{head}\n\n");
        for [x, y, z] in POINTS {
            text += &format!("{x} {y} {z} 1 0 0 1 # red\n");
        }
        for [a, b, c] in TRIANGLES {
            text += &format!("3 {a} {b} {c} 0.5 0.5 0.5\n");
        }
        assert_eq!(check(text.as_bytes(), Format::Off), [""; 0], "{head}");
    }
}

#[test]
fn files_that_are_no_models_say_so() {
    assert_eq!(read_model(b"", "a.stl").unwrap_err(), ReadError::Empty);
    assert_eq!(
        refusal(b"{\"a\": 1}", "a.json"),
        "this is not STL, OBJ, PLY, OFF or 3MF: the file starts with \"{\\\"a\\\": 1}\""
    );
    assert!(refusal(&[0x89, b'P', b'N', b'G', 13, 10, 26, 10, 0, 0], "a.png").contains("not STL"));
    assert_eq!(refusal(b"v 0 0 0\nv 1 0 0\n", "a.obj"), "the OBJ file holds no triangles, only 2 points");
}
