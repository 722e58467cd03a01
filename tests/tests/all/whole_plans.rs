//! Whole plans made in memory from generated solids: the same bytes for any number of threads,
//! audits that hold, counts known in closed form, and planned folders tampered with.

use seamwright_plan::audit::audit;
use seamwright_plan::job::{Budget, ModelInput, Options};
use seamwright_plan::make::{Made, make_plan};
use seamwright_plan::project::{PROJECT_FILE, Project};
use seamwright_plan::records::{Plan, PoseKind};
use seamwright_seams::outline::Prefer;
use seamwright_tests::folders::{Draft, box_of, mesh_of, posed};
use seamwright_tests::plans::{Counting, bed, model, options, plan};
use seamwright_tests::shapes::{Mesh, cells, cuboid, mapped, solid, thick_shell, together, torus, tube};

/// Plans, and proves what must hold of every plan.
fn sound(models: &[ModelInput], options: &Options) -> Made {
    let made = plan(models, options);
    let report = audit(&made.folder);
    assert!(report.ok(), "{:#?}", report.findings);
    for row in &made.plan.grid {
        let pieces = pieces_of(&made.plan, &row.item);
        assert!((1..=row.pieces).contains(&pieces), "{}: {pieces}, plain grid {}", row.item, row.pieces);
    }
    // Every item has a least number, which its plan does not undercut.
    for item in &made.plan.items {
        let bound = made.plan.bounds.iter().find(|bound| bound.item == item.id);
        let bound = bound.expect("at least one piece is proved of every item");
        let pieces = pieces_of(&made.plan, &item.id);
        assert!((1..=pieces).contains(&bound.pieces_at_least), "{}: {bound:?}", item.id);
        assert_eq!(bound.proven_fewest, bound.pieces_at_least == pieces);
    }
    let most = options.beds.len();
    assert!(made.plan.beds.len() == most && made.plan.loads.iter().all(|load| !load.pieces.is_empty()));
    made
}

fn pieces_of(plan: &Plan, item: &str) -> usize {
    plan.pieces.iter().filter(|piece| piece.item == item).count()
}

/// A thick shell about 300 mm across with bumps all over, wider than any bed here.
fn bumpy_shell() -> Mesh {
    mapped(thick_shell(146.0, 138.0, 30), |p| {
        let bump = libm::sin(0.11 * p[0]) * libm::sin(0.13 * p[1] + 1.0) * libm::sin(0.09 * p[2] + 2.0);
        p.map(|c| c * (1.0 + 0.025 * bump))
    })
}

#[test]
fn a_fixed_effort_gives_the_same_bytes_for_any_number_of_threads() {
    let models = [model("shell", &bumpy_shell())];
    let with = |n_threads: usize| {
        let made = plan(&models, &Options { n_threads, ..options(&[bed("220x220x250", 5.0)], 1) });
        let mut files = made.folder.files;
        files.remove("run.json").expect("every plan holds run.json");
        files
    };
    let one = with(1);
    assert!(one.len() > 10, "{:?}", one.keys());
    for n_threads in [1, 2, 4] {
        let other = with(n_threads);
        assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
        for (path, bytes) in &one {
            assert!(other[path] == *bytes, "{path} differs with {n_threads} threads");
        }
    }
}

#[test]
fn plans_of_generated_solids_hold_on_a_rectangular_bed() {
    let made = sound(&[model("shell", &bumpy_shell())], &options(&[bed("220x220x250", 5.0)], 1));
    assert!(made.plan.pieces.len() >= 2 && !made.plan.seams.is_empty());
}

#[test]
fn plans_of_generated_solids_hold_on_a_round_bed() {
    let ring = mapped(torus(160.0, 30.0, 48, 16), |p| [p[0], p[1], 1.5 * p[2]]);
    let made = sound(&[model("ring", &ring)], &options(&[bed("d260x300", 5.0)], 1));
    assert!(made.plan.pieces.len() >= 2 && !made.plan.seams.is_empty());
}

