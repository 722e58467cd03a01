//! What a maker marks is kept to: seams that stay, seams that are not wanted, chalk, pieces printed already.
//! Judged by the planes and files of finished plans and by the equations of what was marked.

use seamwright_mesh::{Plane, vec3};
use seamwright_plan::PlanError;
use seamwright_plan::card::bed_record;
use seamwright_plan::item::read_item;
use seamwright_plan::job::{Budget, ModelInput, Options};
use seamwright_plan::make::{Made, make_plan};
use seamwright_plan::project::{Project, settings_record};
use seamwright_plan::records::marks::{BegunRecord, ChalkDab, ChalkKind, MarksRecord, SeamMark};
use seamwright_plan::records::{Plan, PlaneRecord, Seam};
use seamwright_plan::remote::keeper::Keeper;
use seamwright_plan::remote::messages::Asked;
use seamwright_plan::remote::searcher::Searcher;
use seamwright_seams::ground::Ground;
use seamwright_seams::outline::Prefer;
use seamwright_seams::probe::Probing;
use seamwright_tests::plans::{Counting, bed, model, options, plan};
use seamwright_tests::shapes::{Mesh, mapped, refined, turned};
use std::sync::Arc;

/// A round bar of 40 mm radius and 300 mm length standing on its end; its box begins at the origin, so its axis
/// stands at 40, 40. On a bed of 170 x 170 x 175 mm it needs two pieces, cut within 20 mm of its middle.
fn bar(out_mm: impl Fn(f64) -> f64) -> Mesh {
    let side = refined(&[[40.0, 0.0], [40.0, 300.0]], 2.0);
    let mut profile = vec![[0.0, 0.0]];
    profile.extend(side.into_iter().take_while(|p| p[1] < 300.0));
    profile.extend([[40.0, 300.0], [0.0, 300.0]]);
    mapped(turned(&profile, 90), |[x, y, z]| {
        let factor = 1.0 + out_mm(z) / 40.0;
        [x * factor, y * factor, z]
    })
}

fn plain() -> Mesh {
    bar(|_| 0.0)
}

const SIZE_MM: [f64; 3] = [80.0, 80.0, 300.0];

fn asked(prefer: Prefer) -> Options {
    Options { prefer, ..options(&[bed("180x180x180", 5.0)], 2) }
}

fn marked(mesh: &Mesh, marks: MarksRecord) -> ModelInput {
    let mut input = model("bar", mesh);
    input.settings.marks = marks;
    input
}

fn planned(mesh: &Mesh, prefer: Prefer, marks: MarksRecord) -> Plan {
    let made = plan(&[marked(mesh, marks)], &asked(prefer));
    assert!(made.plan.audit.as_ref().is_some_and(|audit| audit.ok), "{:?}", made.plan.audit);
    made.plan
}

fn level(offset_mm: f64) -> SeamMark {
    SeamMark::new(PlaneRecord { normal: [0.0, 0.0, 1.0], offset_mm }, [80.0, 40.0, offset_mm])
}

fn place(at_mm: Option<[f64; 3]>) -> [f64; 3] {
    at_mm.expect("a plan says where its seams and pieces are")
}

fn none() -> MarksRecord {
    MarksRecord { size_mm: SIZE_MM, ..MarksRecord::default() }
}

/// Heights between which a seam's plane meets the bar.
fn reach_mm(seam: &Seam) -> [f64; 2] {
    let PlaneRecord { normal: [x, y, z], offset_mm } = seam.plane;
    let middle_mm = (offset_mm - 40.0 * (x + y)) / z;
    let aside_mm = 40.0 * libm::hypot(x, y) / z.abs();
    [middle_mm - aside_mm, middle_mm + aside_mm]
}

fn same_plane(a: &PlaneRecord, b: &PlaneRecord) -> bool {
    let turn = vec3::dot(a.normal, b.normal).signum();
    vec3::length(vec3::sub(a.normal, vec3::scale(b.normal, turn))) < 1e-12
        && (a.offset_mm - turn * b.offset_mm).abs() < 1e-9
}

#[test]
fn a_seam_that_stays_is_in_every_plan_where_it_was_set() {
    let [x, z] = [0.1, libm::sqrt(0.99)];
    let plane = PlaneRecord { normal: [x, 0.0, z], offset_mm: 60.0 };
    let slanted = SeamMark::new(plane, [80.0, 40.0, (60.0 - 80.0 * x) / z]);
    for prefer in [Prefer::Balanced, Prefer::Fewest, Prefer::Hidden] {
        let plan = planned(&plain(), prefer, MarksRecord { locked: vec![slanted.clone()], ..none() });
        assert!(plan.seams.iter().any(|seam| same_plane(&seam.plane, &slanted.plane)), "{prefer:?}");
        // What is left above 60 mm is too long for one piece.
        assert_eq!(plan.pieces.len(), 3, "{prefer:?}");
    }
}

