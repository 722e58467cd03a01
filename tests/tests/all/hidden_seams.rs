//! Planted places for seams: hollows that a cut can follow, and bands of relief that it need not cross, judged by
//! the lines of the finished plan and by the equation of what was planted; and every plane of a close net as a measure
//! of how near the cheapest seam the search comes. What the search weighs is held against measured lines too.

use seamwright_mesh::split::split;
use seamwright_mesh::{Plane, vec3};
use seamwright_plan::item::read_item;
use seamwright_plan::job::{ItemSettings, ModelInput};
use seamwright_plan::records::{Plan, Seam};
use seamwright_seams::frames;
use seamwright_seams::ground::{Ground, Wish};
use seamwright_seams::lines::{SeamMeasure, measure_seams};
use seamwright_seams::outline::{DETAIL_TIMES, HIDDEN_MIN_PER_MM, HOLLOW_SAVES, Prefer, VISIBLE_MIN_PER_MM};
use seamwright_seams::part::Look;
use seamwright_seams::patches::{InnerRule, SkinMap};
use seamwright_tests::folders::box_of;
use seamwright_tests::plans::{bed, model, options, plan};
use seamwright_tests::shapes::{Mesh, mapped, refined, solid, turned};

/// Radius and length of the bar. On a bed of 170 x 170 x 175 mm it needs two pieces, cut some 20 mm about its middle.
const BAR_MM: [f64; 2] = [40.0, 300.0];

/// A bar standing on its end, cut into facets `step_mm` apart along it and `n_around` around it, its skin moved
/// outward as `out_mm` says of a turn in radians and a height.
fn bar_of(length_mm: f64, step_mm: f64, n_around: usize, out_mm: impl Fn(f64, f64) -> f64) -> Mesh {
    let radius_mm = BAR_MM[0];
    let side = refined(&[[radius_mm, 0.0], [radius_mm, length_mm]], step_mm);
    let mut profile = vec![[0.0, 0.0]];
    profile.extend(side.into_iter().take_while(|p| p[1] < length_mm));
    profile.extend([[radius_mm, length_mm], [0.0, length_mm]]);
    mapped(turned(&profile, n_around), |[x, y, z]| {
        let factor = 1.0 + out_mm(libm::atan2(y, x), z) / radius_mm;
        [x * factor, y * factor, z]
    })
}

/// The bar, fine enough for grooves and waves of some mm.
fn bar(out_mm: impl Fn(f64, f64) -> f64) -> Mesh {
    bar_of(BAR_MM[1], 1.0, 180, out_mm)
}

/// A groove 6 mm wide and 3 deep whose bottom is as far off as `off_mm` says.
fn groove_mm(off_mm: f64) -> f64 {
    -(3.0 - off_mm.abs()).max(0.0)
}

fn planned(mesh: &Mesh, prefer: Prefer) -> Plan {
    let mut asked = options(&[bed("180x180x180", 5.0)], 2);
    asked.prefer = prefer;
    plan(&[model("bar", mesh)], &asked).plan
}

fn only_seam(plan: &Plan) -> &Seam {
    assert_eq!((plan.pieces.len(), plan.seams.len()), (2, 1), "two pieces and what joins them");
    &plan.seams[0]
}

#[test]
fn a_groove_that_a_cut_can_follow_is_followed() {
    // One within reach of the cut, one not.
    let mesh = bar(|_, z| groove_mm(z - 142.0) + groove_mm(z - 60.0));
    for prefer in [Prefer::Balanced, Prefer::Fewest, Prefer::Hidden] {
        let plan = planned(&mesh, prefer);
        let seam = only_seam(&plan);
        let share = seam.in_hollow_mm / seam.visible_mm;
        assert!(share > 0.9, "{prefer:?}: {share} of the line in the groove, {:?}", seam.plane);
    }
}

#[test]
fn a_slanted_groove_is_found_with_its_slant() {
    for slant in [0.15, 0.3] {
        let mesh = bar(|turn_rad, z| {
            let x = (BAR_MM[0] - 3.0) * libm::cos(turn_rad);
            groove_mm((z - 151.0 - slant * x) / libm::sqrt(1.0 + slant * slant))
        });
        let plan = planned(&mesh, Prefer::Balanced);
        let seam = only_seam(&plan);
        let share = seam.in_hollow_mm / seam.visible_mm;
        assert!(share > 0.8, "slant {slant}: {share} of the line in the groove, {:?}", seam.plane);
    }
}