#[test]
fn a_costume_of_several_models_on_two_beds_with_areas_to_keep_out_of_holds() {
    let mut small = bed("180x180x180@2", 5.0);
    small.add_keep_out("0,0,40,30").expect("an area of the bed");
    let mut round = bed("d260x300", 5.0);
    round.add_keep_out("120,0,20,30").expect("an area of the bed");
    let sleeve = mapped(tube(60.0, 52.0, 260.0, 32), |p| {
        // Not its own mirror image.
        [p[0] * (1.0 + 0.001 * p[2]), p[1] + 0.1 * p[2], p[2]]
    });
    let mut left = model("sleeve", &sleeve);
    left.settings.pair = true;
    let mut stud = model("stud", &cuboid([0.0; 3], [40.0, 30.0, 20.0], 1));
    stud.settings.copies = Some(3);
    let same_name = model("stud", &cuboid([0.0; 3], [230.0, 30.0, 20.0], 2));
    let made = sound(&[left, stud, same_name], &options(&[small, round], 1));
    let ids: Vec<&str> = made.plan.items.iter().map(|item| item.id.as_str()).collect();
    assert_eq!(ids, ["sleeve", "sleeve-mirrored", "stud", "stud-c2", "stud-c3", "stud-2"]);
    assert_eq!(pieces_of(&made.plan, "sleeve"), pieces_of(&made.plan, "sleeve-mirrored"));
    assert_eq!(made.plan.items[1].mirror_of.as_deref(), Some("sleeve"));
    assert_eq!(made.plan.items[3].copy_of.as_deref(), Some("stud"));
    assert_eq!(made.plan.totals.pieces, made.plan.pieces.len());
}

#[test]
fn a_box_of_eight_beds_gives_eight_pieces() {
    let item = cuboid([0.0; 3], [360.0, 320.0, 300.0], 3);
    let made = sound(&[model("box", &item)], &options(&[bed("180x160x150", 0.0)], 1));
    assert_eq!((made.plan.pieces.len(), made.plan.grid[0].pieces), (8, 8));
    // Three planes, each crossed by the other two: 12 seams, together each section once.
    assert_eq!(made.plan.seams.len(), 12);
    let due_mm = 4.0 * (2.0 * (160.0 + 150.0) + 2.0 * (180.0 + 150.0) + 2.0 * (180.0 + 160.0));
    assert!((made.plan.totals.seam_mm - due_mm).abs() < 0.01, "{}", made.plan.totals.seam_mm);
}

#[test]
fn planted_shapes_take_as_many_pieces_as_they_were_made_of() {
    // Usable are 170 x 170 x 175 mm; the blocks leave 0.2 mm of them.
    let block = [169.8, 169.8, 174.8];
    let joined: [(&str, &[&[&str]], usize); 5] = [
        ("bar", &[&["###"]], 3),
        ("bracket", &[&["#.", "##"]], 3),
        ("tee", &[&["###", ".#."]], 4),
        ("step", &[&["##"], &["#."]], 3),
        ("slab", &[&["##", "##"]], 4),
    ];
    let mut planted: Vec<(&str, Mesh, usize)> =
        joined.iter().map(|&(name, layers, n)| (name, cells(layers, block), n)).collect();
    // A blade lies across the bed: two pieces of it would be longer than its diagonal of 297 mm.
    planted.push(("tube", tube(60.0, 52.0, 349.8, 48), 2));
    planted.push(("blade", cuboid([0.0; 3], [700.0, 40.0, 6.0], 4), 3));
    let window = cells(&[&["###", "#.#", "###"]], [113.2, 113.2, 20.0]);
    planted.push(("frame", window, 4));
    for (name, mesh, n) in &planted {
        let mut asked = options(&[bed("180x180x180", 5.0)], 3);
        asked.prefer = Prefer::Fewest;
        let made = sound(&[model(name, mesh)], &asked);
        let bound = &made.plan.bounds[0];
        assert_eq!(made.plan.pieces.len(), *n, "{name}: {} proved", bound.pieces_at_least);
        assert!(bound.proven_fewest, "{name}: {} of {n} proved", bound.pieces_at_least);
        assert_eq!(made.plan.totals.held, 0, "{name}: held");
    }
}

#[test]
fn an_item_that_fits_whole_is_one_piece_without_seams() {
    let made = sound(&[model("ball", &thick_shell(80.0, 75.0, 16))], &options(&[bed("180x180x180", 5.0)], 1));
    assert_eq!((made.plan.pieces.len(), made.plan.seams.len(), made.plan.loads.len()), (1, 0, 1));
    assert_eq!(made.plan.join_order, []);
}

#[test]
fn an_item_of_two_lumps_is_two_pieces_at_least() {
    let two = together(cuboid([0.0; 3], [50.0; 3], 1), cuboid([60.0, 0.0, 0.0], [110.0, 50.0, 50.0], 1));
    let made = sound(&[model("two", &two)], &options(&[bed("180x180x180", 5.0)], 0));
    assert_eq!((made.plan.pieces.len(), made.plan.grid[0].pieces, made.plan.seams.len()), (2, 2, 0));
}

