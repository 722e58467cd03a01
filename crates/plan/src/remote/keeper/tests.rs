//! Keeper and searchers in one memory give the native plan; rays find pieces; what is asked is checked.

use super::*;
use crate::make::make_plan;
use crate::remote::finder::Finder;
use crate::remote::messages::{Ray, RayStart};
use crate::remote::searcher::Searcher;

/// A block of 300 x 250 x 60 mm: more than a bed each way, so that rounds have something to do.
const BLOCK: &str = "v 0 0 0\nv 300 0 0\nv 300 250 0\nv 0 250 0\nv 0 0 60\nv 300 0 60\nv 300 250 60\nv 0 250 60\n\
    f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";

fn asked() -> Asked {
    let bed = crate::card::bed_record(&seamwright_bed::Bed::parse("180x180x180").unwrap());
    Asked { beds: vec![bed], prefer: "balanced".into(), seed: 1, effort: Some(2) }
}

fn settings() -> SettingsRecord {
    project::settings_record(&ItemSettings { pair: true, ..ItemSettings::default() })
}

/// Plans with tasks dealt to `n` searchers, the last task first.
fn plan<'a>(keeper: &'a mut Keeper, asked: &Asked, n: usize) -> &'a Made {
    let mut searchers: Vec<Searcher> = (0..n).map(|_| Searcher::default()).collect();
    while keeper.begin_grid(0.0).unwrap() {
        while keeper.step_grid().is_some() {}
    }
    for searcher in &mut searchers {
        searcher.take_item(0, &keeper.item_bytes(0), asked).unwrap();
    }
    while !keeper.tasks().is_empty() {
        let tasks = keeper.tasks();
        let mut found = vec![(None, Vec::new()); tasks.len()];
        for (at, task) in tasks.iter().enumerate().rev() {
            let searcher = &mut searchers[at % n];
            assert!(searcher.start(task.clone()));
            while !searcher.step() {}
            found[at] = (searcher.result(), searcher.cuts());
        }
        for winner in keeper.merge(found.clone()) {
            keeper.replay(winner.item, &found[winner.at].1).unwrap();
            while keeper.step_replay().unwrap() {}
        }
        keeper.end_round(0.0);
    }
    while keeper.finish(0.0).unwrap().is_some() {}
    keeper.made.as_ref().unwrap()
}

#[test]
fn a_plan_by_keeper_and_searchers_is_the_native_one_to_the_byte() {
    let options = asked_options(&asked()).unwrap();
    let settings_of = project::settings_of_record(&settings()).unwrap();
    let model = ModelInput { name: "block.obj".into(), bytes: BLOCK.into(), settings: settings_of };
    let native = make_plan(vec![model], &options, &Clock { seconds: 0.0 }).unwrap();
    assert!(native.plan.search.rounds > 0 && native.plan.pieces.len() > 2);
    let mut keeper = Keeper::new(&asked()).unwrap();
    for n in [1, 2] {
        // The second time the model comes from the shelf.
        keeper.begin_anew(&asked()).unwrap();
        keeper.add("k", "block.obj", &settings(), BLOCK.into()).unwrap();
        let made = plan(&mut keeper, &asked(), n);
        assert!(made.folder == native.folder, "{n} searchers");
        // The block is one of a pair, and the count told is that of the costume.
        assert_eq!(keeper.round().pieces, native.plan.totals.pieces);
    }
    let lays = keeper.finished().unwrap().lays;
    assert_eq!(lays.iter().map(|lay| lay.pieces.len()).sum::<usize>(), native.plan.pieces.len());
}