#[test]
fn an_item_that_mirrors_itself_is_cut_in_both_of_its_grooves() {
    // Three pieces, the outer two alike, left and right: a slanted groove and its like on the other side.
    let (length_mm, off_mm, slant) = (420.0, 72.0, 0.2);
    let mesh = bar_of(length_mm, 1.0, 180, |turn_rad, z| {
        let x = (BAR_MM[0] - 3.0) * libm::cos(turn_rad);
        let from_groove_mm = (z - length_mm / 2.0).abs() - off_mm - slant * x;
        groove_mm(from_groove_mm / libm::sqrt(1.0 + slant * slant))
    });
    let plan = planned(&mesh, Prefer::Fewest);
    assert_eq!((plan.pieces.len(), plan.seams.len()), (3, 2), "three pieces in a row");
    for seam in &plan.seams {
        let share = seam.in_hollow_mm / seam.visible_mm;
        assert!(share > 0.8, "{share} of the line in the groove, {:?}", seam.plane);
    }
    let mut volumes_mm3: Vec<f64> = plan.pieces.iter().map(|piece| piece.volume_mm3).collect();
    volumes_mm3.sort_by(f64::total_cmp);
    // Both outer pieces are the shorter.
    assert!(volumes_mm3[1] / volumes_mm3[0] < 1.01 && volumes_mm3[2] > volumes_mm3[1], "{volumes_mm3:?}");
}

#[test]
fn a_band_of_relief_is_not_crossed_where_there_is_room_beside_it() {
    // Waves 4 mm apart and 3 mm high round the bar: a line over them climbs all the way.
    let is_relief = |z: f64| (134.0..158.0).contains(&z);
    let mesh = bar(|turn_rad, z| if is_relief(z) { 1.5 * libm::sin(60.0 * turn_rad) } else { 0.0 });
    for prefer in [Prefer::Balanced, Prefer::Fewest, Prefer::Hidden] {
        let plan = planned(&mesh, prefer);
        let seam = only_seam(&plan);
        assert_eq!(seam.through_detail_mm, 0.0, "{prefer:?}: {:?}", seam.plane);
        // The line crosses heights within the radius times the slant of its plane about its middle.
        let [x, y, z] = seam.plane.normal;
        let (middle_mm, reach_mm) = (seam.plane.offset_mm / z, BAR_MM[0] * libm::hypot(x, y) / z.abs());
        let crossed = [middle_mm - reach_mm, middle_mm, middle_mm + reach_mm].map(is_relief);
        assert_eq!(crossed, [false; 3], "{prefer:?}: {:?}", seam.plane);
    }
}

#[test]
fn no_plane_of_a_close_net_makes_a_much_cheaper_plan_of_two_pieces() {
    // A knobbly bar, coarse enough to be cut many thousand times.
    let out_mm = |turn_rad: f64, z: f64| {
        let waves = libm::sin(0.05 * z + 2.0 * turn_rad) + libm::cos(0.11 * z - 3.0 * turn_rad);
        4.0 * waves - 10.0 * libm::sin(0.021 * z)
    };
    let mesh = bar_of(BAR_MM[1], 6.0, 40, out_mm);
    let plan = planned(&mesh, Prefer::Balanced);
    let cut = only_seam(&plan).plane;
    // The item begins at the origin of its own coordinates.
    let [x, y, z] = box_of(&mesh.0).0;
    let item = solid(&mapped(mesh, |p| [p[0] - x, p[1] - y, p[2] - z]));
    let wish = Wish { beds: vec![bed("180x180x180", 5.0)], ..Wish::default() };
    let ground = Ground::new(&item, &wish);
    let whole = &ground.whole.parts[0].solid;
    let cost_mm = |plane: &Plane| ground.line(whole, plane).cost_mm;
    let found_mm = cost_mm(&Plane { normal: cut.normal, offset_mm: cut.offset_mm });
    let points_mm = whole.points_mm();
    let (mut least_mm, mut n_looked_at) = (found_mm, 0);
    for normal in frames::half_sphere(200) {
        let along = points_mm.iter().map(|&p| vec3::dot(normal, p));
        let [low, high] = along.fold([f64::MAX, f64::MIN], |[l, h], c| [l.min(c), h.max(c)]);
        for step in 1..((high - low) / 3.0) as usize {
            let plane = Plane { normal, offset_mm: low + 3.0 * step as f64 };
            n_looked_at += 1;
            // Only what is cheaper need be cut.
            let cost_mm = cost_mm(&plane);
            if cost_mm >= least_mm {
                continue;
            }
            let mut partition = ground.whole.clone();
            let is_cut = partition.cut_near(0, plane, &|solid| ground.look(solid)).is_ok();
            if is_cut && partition.n_pieces() == 2 && partition.all_fit() && partition.n_held() == 0 {
                least_mm = cost_mm;
            }
        }
    }
    assert!(n_looked_at > 10_000, "{n_looked_at} planes");
    let gap = found_mm / least_mm - 1.0;
    assert!(gap < 0.03, "the search's line costs {found_mm} mm, one of {n_looked_at} planes {least_mm} mm");
}