#[test]
fn bodies_that_lie_in_each_other_are_cut_and_audited_as_they_are() {
    let across = cuboid([-140.0, -20.0, 20.0], [140.0, 20.0, 40.0], 1);
    let both = together(tube(120.0, 105.0, 80.0, 32), across);
    let made = sound(&[model("both", &both)], &options(&[bed("150x150x150", 5.0)], 0));
    assert!(made.plan.pieces.len() >= 4 && made.plan.items[0].bodies == 2);
    assert!(made.plan.items[0].solid_mm3 < made.plan.items[0].volume_mm3);
}

#[test]
fn a_mirrored_side_is_measured_by_itself() {
    // The corners of a box are detail where a seam turns round them, sampled from one end: the
    // mirrored seam starts at another corner.
    let mut block = model("block", &cuboid([0.0; 3], [300.0, 200.0, 200.0], 1));
    block.settings.pair = true;
    block.settings.copies = Some(2);
    let made = sound(&[block], &options(&[bed("180x180x180", 5.0)], 0));
    assert_eq!((made.plan.items.len(), made.plan.pieces.len()), (4, 32));
    assert!(made.plan.totals.through_detail_mm > 0.0);
}

#[test]
fn mirrored_sides_and_copies_count_from_the_first_round_on() {
    let mut block = model("block", &cuboid([0.0; 3], [300.0, 200.0, 200.0], 1));
    block.settings.pair = true;
    block.settings.copies = Some(2);
    let counting = Counting::default();
    let made = make_plan(vec![block, bar()], &options(&[bed("180x180x180", 5.0)], 2), &counting)
        .expect("the test's costume can be planned");
    let plan = &made.plan;
    assert_eq!(plan.items.len(), 5);
    // The plain grid: four blocks of 2 x 2 x 2 cells and four cells of the bar, 600 mm long.
    let first = plan.search.history.first().map(|row| (row.round, row.pieces));
    assert_eq!(first, Some((0, 4 * 8 + 4)));
    let told = counting.0.into_inner().expect("nobody else failed");
    assert_eq!((told.len(), told.last()), (2, Some(&plan.totals.pieces)));
    assert_eq!(plan.search.history.last().map(|row| row.pieces), Some(plan.totals.pieces));
}

#[test]
fn names_that_could_be_a_copys_and_names_that_are_long_get_ids_of_their_own() {
    let stud = cuboid([0.0; 3], [200.0, 20.0, 10.0], 1);
    let long = "the longest-name-of-a-thing-anybody-gave";
    let mut models: Vec<ModelInput> =
        ["stud", "stud-c2", "stud-mirrored", long, long].map(|name| model(name, &stud)).into();
    for index in [0, 3, 4] {
        models[index].settings.pair = true;
        models[index].settings.copies = Some(2);
    }
    let made = sound(&models, &options(&[bed("150x150x150", 5.0)], 0));
    let ids: Vec<&str> = made.plan.items.iter().map(|item| item.id.as_str()).collect();
    let due = ["stud", "stud-mirrored", "stud-c2", "stud-c2-mirrored", "stud-c2-2", "stud-mirrored-2"];
    assert_eq!(ids[..6], due);
    assert_eq!([ids[6], ids[10]], ["the-longest-name-of-a", "the-longest-name-of-2"]);
}

fn bar() -> ModelInput {
    model("bar", &cuboid([0.0; 3], [600.0, 20.0, 20.0], 4))
}

#[test]
fn a_long_bar_needs_no_more_pieces_than_lie_on_the_diagonal() {
    let made = sound(&[bar()], &options(&[bed("220x220x250", 5.0)], 1));
    // Flat on its side across a square of 210 mm, 20 mm wide: 210 sqrt 2 - 20 = 277 mm a piece.
    let most = (600.0 / (210.0 * std::f64::consts::SQRT_2 - 20.0)).ceil();
    assert!(made.plan.pieces.len() as f64 <= most, "{} of {most}", made.plan.pieces.len());
}

#[test]
fn a_project_gives_the_plan_it_was_written_by() {
    let mut round = bed("d260x300", 4.0);
    round.gap_mm = 7.0;
    let mut ring = model("some/path/ring", &torus(140.0, 20.0, 24, 8));
    ring.settings.pair = true;
    let models = [ring, bar()];
    let asked = Options { prefer: Prefer::Fewest, seed: 7, ..options(&[round], 1) };
    let first = plan(&models, &asked);
    let project = Project::read(&first.folder.files[PROJECT_FILE]).expect("a plan's project can be read");
    assert_eq!(project.decisions().len(), 2);
    assert!(project.decisions().iter().all(|decision| !decision.planes.is_empty()));
    let reopened = project.models(&|name| Err(format!("{name} is embedded"))).expect("models are embedded");
    let again = Options {
        beds: project.beds().expect("the beds were in use"),
        prefer: project.prefer().expect("the preference was in use"),
        budget: Budget::Effort(project.effort().expect("the effort was fixed")),
        seed: project.seed(),
        ..options(&[], 0)
    };
    let second = plan(&reopened, &again);
    for (path, bytes) in first.folder.files.iter().filter(|(path, _)| *path != "run.json") {
        assert!(second.folder.files[path] == *bytes, "{path} differs");
    }
}

