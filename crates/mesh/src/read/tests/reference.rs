//! Every file of the reference data is read with the count and box its manifest states, or refused
//! with the reason. Outcomes that differ from the manifest are listed by name with why.

use crate::model::Model;
use crate::read::{ReadOptions, read_model, read_model_with};
use crate::units;
use std::path::PathBuf;

/// The reference data, or `None` after saying that the test is skipped.
fn reference(test: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("SEAMWRIGHT_REFERENCE").map(PathBuf::from);
    if folder.is_none() {
        eprintln!("skipped: {test}: SEAMWRIGHT_REFERENCE is not set");
    }
    folder
}

/// Rows of the manifest: file, triangles, box; with the file's bytes.
fn manifest(folder: &std::path::Path) -> Vec<(String, String, String, Vec<u8>)> {
    let text = std::fs::read_to_string(folder.join("MANIFEST.tsv")).unwrap();
    let rows = text.lines().skip(1).map(|row| row.split('\t').collect::<Vec<_>>());
    rows.filter(|row| !row[0].ends_with(".json"))
        .filter_map(|row| {
            let bytes = std::fs::read(folder.join(row[0])).ok()?;
            Some((row[0].into(), row[1].into(), row.get(6).unwrap_or(&"").to_string(), bytes))
        })
        .collect()
}

fn n_triangles(model: &Model) -> usize {
    model.parts.iter().map(|part| part.triangles.len()).sum()
}

fn size(model: &Model) -> [f64; 3] {
    let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
    for part in &model.parts {
        for &corner in part.triangles.iter().flatten() {
            for axis in 0..3 {
                low[axis] = low[axis].min(part.points[corner as usize][axis]);
                high[axis] = high[axis].max(part.points[corner as usize][axis]);
            }
        }
    }
    [0, 1, 2].map(|axis| high[axis] - low[axis])
}

/// Files the manifest's reader took and this one refuses, with a word of the reason.
const REFUSED: [(&str, &str); 6] = [
    (
        "corner/3mf_mustfail/MUSTFAIL_Chapter2.3.2b_DataTypeDefinitionInXMLMarkup.3mf",
        "document type definition",
    ),
    ("corner/obj/assimp_box_UTF16BE.obj", "UTF-16"),
    ("corner/obj/assimp_number_formats.obj", "line 11: \"3.1+e2\" is not a number"),
    ("nasty/box_comma_decimals.stl", "line 4: facet 1, corner 1: \"-5,0\" has a comma"),
    ("nasty/box_inf.stl", "facet 1: x of corner 1 is infinite"),
    ("nasty/box_nan.stl", "facet 1: x of corner 1 is not a number"),
];

/// Files with another count than the manifest's, the right one, and why.
const OTHER_COUNT: [(&str, usize, &str); 2] = [
    (
        "corner/3mf_examples/assimp_production_components.3mf",
        8,
        "two parts of 4 triangles; both have id 1 in their own part, which the manifest's reader merged",
    ),
    (
        "corner/3mf_mustpass/MUSTPASS_Chapter4.1_ExplicitSupport.3mf",
        404,
        "80 triangles are an object of type support",
    ),
];

#[test]
fn every_reference_file_gives_the_triangles_and_box_of_the_manifest_or_a_reason() {
    let Some(folder) = reference("every_reference_file_gives_the_triangles_and_box_of_the_manifest") else {
        return;
    };
    let (mut n_read, mut n_refused) = (0, 0);
    for (name, expected, expected_size, bytes) in manifest(&folder) {
        let refused = REFUSED.iter().find(|(file, _)| *file == name);
        match read_model(&bytes, &name) {
            Err(error) => {
                n_refused += 1;
                let text = error.to_string();
                assert!(refused.is_some() || expected.parse::<usize>().is_err(), "{name}: {text}");
                assert!(refused.is_none_or(|(_, word)| text.contains(word)), "{name}: {text}");
            }
            Ok(model) => {
                n_read += 1;
                assert!(refused.is_none(), "{name} was read");
                if let Some((_, count, why)) = OTHER_COUNT.iter().find(|(file, ..)| *file == name) {
                    assert_eq!(n_triangles(&model), *count, "{name}: {why}");
                    continue;
                }
                // Files the manifest's reader could not load have no count to compare.
                let Ok(count) = expected.parse::<usize>() else { continue };
                assert_eq!(n_triangles(&model), count, "{name}");
                for (found, stated) in size(&model).iter().zip(expected_size.split('x')) {
                    // The manifest rounds to five digits; the jittered soup to the nominal box.
                    let stated: f64 = stated.parse().unwrap();
                    assert!(
                        (found - stated).abs() <= 1e-4 * stated.abs() + 5e-4,
                        "{name}: {found} for {stated}"
                    );
                }
            }
        }
    }
    eprintln!("read {n_read}, refused {n_refused}");
    assert!(n_read > 140, "only {n_read} files were read");
}