#[test]
fn seams_that_stay_one_on_the_other_end_where_they_ended() {
    let upright = SeamMark::new(PlaneRecord { normal: [1.0, 0.0, 0.0], offset_mm: 40.0 }, [40.0, 0.0, 40.0]);
    let plan = planned(
        &plain(),
        Prefer::Fewest,
        MarksRecord { locked: vec![level(150.0), upright.clone()], ..none() },
    );
    assert_eq!(plan.pieces.len(), 3);
    let of = |mark: &SeamMark| plan.seams.iter().filter(|seam| same_plane(&seam.plane, &mark.plane)).count();
    assert_eq!([of(&level(150.0)), of(&upright)], [2, 1]);
    let cut = plan.seams.iter().find(|seam| same_plane(&seam.plane, &upright.plane)).expect("it is there");
    assert!(place(cut.at_mm)[2] < 150.0, "{:?} lies below the other seam", cut.at_mm);
}

#[test]
fn a_seam_that_is_not_wanted_goes_elsewhere() {
    let grooved = bar(|z| -(3.0 - (z - 150.0).abs()).max(0.0));
    let free = planned(&grooved, Prefer::Balanced, none());
    let [low, high] = reach_mm(&free.seams[0]);
    assert!(low > 145.0 && high < 155.0, "the groove draws the seam: {low} to {high}");
    let unwanted = SeamMark::new(free.seams[0].plane, place(free.seams[0].at_mm));
    for prefer in [Prefer::Balanced, Prefer::Fewest, Prefer::Hidden] {
        let plan = planned(&grooved, prefer, MarksRecord { forbidden: vec![unwanted.clone()], ..none() });
        for seam in &plan.seams {
            let plane = Plane { normal: seam.plane.normal, offset_mm: seam.plane.offset_mm };
            let off_mm = plane.distance_mm(unwanted.at_mm).abs();
            let along = vec3::dot(plane.normal, unwanted.plane.normal).abs();
            assert!(off_mm >= 14.9 || along < 0.95, "{prefer:?}: {off_mm} mm off, {along} along");
        }
    }
}

#[test]
fn no_seam_leads_through_what_is_chalked_off_whatever_it_takes() {
    // A band all round and wider than the room a single seam has: from 93 to 207 mm.
    let chalk = vec![ChalkDab { kind: ChalkKind::Off, at_mm: [40.0, 40.0, 150.0], radius_mm: 70.0 }];
    for prefer in [Prefer::Balanced, Prefer::Fewest, Prefer::Hidden] {
        let plan = planned(&plain(), prefer, MarksRecord { chalk: chalk.clone(), ..none() });
        assert_eq!(plan.pieces.len(), 3, "{prefer:?}");
        for seam in &plan.seams {
            let [low, high] = reach_mm(seam);
            assert!(high < 95.0 || low > 205.0, "{prefer:?}: a seam from {low} to {high} mm");
        }
    }
}

#[test]
fn a_seam_comes_to_where_it_is_welcome() {
    for at_mm in [138.0, 162.0] {
        let chalk = vec![ChalkDab { kind: ChalkKind::In, at_mm: [40.0, 40.0, at_mm], radius_mm: 41.0 }];
        let plan = planned(&plain(), Prefer::Balanced, MarksRecord { chalk, ..none() });
        let [low, high] = reach_mm(&plan.seams[0]);
        // The ball meets the skin 9 mm above and below its middle.
        assert!(low > at_mm - 12.0 && high < at_mm + 12.0, "{low} to {high} for {at_mm}");
    }
}

#[test]
fn a_piece_that_is_printed_is_the_same_to_the_byte_in_another_plan() {
    let before = plan(&[model("bar", &plain())], &asked(Prefer::Fewest));
    let Made { folder, plan: first, .. } = &before;
    assert_eq!(first.pieces.len(), 2);
    let seam = &first.seams[0];
    let marks = MarksRecord {
        locked: vec![SeamMark::new(seam.plane, place(seam.at_mm))],
        printed: vec![place(first.pieces[0].at_mm)],
        ..none()
    };
    // The printed one fits the first bed alone, the rest is for the second.
    let mut asked = asked(Prefer::Fewest);
    asked.beds.push(bed("110x110x110", 5.0));
    asked.beds[0].id = "printed".into();
    let after = plan(&[marked(&plain(), marks.clone())], &asked);
    let bytes = |made: &Made| -> Vec<Vec<u8>> {
        made.plan.pieces.iter().map(|piece| made.folder.files[&piece.file].clone()).collect()
    };
    let printed = &folder.files[&first.pieces[0].file];
    assert_eq!(bytes(&after).iter().filter(|piece| *piece == printed).count(), 1);

    // On a bed it does not fit there is no plan, and it is said why.
    let mut small = asked.clone();
    small.beds.remove(0);
    let refused = make_plan(vec![marked(&plain(), marks)], &small, &Counting::default());
    let Err(PlanError::Marks { item, why }) = refused else { panic!("it was planned") };
    assert_eq!(item, "bar");
    assert!(why.contains("fits none of these beds"), "{why}");
}

