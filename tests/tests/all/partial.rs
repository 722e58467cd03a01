//! Partial cuts of a partition: what is taken, what is refused, in which direction it joins.

use arbtest::arbitrary::Error;
use seamwright_mesh::spatial::Tree;
use seamwright_mesh::split::regions::Regions;
use seamwright_mesh::{Plane, Solid, lumps, vec3};
use seamwright_plan::audit::audit;
use seamwright_plan::job::{Budget, Options};
use seamwright_plan::records::marks::{BegunRecord, MarksRecord, SeamMark};
use seamwright_seams::cuts::{from_numbers, to_numbers};
use seamwright_seams::ground::{Ground, Wish};
use seamwright_seams::outline::Prefer;
use seamwright_seams::part::Part;
use seamwright_seams::partial::choices::choices;
use seamwright_seams::partial::joining::{Joining, joining_direction};
use seamwright_seams::partition::{NoCut, Partition};
use seamwright_seams::probe::Probing;
use seamwright_tests::drawn::on_drawn_cases;
use seamwright_tests::plans::{bed, model, options, plan};
use seamwright_tests::shapes::{self, Mesh, cells};
use std::sync::Arc;

const ANY: [f64; 2] = [f64::INFINITY, 0.0];
const UP: [f64; 3] = [0.0, 0.0, 1.0];

fn level(offset_mm: f64) -> Plane {
    Plane { normal: UP, offset_mm }
}

fn whole(mesh: &Mesh) -> Partition {
    Partition::of(vec![Arc::new(Part::uncared(shapes::solid(mesh)))])
}

/// The index of the region that holds a point.
fn at(partition: &Partition, plane: Plane, point_mm: [f64; 3]) -> usize {
    let regions = partition.regions(0, plane).expect("the plane meets the part");
    regions.region_at(point_mm, 0.01).expect("a region is there")
}

/// Cuts these regions alone.
fn cut_some(
    partition: &mut Partition,
    plane: Plane,
    chosen: &[usize],
    limits: [f64; 2],
) -> Result<(), NoCut> {
    let regions = partition.regions(0, plane).ok_or(NoCut::Rough)?;
    partition.cut_regions(0, &regions, chosen, limits, &Part::uncared)
}

fn cut(partition: &mut Partition, plane: Plane, at_mm: &[[f64; 3]]) -> Result<(), NoCut> {
    let chosen: Vec<usize> = at_mm.iter().map(|&p| at(partition, plane, p)).collect();
    cut_some(partition, plane, &chosen, ANY)
}

fn towers() -> Mesh {
    cells(&[&["#####"], &[".#.#."], &[".#.#."]], [10.0; 3])
}

#[test]
fn a_tower_cut_off_beside_another_joins_along_the_normal_and_is_made_again_to_the_bit() {
    let mut partition = whole(&towers());
    assert_eq!(cut(&mut partition, level(14.0), &[[35.0, 5.0, 14.0]]), Ok(()));
    assert_eq!((partition.n_pieces(), partition.steps.len(), partition.planes.len()), (2, 1, 1));
    assert_eq!(partition.direction(&partition.steps[0]), UP);
    assert!((partition.section_mm - 40.0).abs() < 0.01, "one tower's line: {}", partition.section_mm);
    // Then by the whole plane, a little lower: the other tower and, of the rest, the plate's corner.
    let rest = partition.steps[0].below[0];
    assert_eq!(partition.cut(rest, level(12.0), ANY, &Part::uncared), Ok(()));
    let sent = to_numbers(&partition.cuts());
    let mut again = whole(&towers());
    for cut in from_numbers(&sent).expect("cuts sent") {
        assert!(again.replay(&cut, &Part::uncared));
    }
    assert_eq!(again.pieces(), partition.pieces());
    let solids = |p: &Partition| p.parts.iter().map(|part| part.solid.clone()).collect::<Vec<Solid>>();
    assert!(solids(&again) == solids(&partition));
    assert_eq!(again.cuts(), partition.cuts());
    assert_eq!(again.outline(), partition.outline());
}

