//! 3MF packages made here: what they may hold, and what is refused.

use super::{POINTS, model_xml, package};
use crate::model::{Model, Unit};
use crate::read::{ReadOptions, read_model, read_model_with};

const ITEM: &str = "<item objectid=\"1\"/>";

fn read(xml: &str) -> Model {
    read_model(&package(xml.as_bytes(), &[]), "").unwrap()
}

fn refusal(bytes: &[u8]) -> String {
    read_model(bytes, "").unwrap_err().to_string()
}

fn refusal_of(xml: &str) -> String {
    refusal(&package(xml.as_bytes(), &[]))
}

#[test]
fn units_names_and_transforms_of_nested_components_are_applied() {
    let resources = "<object id=\"2\" name=\"pair\"><components><component objectid=\"1\"/>\
        <component objectid=\"1\" transform=\"0 1 0 -1 0 0 0 0 1 100 0 0\"/></components></object>";
    let build = "<item objectid=\"2\" transform=\"2 0 0 0 2 0 0 0 2 0 0 7\"/>";
    let model = read(&model_xml("unit=\"inch\"", resources, build));
    assert_eq!((model.unit, model.parts.len()), (Some(Unit::Inch), 2));
    assert_eq!(model.parts[1].name, "tip");
    // Row vectors: (10, 0, 0) goes to (0, 10, 0) + (100, 0, 0), then twice that and up by 7.
    assert_eq!(model.parts[1].points[1], [200.0, 20.0, 7.0]);
    assert_eq!(model.parts[0].points[3], [0.0, 0.0, 27.0]);
}

#[test]
fn a_mirrored_item_still_faces_outward() {
    let build = "<item objectid=\"1\" transform=\"-1 0 0 0 1 0 0 0 1 0 0 0\"/>";
    let model = read(&model_xml("", "", build));
    let found = crate::flaws::flaws(&model, &crate::Placement::IDENTITY);
    assert!(found.closed && (found.volume_mm3 - 1000.0 / 6.0).abs() < 1e-9, "{}", found.volume_mm3);
    let flat = model_xml("", "", "<item objectid=\"1\" transform=\"1 0 0 0 1 0 0 0 0 0 0 0\"/>");
    assert!(refusal_of(&flat).contains("the transform flattens the object"));
}

#[test]
fn objects_in_other_model_parts_are_found_by_their_path() {
    let prefix = "xmlns:p=\"http://schemas.microsoft.com/3dmanufacturing/production/2015/06\" requiredextensions=\"p\"";
    let root =
        model_xml(prefix, "", "<item objectid=\"1\" p:path=\"/3D/other.model\"/><item objectid=\"1\"/>");
    let other = model_xml("", "", "").replace("x=\"10\"", "x=\"30\"");
    let bytes = package(root.as_bytes(), &[("3D/other.model", other.as_bytes())]);
    let model = read_model(&bytes, "").unwrap();
    assert_eq!(model.parts[0].points[1], [30.0, 0.0, 0.0]);
    assert_eq!(model.parts[1].points[1], POINTS[1]);
    assert!(refusal_of(&root).contains("3D/other.model: the package has no such part"));
}

#[test]
fn prefixed_core_elements_and_utf_16_parts_read_too() {
    let xml = model_xml("", "", ITEM);
    let prefixed =
        xml.replace("xmlns=", "xmlns:c=").replace("</", "</c:").replace("<c:", "<").replace("</", "\u{1}");
    let prefixed = prefixed.replace('<', "<c:").replace("<c:?xml", "<?xml").replace('\u{1}', "</c:");
    assert_eq!(read(&prefixed.replace("</c:c:", "</c:")).parts[0].triangles.len(), 4);
    let wide: Vec<u8> = "\u{FEFF}"
        .chars()
        .chain(xml.replace("UTF-8", "UTF-16").chars())
        .flat_map(|c| {
            let mut b = [0; 2];
            c.encode_utf16(&mut b).to_vec()
        })
        .flat_map(u16::to_le_bytes)
        .collect();
    assert_eq!(read_model(&package(&wide, &[]), "").unwrap().parts[0].triangles.len(), 4);
}