#[test]
fn marks_follow_the_size_and_are_refused_on_another_shape() {
    let marks = MarksRecord { locked: vec![level(60.0)], ..none() };
    let mut larger = marked(&plain(), marks.clone());
    larger.settings.scale = Some(1.5);
    let made = plan(&[larger.clone()], &asked(Prefer::Fewest));
    assert!(made.plan.seams.iter().any(|seam| same_plane(&seam.plane, &level(90.0).plane)));

    larger.settings.marks.printed = vec![[40.0, 0.0, 30.0]];
    let refuse = |input: ModelInput| {
        let refused = make_plan(vec![input], &asked(Prefer::Fewest), &Counting::default());
        refused.err().map(|why| why.to_string()).unwrap_or_default()
    };
    assert!(refuse(larger).contains("printed at a size of 80.0 x 80.0 x 300.0 mm"));
    let mut lying = marked(&plain(), marks);
    lying.settings.up = Some(seamwright_mesh::units::Up::X);
    assert!(refuse(lying).contains("not the same shape"));
    let off = marked(&plain(), MarksRecord { locked: vec![level(310.0)], ..none() });
    assert!(refuse(off).contains("seam 1 of those that stay does not meet"));
}

#[test]
fn a_project_keeps_marks_and_refuses_those_of_no_use() {
    let marks = MarksRecord { locked: vec![level(60.0)], ..none() };
    let made = plan(&[marked(&plain(), marks.clone())], &asked(Prefer::Fewest));
    let project = &made.folder.files["costume.seam.json"];
    let models = |bytes: &[u8]| {
        Project::read(bytes).map_err(|e| e.to_string()).and_then(|project| {
            project.models(&|_| Err("it is in the project".into())).map_err(|e| e.to_string())
        })
    };
    assert_eq!(models(project).expect("it is a project")[0].settings.marks, marks);
    let text = String::from_utf8(project.clone()).expect("JSON");
    for (from, to, why) in [
        ("\"size_mm\": [80.0, 80.0, 300.0]", "\"size_mm\": [0.0, 80.0, 300.0]", "of what size"),
        ("\"normal\": [0.0, 0.0, 1.0]", "\"normal\": [0.0, 0.0, 1.1]", "locked seam 1"),
    ] {
        let squeezed = text.replace('\n', "").replace("  ", "").replace(",", ", ").replace(",  ", ", ");
        let changed = squeezed.replacen(from, to, 1);
        assert_ne!(changed, squeezed, "{from} is not in {squeezed:.600}");
        let refused = models(changed.as_bytes()).expect_err("it is of no use");
        assert!(refused.contains(why), "{refused}");
    }
}

#[test]
fn a_search_begins_with_the_plan_made_before_where_it_still_holds() {
    let slow = bar(|z| -(3.0 - (z - 158.0).abs()).max(0.0));
    let before = plan(&[model("bar", &slow)], &asked(Prefer::Balanced));
    let seam = &before.plan.seams[0];
    let cut = SeamMark::new(seam.plane, place(seam.at_mm));
    let begin_for = |rounds: u64, cuts: Vec<SeamMark>, marks: MarksRecord| {
        let mut input = marked(&slow, marks);
        input.settings.begun = BegunRecord { size_mm: SIZE_MM, cuts };
        plan(&[input], &Options { budget: Budget::Effort(rounds), ..asked(Prefer::Balanced) }).plan
    };
    let begin = |cuts: Vec<SeamMark>, marks: MarksRecord| begin_for(0, cuts, marks);
    // Without a round of search there is the plain grid, or that plan.
    assert!(!same_plane(&begin(Vec::new(), none()).seams[0].plane, &seam.plane));
    assert!(same_plane(&begin(vec![cut.clone()], none()).seams[0].plane, &seam.plane));
    // With the same seam staying, and with one that leaves no room for it.
    assert_eq!(begin(vec![], MarksRecord { locked: vec![cut.clone()], ..none() }).pieces.len(), 2);
    let elsewhere = MarksRecord { forbidden: vec![cut.clone()], ..none() };
    assert!(!same_plane(&begin_for(2, vec![cut], elsewhere).seams[0].plane, &seam.plane));
    // A plan that leaves a piece too large is none to begin with.
    assert_eq!(begin(vec![level(60.0)], none()).pieces.len(), 2);
}