#[test]
fn what_does_not_part_or_leaves_a_crumb_is_refused_and_nothing_is_changed() {
    let ring = shapes::torus(60.0, 15.0, 64, 24);
    let across = Plane { normal: [0.0, 1.0, 0.0], offset_mm: 3.0 };
    let mut partition = whole(&ring);
    assert_eq!(cut(&mut partition, across, &[[60.0, 3.0, 0.0]]), Err(NoCut::Holds));
    assert_eq!(cut(&mut partition, across, &[]), Err(NoCut::Holds));
    let far = Plane { normal: [0.0, 1.0, 0.0], offset_mm: 300.0 };
    assert_eq!(cut_some(&mut partition, far, &[0], ANY), Err(NoCut::Rough));
    assert_eq!((partition.n_pieces(), partition.planes.len(), partition.section_mm), (1, 0, 0.0));
    let mut partition = whole(&towers());
    let chosen = [at(&partition, level(29.95), [15.0, 5.0, 29.95])];
    let refused = cut_some(&mut partition, level(29.95), &chosen, [0.1, 8.0]);
    assert_eq!(refused, Err(NoCut::Crumb), "10 x 10 x 0.05 mm");
    assert_eq!((partition.n_pieces(), partition.planes.len()), (1, 0));
}

/// A dumbbell that stands on a plate through a hole, smaller than its knobs, of a bridge on legs.
fn dumbbell() -> Mesh {
    let full = ["#########"; 9];
    let row = |middle: &'static str, around: &'static str, reach: usize| -> Vec<&'static str> {
        let beside = |r: usize| (4 - reach..=4 + reach).contains(&r);
        (0..9)
            .map(|r| {
                if r == 4 {
                    middle
                } else if beside(r) {
                    around
                } else {
                    "........."
                }
            })
            .collect()
    };
    let stem = row("#...#...#", ".........", 0);
    let low_knob = row("#.#####.#", "..#####..", 2);
    let mut bridge = full.to_vec();
    (bridge[3], bridge[4], bridge[5]) = ("###...###", "###.#.###", "###...###");
    let (free, knob) = (row("....#....", ".........", 0), row("..#####..", "..#####..", 2));
    cells(&[&full, &stem, &low_knob, &stem, &bridge, &free, &knob], [4.0; 3])
}

#[test]
fn a_dumbbell_caught_in_a_hole_cannot_be_cut_off_at_its_foot_or_the_bridge_at_its_legs() {
    let plane = level(6.0);
    let (foot, legs) = ([18.0, 18.0, 6.0], [[2.0, 18.0, 6.0], [34.0, 18.0, 6.0]]);
    let mut partition = whole(&dumbbell());
    assert_eq!(cut(&mut partition, plane, &[foot]), Err(NoCut::Locked));
    assert_eq!(cut(&mut partition, plane, &legs), Err(NoCut::Locked));
    assert_eq!(cut(&mut partition, plane, &legs[..1]), Err(NoCut::Holds));
    assert_eq!((partition.n_pieces(), partition.planes.len()), (1, 0));
    // Above the bridge the stem has nothing to hold it; the lower knob is stuck either way.
    let above = level(22.0);
    assert_eq!(partition.cut(0, above, ANY, &Part::uncared), Ok(()));
    // All regions are the whole plane, which always joins along its normal.
    let mut partition = whole(&dumbbell());
    assert_eq!(cut(&mut partition, plane, &[foot, legs[0], legs[1]]), Ok(()));
    assert_eq!(partition.direction(&partition.steps[0]), UP);
    assert_eq!(partition.n_pieces(), 3);
}

#[test]
fn a_leaning_tower_under_another_comes_off_aslant() {
    let leaning = shapes::mapped(
        cells(&[&["######"], &[".#.#.."], &[".#.#.."], &[".#.#.."]], [10.0; 3]),
        |[x, y, z]| [x + 0.6 * (z - 10.0).max(0.0), y, z],
    );
    let mut partition = whole(&leaning);
    // The right one's foot is at 30 to 40 mm; the left one's top reaches to 20 + 0.6 x 20 + ... = 38 mm.
    let foot = [35.0 + 0.6, 5.0, 11.0];
    let regions = partition.regions(0, level(11.0)).expect("two towers");
    let cut = regions.cut(&[regions.region_at(foot, 0.01).expect("its foot")], 1).expect("it comes off");
    let [below, above] = [cut.below, cut.above].map(|side| side.expect("both sides"));
    let mut joining = Joining::new(&[&below], &[&above], &level(11.0));
    assert!(!joining.is_free(UP), "the left one leans over it");
    let direction = joining_direction(&[&below], &[&above], &level(11.0), &[]).expect("along its lean");
    assert!(joining.is_free(direction) && direction[2] > 0.2);
    // What is below comes from where the tower leaves to: it must not lean the other way.
    assert!(direction[0] / direction[2] > 0.25, "{direction:?}");
    let hint = vec3::unit([0.6, 0.0, 1.0]).expect("it has a length");
    assert_eq!(joining_direction(&[&below], &[&above], &level(11.0), &[hint]), Some(hint));
    let chosen = [at(&partition, level(11.0), foot)];
    assert_eq!(cut_some(&mut partition, level(11.0), &chosen, ANY), Ok(()));
    assert_eq!(partition.direction(&partition.steps[0]), direction);
}