#[test]
fn entities_unknown_required_extensions_and_endless_components_are_refused() {
    let bomb = model_xml("", "", ITEM)
        .replace("<model", "<!DOCTYPE m [<!ENTITY a \"aaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;\">]>\n<model");
    assert_eq!(
        refusal_of(&bomb),
        "3MF 3D/3dmodel.model line 2: a document type definition; the format forbids it"
    );
    let required = model_xml("xmlns:q=\"http://example.org/lattice\" requiredextensions=\"q\"", "", ITEM);
    assert!(
        refusal_of(&required)
            .contains("requires the extension http://example.org/lattice, which is not read")
    );
    let endless = "<object id=\"2\"><components><component objectid=\"3\"/></components></object>\
        <object id=\"3\"><components><component objectid=\"2\"/></components></object>";
    let text = refusal_of(&model_xml("", endless, "<item objectid=\"2\"/>"));
    assert!(text.contains("components nested deeper than 32"), "{text}");
}

#[test]
fn components_that_double_at_each_level_stop_at_the_limit() {
    let mut resources = String::new();
    for id in 2..30 {
        let inner = id - 1;
        resources += &format!(
            "<object id=\"{id}\"><components><component objectid=\"{inner}\"/><component objectid=\"{inner}\"/></components></object>"
        );
    }
    let text = refusal_of(&model_xml("", &resources, "<item objectid=\"29\"/>"));
    assert!(
        text.contains("the build of the 3MF model takes") && text.contains("more than the limit of"),
        "{text}"
    );
}

#[test]
fn deep_xml_is_refused() {
    let deep = "<a>".repeat(100_000);
    assert!(refusal_of(&model_xml("", &deep, ITEM)).contains("elements nested deeper than 64"));
}

#[test]
fn a_zip_bomb_is_refused_by_what_it_declares_and_by_what_it_is() {
    // 300 MB of spaces pack a thousand times.
    let padded = model_xml("", &" ".repeat(300 << 20), ITEM);
    let honest = package(padded.as_bytes(), &[]);
    assert!(honest.len() < 2 << 20);
    let text = refusal(&honest);
    assert!(
        text.contains("3MF part 3D/3dmodel.model unpacked takes 3145")
            && text.contains("more than the limit"),
        "{text}"
    );
    // The same bytes with a size of 1000 declared in the directory.
    let mut lying = honest;
    let size = (padded.len() as u32).to_le_bytes();
    for at in lying.len() - 1000..lying.len() - 4 {
        if lying[at..at + 4] == size {
            lying[at..at + 4].copy_from_slice(&1000u32.to_le_bytes());
        }
    }
    assert!(refusal(&lying).contains("larger than the directory says"));
}

#[test]
fn damaged_archives_name_the_part_or_the_archive() {
    let bytes = package(model_xml("", "", ITEM).as_bytes(), &[]);
    assert!(refusal(&bytes[..bytes.len() - 30]).contains("no end of directory: the file is cut short"));
    let mut damaged = bytes.clone();
    let at = bytes.windows(16).position(|w| w == b"3D/3dmodel.model").unwrap() + 40;
    damaged[at] ^= 0x10;
    let text = refusal(&damaged);
    assert!(text.starts_with("3MF package, 3D/3dmodel.model: the pa"), "{text}");
    let twice = package(model_xml("", "", ITEM).as_bytes(), &[("3d/3DMODEL.model", b"<model/>")]);
    assert!(refusal(&twice).contains("two parts of this name"));
}

#[test]
fn strict_mode_also_refuses_what_leaves_the_shape_certain() {
    let strict = ReadOptions { strict: true };
    let lenient_only = [
        (model_xml("xml:space=\"default\"", "", ITEM), "xml:space"),
        (model_xml("unit=\"cubit\"", "", ITEM), "unknown unit"),
        (model_xml("", "<object id=\"2\" type=\"thing\"><mesh/></object>", ITEM), "unknown object type"),
        (model_xml("", "<wrong/>", ITEM), "unknown element"),
        (
            model_xml("", "", ITEM).replace("<build><item objectid=\"1\"/></build>", ""),
            "needs resources and a build",
        ),
        (
            model_xml("", "", ITEM).replace("v1=\"0\" v2=\"2\" v3=\"1\"", "v1=\"0\" v2=\"2\" v3=\"2\""),
            "names a vertex twice",
        ),
    ];
    for (xml, word) in lenient_only {
        let bytes = package(xml.as_bytes(), &[]);
        assert_eq!(read_model(&bytes, "").unwrap().parts[0].triangles.len(), 4, "{word}");
        let text = read_model_with(&bytes, "", strict).unwrap_err().to_string();
        assert!(text.contains(word), "{text}");
    }
}