#[test]
fn a_plane_that_is_moved_tells_what_it_makes_there() {
    let input = marked(&plain(), none());
    let item = read_item(&input).expect("a closed bar");
    let ground = Arc::new(Ground::new(&item.solid, &asked(Prefer::Balanced).wish(&item)));
    let plane = |offset_mm| Plane { normal: [0.0, 0.0, 1.0], offset_mm };
    let round_mm = 90.0 * 80.0 * libm::sin(std::f64::consts::PI / 90.0);

    // Of the whole bar: what is above 60 mm is too long for the bed.
    let whole = Probing::new(&ground, &[], [80.0, 40.0, 50.0]).expect("the bar is there");
    let found = whole.cut(plane(60.0), [80.0, 40.0, 50.0], &[]).expect("it meets the bar");
    assert!((found.line.section_mm - round_mm).abs() < 0.5, "{} mm round", found.line.section_mm);
    // Round and smooth and in the open, a mm costs a mm.
    assert!((found.line.cost_mm / round_mm - 1.0).abs() < 0.05, "{}", found.line.cost_mm);
    let lumps = found.sides.each_ref().map(|side| (side.len(), side[0].fits, side[0].needs));
    assert_eq!(lumps, [(1, true, 1), (1, false, 2)]);
    assert!((found.sides[1][0].size_mm[2] - 240.0).abs() < 0.1);
    assert!((found.at_mm[2] - 60.0).abs() < 1e-3 && found.at_mm[0] > 75.0, "{:?}", found.at_mm);
    assert!(found.segments_mm.iter().flatten().all(|p| (p[2] - 60.0).abs() < 1e-3));

    // Of what another cut leaves below it, and beside that part.
    let before = [level(150.0).locked()];
    let lower = Probing::new(&ground, &before, [80.0, 40.0, 50.0]).expect("the cut can be made");
    let found = lower.cut(plane(60.0), [80.0, 40.0, 50.0], &[]).expect("it meets the lower half");
    let heights = found.sides.each_ref().map(|side| side[0].size_mm[2].round());
    assert_eq!(heights, [60.0, 90.0]);
    assert!(lower.cut(plane(200.0), [80.0, 40.0, 50.0], &[]).is_none());
    assert!(Probing::new(&ground, &[level(310.0).locked()], [80.0, 40.0, 50.0]).is_none());
}

#[test]
fn plans_to_choose_are_cut_again_as_they_were_told() {
    // A bar with a neck near either end: cut in the middle it is two pieces, cut at the necks three with far less
    // to fill. Where something is marked, a plan may have more pieces than the grid, which has two.
    let necked = bar(|z| if (65.0..85.0).contains(&z) || (215.0..235.0).contains(&z) { -28.0 } else { 0.0 });
    let far = ChalkDab { kind: ChalkKind::In, at_mm: [0.0, 0.0, 0.0], radius_mm: 1.0 };
    let input = marked(&necked, MarksRecord { chalk: vec![far], ..none() });
    let asked = Asked {
        beds: vec![bed_record(&bed("180x180x180", 5.0))],
        prefer: "hidden".into(),
        seed: 1,
        effort: Some(3),
    };
    let mut keeper = Keeper::new(&asked).expect("a bed");
    keeper.add("key", &input.name, &settings_record(&input.settings), input.bytes).expect("a closed bar");
    let mut searcher = Searcher::default();
    while keeper.begin_grid(0.0).expect("few cells") {
        while keeper.step_grid().is_some() {}
    }
    searcher.take_item(0, &keeper.item_bytes(0), &asked).expect("as the keeper handed it");
    while !keeper.tasks().is_empty() {
        let run = |task| {
            assert!(searcher.start(task));
            while !searcher.step() {}
            (searcher.result(), searcher.cuts())
        };
        let found: Vec<_> = keeper.tasks().into_iter().map(run).collect();
        for winner in keeper.merge(found.clone()) {
            keeper.replay(winner.item, &found[winner.at].1).expect("cuts");
            while keeper.step_replay().expect("it was cut before") {}
        }
        keeper.end_round(0.0);
    }
    assert_eq!(keeper.drawing(0).expect("a plan").note.pieces.len(), 3);
    let others = keeper.others(0);
    assert_eq!(others.iter().map(|other| (other.pieces, other.held)).collect::<Vec<_>>(), [(2, 0)]);
    assert!(keeper.begin_other(0, 0));
    while keeper.step_other() {}
    let drawing = keeper.other_drawing().expect("it was cut");
    assert_eq!((drawing.shapes.len(), drawing.lines.len()), (2, 1));
    assert!(drawing.note.pieces.iter().all(|piece| piece.fits));
    assert_eq!((drawing.note.cuts.len(), drawing.note.seams.len()), (1, 1));
    assert!(!keeper.begin_other(0, 1) && !keeper.begin_other(1, 0));
}