#[test]
fn the_choices_of_a_section_are_its_bridges_pairs_and_what_is_round_a_lump() {
    let found = |mesh: &Mesh, plane: Plane| {
        let solid = shapes::solid(mesh);
        let regions = Regions::of(&solid, &plane).expect("the plane meets it");
        let points: Vec<f64> = regions.list().iter().map(|region| region.inside_mm[0]).collect();
        let named = |choice: &Vec<usize>| {
            let mut at: Vec<i64> = choice.iter().map(|&r| points[r] as i64 / 10).collect();
            at.sort_unstable();
            at
        };
        let mut all: Vec<Vec<i64>> = choices(&regions).iter().map(|choice| named(&choice.regions)).collect();
        all.sort();
        all
    };
    // Two towers: either. A ring of cells: nothing but the whole plane.
    assert_eq!(found(&towers(), level(14.0)), [vec![1], vec![3]]);
    let ring = cells(&[&["###"], &["#.#"], &["###"]], [10.0; 3]);
    assert_eq!(found(&ring, level(14.0)), Vec::<Vec<i64>>::new());
    // A gate beside a post: the post, the gate's two legs; each with the other is the whole plane or
    // two of these.
    let gate = cells(&[&["#######"], &["#.#.#.#"], &["###.#.#"]], [10.0; 3]);
    assert_eq!(found(&gate, level(14.0)), [vec![0, 2], vec![4], vec![6]]);
    // A table on three legs is cut at all of them or not at all; the post beside it alone or they are.
    let table = cells(&[&["#######"], &["#.#.#.#"], &["#####.#"]], [10.0; 3]);
    assert_eq!(found(&table, level(14.0)), [vec![0, 2, 4], vec![6]]);
}

#[test]
fn a_choice_is_found_again_on_a_finer_mesh_and_beside_a_film() {
    let balls = |n_rows: usize| {
        let ball =
            |x: f64| shapes::mapped(shapes::sphere(20.0, n_rows), move |p| [p[0] + x, p[1], p[2] + 15.0]);
        let plate = shapes::cuboid([-60.0, -20.0, -10.0], [60.0, 20.0, 0.0], 2);
        shapes::together(shapes::together(ball(-30.0), ball(30.0)), plate)
    };
    let coarse = whole(&balls(10));
    let regions = coarse.regions(0, level(12.0)).expect("two balls");
    let inside = regions.list().iter().map(|region| region.inside_mm).find(|p| p[0] > 0.0);
    let mut fine = whole(&balls(40));
    let inside = [inside.expect("the right ball")];
    assert_eq!(fine.cut_inside_near(0, level(12.0), &inside, &Part::uncared), Ok(()));
    let right = &fine.parts[fine.steps[0].above[0]];
    assert!(right.box_mm.0[0] > 5.0, "{:?}", right.box_mm);
    // 0.01 mm under a tower's top the plane would leave a film: it is moved down, 0.05 mm is not enough.
    let mut partition = whole(&towers());
    assert_eq!(partition.cut_inside_near(0, level(29.99), &[[15.0, 5.0, 29.99]], &Part::uncared), Ok(()));
    assert!((partition.planes[0].offset_mm - 29.74).abs() < 1e-9, "{:?}", partition.planes);
}