/// A block of 300 x 250 x 60 mm whose sides are divided so finely that a copy is searched in its place: STL.
fn fine_block() -> Vec<u8> {
    const N: usize = 190;
    let size_mm = [300.0_f32, 250.0, 60.0];
    let mut triangles = Vec::new();
    for axis in 0..3 {
        let [u, v] = [(axis + 1) % 3, (axis + 2) % 3];
        for (i, k, top) in (0..N * N).flat_map(|at| [0.0_f32, 1.0].map(|top| (at / N, at % N, top))) {
            let corner = |i: usize, k: usize| {
                let mut p = [0.0_f32; 3];
                (p[axis], p[u], p[v]) =
                    (top * size_mm[axis], i as f32 / N as f32 * size_mm[u], k as f32 / N as f32 * size_mm[v]);
                p
            };
            let [a, b, c, d] = [corner(i, k), corner(i + 1, k), corner(i + 1, k + 1), corner(i, k + 1)];
            let outward = if top > 0.0 { [[a, b, c], [a, c, d]] } else { [[a, c, b], [a, d, c]] };
            triangles.extend(outward);
        }
    }
    let mut bytes = vec![0; 80];
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for corners in triangles {
        bytes.extend([0; 12]);
        bytes.extend(corners.iter().flatten().flat_map(|c| c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

#[test]
fn an_item_searched_on_a_copy_is_planned_alike_and_its_plan_is_cut_on_the_item() {
    let asked = Asked { prefer: "fewest".into(), effort: Some(1), ..asked() };
    let settings = project::settings_record(&ItemSettings::default());
    let bytes = fine_block();
    let model = ModelInput {
        name: "block.stl".into(),
        bytes: bytes.clone(),
        settings: project::settings_of_record(&settings).unwrap(),
    };
    let native = make_plan(vec![model], &asked_options(&asked).unwrap(), &Clock { seconds: 0.0 }).unwrap();
    // 300 x 250 of 170 x 170 each, whatever the copy is like. The proof stands on points of the item.
    assert_eq!((native.plan.totals.pieces, native.plan.bounds[0].pieces_at_least), (4, 3));
    assert!(!native.plan.bounds[0].proof.lumps[0].points_mm.is_empty());
    assert!(native.plan.search.history.last().unwrap().cost_min.is_some());
    assert!(native.findings.is_empty(), "{:?}", native.findings);
    let mut keeper = Keeper::new(&asked).unwrap();
    keeper.add("k", "block.stl", &settings, bytes).unwrap();
    let n_sent = |keeper: &Keeper| keeper.item_bytes(0).len();
    let made = plan(&mut keeper, &asked, 2);
    assert!(made.folder == native.folder);
    // Searchers get the copy: a third of what the item would be.
    let whole = seamwright_mesh::transfer::solid_to_bytes(&keeper.session.items()[0].solid).len();
    assert!(3 * n_sent(&keeper) < 2 * whole, "{} of {whole} bytes", n_sent(&keeper));
}

#[test]
fn a_ray_meets_the_drawn_piece_it_points_at_where_it_was_pulled_to() {
    let mut keeper = Keeper::new(&asked()).unwrap();
    keeper.add("k", "block.obj", &settings(), BLOCK.into()).unwrap();
    plan(&mut keeper, &asked(), 1);
    let Drawing { note, shapes, .. } = keeper.drawing(0).unwrap();
    let mut finder = Finder::default();
    for (piece, shape) in note.pieces.iter().zip(&shapes) {
        finder.take("block", Some(piece.id.clone()), piece.pull_mm, &shape.points_mm, &shape.triangles);
    }
    let down = |x: f64, y: f64, pull: f64| {
        let starts = vec![RayStart { item: "block".into(), at_mm: [x, y, 500.0] }];
        finder.find(&Ray { direction: [0.0, 0.0, -1.0], pull, starts })
    };
    let first = down(10.0, 10.0, 0.0).unwrap();
    assert!((first.at_mm[2] - 60.0).abs() < 1e-9);
    let last = down(290.0, 240.0, 0.0).unwrap();
    assert_ne!(first.piece, last.piece);
    assert_eq!(down(310.0, 10.0, 0.0), None);
    let pulled = note.pieces.iter().find(|piece| Some(&piece.id) == last.piece.as_ref()).unwrap().pull_mm;
    let same = down(290.0 + pulled[0], 240.0 + pulled[1], 1.0).unwrap();
    assert_eq!(same.piece, last.piece);
    // The place is told where it lies in the item, not where it was pulled to.
    assert!((same.at_mm[0] - 290.0).abs() < 1e-9 && (same.at_mm[2] - 60.0).abs() < 1e-9);
}

#[test]
fn what_is_asked_is_checked() {
    let two = Asked { beds: [asked().beds, asked().beds].concat(), ..asked() };
    let other = Asked { prefer: "pretty".into(), ..asked() };
    let none = Asked { beds: Vec::new(), ..asked() };
    for (asked, due) in [(two, "same id"), (other, "pretty"), (none, "no bed")] {
        let said = Keeper::new(&asked).err().unwrap().to_string();
        assert!(said.contains(due), "{said}");
    }
}