#[test]
fn what_the_search_weighs_agrees_with_the_minutes_of_measured_lines() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-meshes/pauldron.3mf");
    let role = Some("pauldron".to_owned());
    let bytes = std::fs::read(file).expect("a demo item");
    let settings = ItemSettings { role: role.clone(), ..ItemSettings::default() };
    let item = read_item(&ModelInput { name: file.into(), bytes, settings }).expect("it can be read").solid;
    let skin = SkinMap::with_rule(&item, &InnerRule::of_role(role.as_deref(), &item));
    let ground = Ground::new(&item, &Wish { beds: vec![bed("180x180x180", 5.0)], role, ..Wish::default() });
    let stand_in = ground.stand_in().expect("a fine mesh has one");
    let points_mm = item.points_mm();
    let (mut minutes, mut weighed) = (Vec::new(), [Vec::new(), Vec::new()]);
    for normal in frames::half_sphere(30) {
        let along = points_mm.iter().map(|&p| vec3::dot(normal, p));
        let [low, high] = along.fold([f64::MAX, f64::MIN], |[l, h], c| [l.min(c), h.max(c)]);
        for part in 1..4 {
            let plane = Plane { normal, offset_mm: low + (high - low) * f64::from(part) / 4.0 };
            let halves = split(&item, &plane, 1);
            let (Some(below), Some(above)) = (halves.below, halves.above) else { continue };
            let seams = measure_seams(&item, &skin, &[&below, &above], &[plane]);
            let sum = |of: fn(&SeamMeasure) -> f64| seams.iter().map(of).sum::<f64>();
            let shown_mm = sum(|s| s.visible_mm) + DETAIL_TIMES * sum(|s| s.through_detail_mm)
                - HOLLOW_SAVES * sum(|s| s.in_hollow_mm);
            let hidden_mm = sum(|s| s.line_mm - s.visible_mm);
            minutes.push(VISIBLE_MIN_PER_MM * shown_mm + HIDDEN_MIN_PER_MM * hidden_mm);
            weighed[0].push(ground.line(&item, &plane).cost_mm);
            weighed[1].push(stand_in.line(&stand_in.whole.parts[0].solid, &plane).cost_mm);
        }
    }
    assert!(minutes.len() > 80, "{} planes", minutes.len());
    for (what, costs_mm) in ["item", "stand-in"].into_iter().zip(&weighed) {
        let agrees = correlation(&minutes, costs_mm);
        assert!(agrees > 0.9, "on the {what} the correlation is {agrees}");
        let ratio = VISIBLE_MIN_PER_MM * costs_mm.iter().sum::<f64>() / minutes.iter().sum::<f64>();
        assert!((0.7..1.4).contains(&ratio), "on the {what} {ratio} of the minutes measured");
    }
}

/// Pearson's.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let sum =
        |of: fn(f64, f64) -> f64| -> f64 { a.iter().zip(b).map(|(x, y)| of(x - mean_a, y - mean_b)).sum() };
    sum(|x, y| x * y) / (sum(|x, _| x * x) * sum(|_, y| y * y)).sqrt()
}