/// Whether, on lines along `direction`, something of `below` lies more than 0.05 mm ahead of something of
/// `above`: looked for by rays on a grid of lines.
fn is_met(below: &[Solid], above: &[Solid], direction: [f64; 3], n_lines: usize) -> bool {
    let (u, v) = vec3::frame_of(direction);
    let tree = |solids: &[Solid]| {
        let (mut points, mut triangles) = (Vec::new(), Vec::new());
        for solid in solids {
            let first = points.len() as u32;
            points.extend(solid.points_mm());
            triangles.extend(solid.triangles().iter().map(|t| t.map(|i| first + i)));
        }
        Tree::new(points, triangles).expect("a side has triangles")
    };
    let (low, high) = (tree(below), tree(above));
    let across = below.iter().flat_map(|solid| solid.points_mm()).map(|p| [vec3::dot(u, p), vec3::dot(v, p)]);
    let (least, most) = across.fold(([f64::MAX; 2], [f64::MIN; 2]), |(low, high), p| {
        ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
    });
    (0..n_lines * n_lines).any(|k| {
        let share = [k % n_lines, k / n_lines].map(|i| (i as f64 + 0.4137) / n_lines as f64);
        let at: [f64; 2] = std::array::from_fn(|i| least[i] + share[i] * (most[i] - least[i]));
        let start = vec3::add(
            vec3::add(vec3::scale(u, at[0]), vec3::scale(v, at[1])),
            vec3::scale(direction, -500.0),
        );
        let farthest = low.all_hits(start, direction).last().map(|hit| hit.distance_mm);
        let nearest = high.all_hits(start, direction).first().map(|hit| hit.distance_mm);
        farthest.zip(nearest).is_some_and(|(low, high)| low > high + 0.05)
    })
}

#[test]
fn what_is_in_the_way_of_a_direction_is_what_rays_meet_on_it() {
    let (mut n_free, mut n_blocked, mut n_seen) = (0, 0, 0);
    on_drawn_cases(150, |u| {
        let n = 6;
        let bits = (0..n * n * n).map(|_| Ok(u.int_in_range(0..=9)? < 4)).collect::<Result<_, Error>>()?;
        let mesh = shapes::clump(bits, n);
        let Ok((solid, _)) = Solid::from_triangles(&mesh.0, &mesh.1) else { return Ok(()) };
        let order = |a: &Solid, b: &Solid| a.volume_mm3().total_cmp(&b.volume_mm3());
        let largest = lumps::lumps(solid).into_iter().max_by(order).expect("a clump has a lump");
        for _ in 0..3 {
            let normal: [f64; 3] = std::array::from_fn(|_| f64::from(u.int_in_range(-9..=9).unwrap_or(1)));
            let middle = std::array::from_fn(|_| f64::from(u.int_in_range(15..=40).unwrap_or(27)) + 0.3);
            let Some(plane) = Plane::through(middle, normal) else { return Ok(()) };
            let Some(regions) = Regions::of(&largest, &plane) else { return Ok(()) };
            for choice in choices(&regions) {
                let Ok(cut) = regions.cut(&choice.regions, 1) else { continue };
                let sides = [cut.below, cut.above].map(|side| lumps::lumps(side.expect("both sides")));
                let [below, above] = &sides;
                assert_eq!([below.len(), above.len()], [choice.below.len(), choice.above.len()]);
                let [low, high] = [below, above].map(|side| side.iter().collect::<Vec<&Solid>>());
                if let Some(direction) = joining_direction(&low, &high, &plane, &[]) {
                    assert!(vec3::dot(direction, plane.normal) > 0.2);
                    assert!((vec3::length(direction) - 1.0).abs() < 1e-12);
                    assert!(!is_met(below, above, direction, 40), "met along {direction:?}");
                }
                let mut joining = Joining::new(&low, &high, &plane);
                let (u, v) = vec3::frame_of(plane.normal);
                for [aside_u, aside_v] in [[0.0, 0.0], [0.5, 0.0], [-0.5, 0.0], [0.0, 0.9], [0.0, -2.0]] {
                    let aside = vec3::add(vec3::scale(u, aside_u), vec3::scale(v, aside_v));
                    let direction = vec3::unit(vec3::add(plane.normal, aside)).expect("it has a length");
                    let is_free = joining.is_free(direction);
                    let met_by = |n_lines: usize| is_met(below, above, direction, n_lines);
                    let is_met = met_by(40) || (!is_free && met_by(250));
                    assert!(!(is_free && is_met), "met along {direction:?}");
                    n_free += usize::from(is_free);
                    n_blocked += usize::from(!is_free);
                    n_seen += usize::from(is_met);
                }
            }
        }
        Ok(())
    });
    let all = format!("{n_free} free, {n_blocked} in the way, {n_seen} seen so");
    // What is found in the way is there for rays too, but for corners between them.
    assert!(n_free > 500 && n_blocked > 200 && 100 * n_seen >= 95 * n_blocked, "{all}");
}

