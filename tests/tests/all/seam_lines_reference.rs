//! Seams of the reference solids and shells, against closed forms and against themselves.

use seamwright_mesh::{Plane, Solid, lumps::lumps, read::read_model, split::split};
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::patches::{InnerRule, SkinMap};
use std::f64::consts::PI;

/// A reference model as a solid; `None`, said in one line, where there is no reference folder.
fn reference(name: &str, file: &str) -> Option<Solid> {
    let Some(folder) = std::env::var_os("SEAMWRIGHT_REFERENCE") else {
        eprintln!("skipped: {name}: SEAMWRIGHT_REFERENCE is not set");
        return None;
    };
    let bytes = std::fs::read(std::path::Path::new(&folder).join(file)).expect("the reference file is there");
    let model = read_model(&bytes, file).expect("the reference file is sound");
    let part = &model.parts[0];
    Some(Solid::from_triangles(&part.points, &part.triangles).expect("the reference model is closed").0)
}

fn plane(normal: [f64; 3], point_mm: [f64; 3]) -> Plane {
    Plane::through(point_mm, normal).expect("the normal has a length")
}

fn middle(item: &Solid) -> [f64; 3] {
    let (low, high) = item.box_mm();
    std::array::from_fn(|axis| 0.5 * (low[axis] + high[axis]))
}

fn measured(item: &Solid, skin: &SkinMap, planes: &[Plane]) -> Vec<SeamMeasure> {
    let mut pieces = vec![item.clone()];
    for (index, plane) in planes.iter().enumerate() {
        let halves = |piece: &Solid| {
            let halves = split(piece, plane, index as u32 + 1);
            [halves.below, halves.above].into_iter().flatten().flat_map(lumps).collect::<Vec<_>>()
        };
        pieces = pieces.iter().flat_map(halves).collect();
    }
    measure_seams(item, skin, &pieces.iter().collect::<Vec<_>>(), planes)
}

fn total(seams: &[SeamMeasure], value: fn(&SeamMeasure) -> f64) -> f64 {
    seams.iter().map(value).sum()
}

#[test]
fn the_reference_tube_shows_its_outer_circle_only() {
    let name = "the_reference_tube_shows_its_outer_circle_only";
    let Some(item) = reference(name, "analytic/tube_r60_wall4_h200.ply") else { return };
    let across = [plane([0.0, 0.0, 1.0], middle(&item))];
    let seams = measured(&item, &SkinMap::new(&item), &across);
    // Its facets are chords of the circles: shorter, by less than a thousandth.
    let (visible_mm, line_mm) = (total(&seams, |s| s.visible_mm), total(&seams, |s| s.line_mm));
    assert!((0.999..=1.0001).contains(&(visible_mm / (2.0 * PI * 60.0))), "{visible_mm}");
    assert!((0.999..=1.0001).contains(&(line_mm / (2.0 * PI * 116.0))), "{line_mm}");
    assert!((total(&seams, |s| s.bond_area_mm2) / (PI * 464.0) - 1.0).abs() < 2e-3);
}

#[test]
fn a_reference_helm_and_bracer_hide_about_half_of_every_cut_once_their_role_is_known() {
    let name = "a_reference_helm_and_bracer_hide_about_half_of_every_cut_once_their_role_is_known";
    for (file, role) in [("models/helmet_crested.ply", "helm"), ("models/vambrace_shell.ply", "vambrace")] {
        let Some(item) = reference(name, file) else { return };
        let skin = SkinMap::with_rule(&item, &InnerRule::of_role(Some(role), &item));
        let center = middle(&item);
        let planes = [
            plane([1.0, 0.05, 0.02], center),
            plane([0.03, 1.0, -0.07], center),
            plane([0.02, -0.04, 1.0], center),
        ];
        let together = measured(&item, &skin, &planes);
        for (index, plane) in planes.iter().enumerate() {
            let alone = measured(&item, &skin, &[*plane]);
            let of_plane: Vec<_> = together.iter().filter(|s| s.plane_index == index).cloned().collect();
            // Junctions drop patches of less than 0.05 mm2 and end a line a few grid steps early.
            let (visible_mm, expected_mm) =
                (total(&of_plane, |s| s.visible_mm), total(&alone, |s| s.visible_mm));
            assert!((visible_mm - expected_mm).abs() < 2.0, "{file}: {visible_mm} and {expected_mm}");
            let shows = expected_mm / total(&alone, |s| s.line_mm);
            assert!((0.4..=0.7).contains(&shows), "{file}, plane {index}: {shows} of the line shows");
        }
    }
}