/// The two suites of the format's consortium.
#[test]
fn strict_mode_refuses_the_must_fail_suite_and_reads_the_must_pass_suite() {
    let Some(folder) = reference("strict_mode_refuses_the_must_fail_suite") else { return };
    let strict = ReadOptions { strict: true };
    let mut read_although_wrong = Vec::new();
    let (mut n_fail, mut n_pass) = (0, 0);
    for (name, .., bytes) in manifest(&folder) {
        if name.contains("3mf_mustpass/") {
            n_pass += 1;
            for options in [strict, ReadOptions { strict: false }] {
                let model = read_model_with(&bytes, &name, options);
                assert!(model.is_ok(), "{name} {options:?}: {}", model.unwrap_err());
            }
        } else if name.contains("3mf_mustfail/") {
            n_fail += 1;
            if read_model_with(&bytes, &name, strict).is_ok() {
                read_although_wrong.push(name);
            }
        }
    }
    eprintln!(
        "must-fail files refused: {} of {n_fail}; must-pass files read: {n_pass}",
        n_fail - read_although_wrong.len()
    );
    assert!(read_although_wrong.is_empty(), "{read_although_wrong:?}");
    assert_eq!((n_fail, n_pass), (38, 13));
}

/// Files without open edges that are no solid, with a word of the reason.
const NO_SOLID: [(&str, &str); 3] = [
    ("corner/stl/trimesh_multibody.stl", "6 triangles that face the wrong way"),
    ("nasty/sphere_fifth_flipped.stl", "1024 triangles that face the wrong way"),
    ("nasty/sphere_inside_out.stl", "faces inward"),
];

/// The grid moves a point by at most half a step an axis, so a volume changes by at most the area
/// times that diagonal, plus what is left of second order.
#[test]
fn every_closed_reference_file_becomes_a_solid_of_its_volume_and_bodies() {
    let Some(folder) = reference("every_closed_reference_file_becomes_a_solid") else { return };
    let half_step_mm = 0.5 * 3f64.sqrt() / crate::grid::STEPS_PER_MM;
    let text = std::fs::read_to_string(folder.join("MANIFEST.tsv")).unwrap();
    let mut n_solids = 0;
    for row in text.lines().skip(1).map(|row| row.split('\t').collect::<Vec<_>>()) {
        let name = row[0];
        if row.get(2) != Some(&"yes") {
            continue;
        }
        let Ok(model) = read_model(&std::fs::read(folder.join(name)).unwrap(), name) else { continue };
        let unit = units::guess_unit(units::largest_extent(&model), model.unit).unit;
        let placement = units::item_placement(&model, unit, units::Up::Z, units::Size::Scale(1.0)).unwrap();
        let found = crate::flaws::flaws(&model, &placement);
        let solid = crate::item::solid_of(&model, &placement, None);
        if let Some((_, why)) = NO_SOLID.iter().find(|(file, _)| *file == name) {
            assert!(solid.unwrap_err().to_string().contains(why), "{name}");
            assert!(found.refusal().is_some(), "{name}");
            continue;
        }
        let (solid, _) = solid.unwrap();
        n_solids += 1;
        assert!(found.closed && found.refusal().is_none(), "{name}");
        let error_mm3 = (solid.volume_mm3() - found.volume_mm3).abs();
        assert!(error_mm3 <= 1.001 * half_step_mm * found.area_mm2, "{name}: {error_mm3} mm3");
        // The manifest counts the support object of one file too.
        if !name.ends_with("ExplicitSupport.3mf") && !name.contains("production_components") {
            let n_bodies: usize = row[5].parse().unwrap();
            assert_eq!((found.n_bodies, solid.n_bodies()), (n_bodies, n_bodies), "{name}");
        }
    }
    assert!(n_solids > 100, "{n_solids}");
}