/// Two blocks of 90 x 90 x 50 mm joined by a neck, with fingers of either between those of the other: every plane
/// that parts the neck and leaves two sides that fit chips off fingertips.
fn between_fingers() -> Mesh {
    let [block, low, both, high] = ["#########", "#...#...#", "#.#.#.#.#", "..#.#.#.."].map(|row| [row; 9]);
    let layers: Vec<[&str; 9]> = [(block, 5), (low, 1), (both, 4), (high, 1), (block, 5)]
        .into_iter()
        .flat_map(|(layer, n)| std::iter::repeat_n(layer, n))
        .collect();
    cells(&layers.iter().map(|layer| &layer[..]).collect::<Vec<_>>(), [10.0; 3])
}

#[test]
fn a_neck_between_fingers_is_cut_alone_where_whole_planes_take_more_pieces() {
    let options = Options { prefer: Prefer::Fewest, ..options(&[bed("110x110x110", 5.0)], 2) };
    let made = plan(&[model("fingers", &between_fingers())], &options);
    let record = &made.plan;
    assert!(audit(&made.folder).ok());
    assert_eq!((record.pieces.len(), record.bounds[0].pieces_at_least, record.totals.held), (2, 2, 0));
    // The neck alone: 10 x 90 mm.
    assert_eq!(record.seams.len(), 1);
    let seam = &record.seams[0];
    assert!((seam.line_mm - 200.0).abs() < 25.0, "{} mm", seam.line_mm);

    // As a seam that stays, and as one to begin with, it is cut so again: without a round of search, and the
    // fingers beside it stay whole.
    let neck = SeamMark {
        inside_mm: vec![[45.0, 45.0, 80.0]],
        ..SeamMark::new(seam.plane, seam.at_mm.expect("a place on its line"))
    };
    let size_mm = [90.0, 90.0, 160.0];
    let mut kept = model("fingers", &between_fingers());
    kept.settings.marks = MarksRecord { size_mm, locked: vec![neck.clone()], ..MarksRecord::default() };
    let mut begun = model("fingers", &between_fingers());
    begun.settings.begun = BegunRecord { size_mm, cuts: vec![neck] };
    for (input, effort) in [(kept, 1), (begun, 0)] {
        let options = Options { budget: Budget::Effort(effort), ..options.clone() };
        let again = plan(&[input], &options);
        assert!(audit(&again.folder).ok());
        assert_eq!((again.plan.pieces.len(), again.plan.seams.len()), (2, 1));
        assert_eq!(again.plan.seams[0].plane, seam.plane);
    }
    // Moved by hand, it is told alone.
    let wish = Wish { beds: options.beds.clone(), ..Wish::default() };
    let ground = Arc::new(Ground::new(&shapes::solid(&between_fingers()), &wish));
    let probing = Probing::new(&ground, &[], [45.0, 0.0, 20.0]).expect("it is there");
    let found = |inside_mm: &[[f64; 3]]| {
        let probed = probing.cut(level(80.0), [45.0, 0.0, 80.0], inside_mm).expect("it meets it");
        (probed.line.section_mm.round(), probed.sides.map(|side| side.len()))
    };
    assert_eq!(found(&[]), (1000.0, [3, 3]));
    assert_eq!(found(&[[45.0, 45.0, 80.0]]), (200.0, [1, 1]));
}

#[test]
fn a_line_is_told_where_the_cut_was_moved_to() {
    // At 29.95 mm a film of 5 mm3 would be left of a tower: the cut is made 0.05 mm lower.
    let wish = Wish { beds: vec![bed("180x180x180", 5.0)], ..Wish::default() };
    let ground = Arc::new(Ground::new(&shapes::solid(&towers()), &wish));
    let probing = Probing::new(&ground, &[], [15.0, 0.0, 20.0]).expect("it is there");
    let probed = probing.cut(level(29.95), [15.0, 0.0, 29.95], &[[15.0, 5.0, 29.95]]).expect("it meets one");
    assert!((probed.line.section_mm - 40.0).abs() < 0.1, "{} mm round one tower", probed.line.section_mm);
    assert!(!probed.segments_mm.is_empty());
    assert!(probed.segments_mm.iter().flatten().all(|p| (p[2] - 29.9).abs() < 1e-3 && p[0] < 21.0));
}