/// The tampered folder must be caught by this check.
fn caught(code: &str, whole: &Draft, change: impl FnOnce(&mut Draft)) {
    let mut draft = whole.clone();
    change(&mut draft);
    let report = audit(&draft.folder());
    let codes: Vec<_> = report.findings.iter().map(|f| (f.code, &f.subject, &f.text)).collect();
    assert!(codes.iter().any(|(found, ..)| *found == code), "{code} is not in {codes:#?}");
}

/// Both sides of the plane across axis X in the middle (or elsewhere) of a piece's box.
fn parted(mesh: &Mesh, share: f64) -> [Mesh; 2] {
    let (low, high) = box_of(&mesh.0);
    let offset_mm = low[0] + share * (high[0] - low[0]);
    let plane = seamwright_mesh::Plane { normal: [1.0, 0.0, 0.0], offset_mm };
    let cut = seamwright_mesh::split::split(&solid(mesh), &plane, 1);
    [cut.below, cut.above].map(|side| mesh_of(&side.expect("the plane cuts the piece")))
}

#[test]
fn a_planned_folder_tampered_with_is_caught() {
    let made = sound(&[model("shell", &bumpy_shell())], &options(&[bed("220x220x250", 5.0)], 0));
    let whole = Draft::from_folder(&made.folder);
    caught("volume-sum", &whole, |d| {
        let [_, rest] = parted(&d.piece_mesh(0), 0.1);
        d.set_piece(0, &rest);
    });
    caught("lumps", &whole, |d| {
        let [low, high] = parted(&d.piece_mesh(0), 0.5);
        d.set_piece(0, &together(low, mapped(high, |p| [p[0] + 1.0, p[1], p[2]])));
    });
    caught("pose-not-rigid", &whole, |d| {
        let (low, high) = box_of(&posed(&d.piece_mesh(0), &d.plan.pieces[0].pose).0);
        let row = &mut d.plan.pieces[0].pose[..4];
        row.iter_mut().for_each(|x| *x = -*x);
        row[3] += low[0] + high[0];
        d.write_loads();
    });
    caught("through-bed", &whole, |d| {
        d.plan.pieces[0].pose[11] -= 0.01;
        d.write_loads();
    });
    caught("seam-line", &whole, |d| {
        for lengths in [&mut d.plan.seams[0].line_mm, &mut d.plan.totals.seam_mm] {
            *lengths -= 1.0;
        }
    });
}

#[test]
fn pieces_of_a_planned_load_pushed_into_each_other_are_caught() {
    let made = sound(&[bar()], &options(&[bed("220x220x250", 5.0)], 0));
    let whole = Draft::from_folder(&made.folder);
    let boxes: Vec<_> = (0..whole.plan.pieces.len())
        .map(|p| box_of(&posed(&whole.piece_mesh(p), &whole.plan.pieces[p].pose).0))
        .collect();
    // A pair side by side in one load: apart along one axis, beside each other along the other.
    let mut pairs = Vec::new();
    for a in 0..boxes.len() {
        for b in 0..boxes.len() {
            let gap = |k: usize| boxes[b].0[k] - boxes[a].1[k];
            for (k, across) in [(0, 1), (1, 0)] {
                let beside =
                    boxes[a].0[across] < boxes[b].1[across] && boxes[b].0[across] < boxes[a].1[across];
                if whole.plan.pieces[a].load == whole.plan.pieces[b].load && gap(k) > 0.0 && beside {
                    pairs.push((b, k, gap(k)));
                }
            }
        }
    }
    let &(piece, axis, gap_mm) =
        pairs.iter().min_by(|a, b| a.2.total_cmp(&b.2)).expect("two bars lie side by side");
    caught("overlap", &whole, |d| {
        d.plan.pieces[piece].pose[4 * axis + 3] -= gap_mm + 0.3;
        d.write_loads();
    });
    caught("gap", &whole, |d| {
        d.plan.pieces[piece].pose[4 * axis + 3] -= gap_mm - 4.7;
        d.write_loads();
    });
    assert!(whole.plan.pieces.iter().all(|p| p.pose_kind != PoseKind::Held));
}
