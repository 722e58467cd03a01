//! Plan folders the audit must pass, and the same folders tampered with, each of which it must
//! catch by the right check.
//!
//! Solids with closed-form seams: a box cut in two, a tube cut in four, a block with a letter F in
//! relief cut in two (lengths and areas in the comments).

use seamwright_mesh::{Plane, split::split};
use seamwright_plan::audit::{AuditReport, audit, examine};
use seamwright_plan::records::marks::{MarksRecord, SeamMark};
use seamwright_plan::records::{Bed, BedShape, PlaneRecord, PoseKind};
use seamwright_seams::lines::measure_seams;
use seamwright_seams::patches::SkinMap;
use seamwright_tests::folders::{
    Draft, FolderIn, PieceIn, SeamIn, StepIn, UPRIGHT, box_of, draft, mesh_of, pose_at, rect_bed, stl,
};
use seamwright_tests::shapes::{Mesh, cuboid, mapped, reversed, solid, thick_shell, together, tube};

#[path = "tampered_bounds.rs"]
mod bounds;

/// A turn by 90 degrees about Y: +X becomes +Z... the face at high X lies on the bed.
const HIGH_X_DOWN: [[f64; 3]; 3] = [[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]];

/// Turned over about X.
const OVER: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]];

fn halves(mesh: &Mesh, plane: Plane) -> [Mesh; 2] {
    let cut = split(&solid(mesh), &plane, 1);
    [cut.below, cut.above].map(|side| mesh_of(&side.expect("the plane cuts the solid")))
}

/// A box of 100 x 60 x 40 mm cut at x = 50: line 2 (60 + 40), area 60 x 40. Both halves in one load.
fn box_in_two() -> Draft {
    let item = cuboid([0.0; 3], [100.0, 60.0, 40.0], 7);
    let [low, high] = halves(&item, Plane { normal: [1.0, 0.0, 0.0], offset_mm: 50.0 });
    draft(FolderIn {
        id: "box",
        item,
        pieces: vec![PieceIn { mesh: low, turn: HIGH_X_DOWN }, PieceIn { mesh: high, turn: UPRIGHT }],
        seams: vec![SeamIn {
            pieces: [0, 1],
            normal: [1.0, 0.0, 0.0],
            offset_mm: 50.0,
            line_mm: 200.0,
            area_mm2: 2400.0,
        }],
        steps: vec![(vec![0], vec![0], vec![1], [1.0, 0.0, 0.0])],
        bed: rect_bed([106.0, 72.0, 60.0], 5.0),
        loads: vec![vec![0, 1]],
    })
}

/// A tube of radii 60 and 40 mm, 30 mm high, cut crosswise through its middle: four seams, each a
/// rectangle of 20 x 30 mm with line 100 and area 600 (the facets have corners on the planes).
fn tube_in_four() -> Draft {
    let item = mapped(tube(60.0, 40.0, 30.0, 64), |p| [p[0] + 60.0, p[1] + 60.0, p[2]]);
    let (low, _) = box_of(&item.0);
    let item = mapped(item, |p| std::array::from_fn(|k| p[k] - low[k]));
    // Filed items lie on the coordinate grid.
    let item = mesh_of(&solid(&item));
    let [left, right] = halves(&item, Plane { normal: [1.0, 0.0, 0.0], offset_mm: 60.0 });
    let across = Plane { normal: [0.0, 1.0, 0.0], offset_mm: 60.0 };
    let ([a, b], [c, d]) = (halves(&left, across), halves(&right, across));
    let seam = |pieces, normal| SeamIn { pieces, normal, offset_mm: 60.0, line_mm: 100.0, area_mm2: 600.0 };
    let (x, y) = ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0]);
    draft(FolderIn {
        id: "tube",
        item,
        pieces: [a, b, c, d].map(|mesh| PieceIn { mesh, turn: UPRIGHT }).into(),
        // a low left, b high left, c low right, d high right.
        seams: vec![seam([0, 1], y), seam([2, 3], y), seam([0, 2], x), seam([1, 3], x)],
        steps: vec![
            (vec![0], vec![0], vec![1], y),
            (vec![1], vec![2], vec![3], y),
            (vec![2, 3], vec![0, 1], vec![2, 3], x),
        ],
        bed: rect_bed([75.0, 75.0, 40.0], 5.0),
        loads: vec![vec![0], vec![1], vec![2], vec![3]],
    })
}

/// Boundary of a set of cubes of 10 mm: two triangles a free face.
fn cubes(filled: &dyn Fn([i32; 3]) -> bool, size: [i32; 3]) -> Mesh {
    let mut mesh: Mesh = (Vec::new(), Vec::new());
    for x in 0..size[0] {
        for y in 0..size[1] {
            for z in 0..size[2] {
                let cell = [x, y, z];
                for axis in 0..3 {
                    for side in [-1, 1] {
                        let mut beside = cell;
                        beside[axis] += side;
                        if !filled(cell) || filled(beside) {
                            continue;
                        }
                        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                        let start = mesh.0.len() as u32;
                        for (i, j) in [(0, 0), (1, 0), (1, 1), (0, 1)] {
                            let mut p = cell;
                            p[axis] += (side + 1) / 2;
                            p[u] += i;
                            p[v] += j;
                            mesh.0.push(p.map(|c| f64::from(c) * 10.0));
                        }
                        let [a, b, c, d] = [start, start + 1, start + 2, start + 3];
                        if side > 0 {
                            mesh.1.extend([[a, b, c], [a, c, d]]);
                        } else {
                            mesh.1.extend([[a, c, b], [a, d, c]]);
                        }
                    }
                }
            }
        }
    }
    mesh
}

/// A block of 60 x 90 x 20 mm with a letter F 10 mm high on it, cut at y = 50 through the stem:
/// the section is 60 x 20 and 10 x 10 on it, line 2 (60 + 20) + 2 x 10 = 180, area 1300.
fn letter_in_two(bed: Bed) -> Draft {
    let filled = |[x, y, z]: [i32; 3]| {
        let block = (0..6).contains(&x) && (0..9).contains(&y) && (0..2).contains(&z);
        let stem = x == 1 && (1..8).contains(&y);
        let arms = (y == 7 && (1..5).contains(&x)) || (y == 5 && (1..4).contains(&x));
        block || (z == 2 && (stem || arms))
    };
    let item = cubes(&filled, [6, 9, 3]);
    // 49.5 and not 50: not along the arm's edge.
    let [low, high] = halves(&item, Plane { normal: [0.0, 1.0, 0.0], offset_mm: 49.5 });
    let loads = if bed.shape == BedShape::Round { vec![vec![0], vec![1]] } else { vec![vec![0, 1]] };
    draft(FolderIn {
        id: "letter",
        item,
        pieces: vec![PieceIn { mesh: low, turn: UPRIGHT }, PieceIn { mesh: high, turn: UPRIGHT }],
        seams: vec![SeamIn {
            pieces: [0, 1],
            normal: [0.0, 1.0, 0.0],
            offset_mm: 49.5,
            line_mm: 180.0,
            area_mm2: 1300.0,
        }],
        steps: vec![(vec![0], vec![1], vec![0], [0.0, -1.0, 0.0])],
        bed,
        loads,
    })
}

fn letter() -> Draft {
    letter_in_two(rect_bed([135.0, 60.0, 45.0], 5.0))
}

/// A shell of radii 110 and 106 mm with `8 n_rows^2` triangles or so, cut by the plain grid into eight. Its
/// seams are quarter rings, measured by the module that defines them: the audit measures length
/// and area by itself.
fn shell_in_eight(n_rows: usize) -> Draft {
    let item = mapped(thick_shell(110.0, 106.0, n_rows), |p| p.map(|c| c + 110.0));
    let (low, high) = box_of(&item.0);
    let item = mesh_of(&solid(&mapped(item, |p| std::array::from_fn(|k| p[k] - low[k]))));
    let middle = [0, 1, 2].map(|k| 0.5 * (high[k] - low[k]));
    let axis = |k: usize| std::array::from_fn(|i| f64::from(u8::from(i == k)));
    let planes = [0, 1, 2].map(|k| Plane { normal: axis(k), offset_mm: middle[k] });
    // Piece 4 x + 2 y + z.
    let mut parts = vec![solid(&item)];
    for plane in &planes {
        parts = parts
            .iter()
            .flat_map(|part| {
                let cut = split(part, plane, 1);
                [cut.below, cut.above].map(|side| side.expect("the plane cuts the shell"))
            })
            .collect();
    }
    let found = measure_seams(
        &solid(&item),
        &SkinMap::new(&solid(&item)),
        &parts.iter().collect::<Vec<_>>(),
        &planes,
    );
    let seams: Vec<SeamIn> = found
        .iter()
        .map(|m| SeamIn {
            pieces: [m.pieces.0, m.pieces.1],
            normal: planes[m.plane_index].normal,
            offset_mm: planes[m.plane_index].offset_mm,
            line_mm: m.line_mm,
            area_mm2: m.bond_area_mm2,
        })
        .collect();
    let closed_by = |from: &[usize], to: &[usize]| {
        (0..seams.len())
            .filter(|&s| from.contains(&seams[s].pieces[0]) && to.contains(&seams[s].pieces[1]))
            .collect::<Vec<_>>()
    };
    let mut steps: Vec<StepIn> = Vec::new();
    for k in [2, 1, 0] {
        let stride = 4 >> k;
        for start in (0..8).step_by(2 * stride) {
            let from: Vec<usize> = (start..start + stride).collect();
            let to: Vec<usize> = (start + stride..start + 2 * stride).collect();
            steps.push((closed_by(&from, &to), from, to, planes[k].normal));
        }
    }
    let pieces = parts
        .iter()
        .enumerate()
        // Upper pieces stand on their cut, lower ones are turned over.
        .map(|(index, part)| PieceIn {
            mesh: mesh_of(part),
            turn: if index % 2 == 1 { UPRIGHT } else { OVER },
        })
        .collect();
    draft(FolderIn {
        id: "shell",
        item,
        pieces,
        seams,
        steps,
        bed: rect_bed([180.0; 3], 5.0),
        loads: (0..8).map(|piece| vec![piece]).collect(),
    })
}

#[test]
fn a_fine_shell_in_eight_passes_and_a_hair_out_of_true_does_not() {
    let whole = shell_in_eight(60);
    let report = audit(&whole.folder());
    assert!(report.ok(), "{:#?}", says(&report));
    assert_eq!(whole.plan.seams.len(), 12);
    // One piece in a 3MF moved by 0.02 mm; one seam 1 mm short; a step the wrong way round.
    tamper("3mf-mesh", whole.clone(), |d| {
        d.plan.pieces[3].pose[3] += 0.02;
        d.write_loads();
        d.plan.pieces[3].pose[3] -= 0.02;
    });
    tamper("seam-line", whole.clone(), |d| d.plan.seams[5].line_mm -= 1.0);
    tamper("join-direction", whole, |d| d.plan.join_order[6].direction = [-1.0, 0.0, 0.0]);
}

fn says(report: &AuditReport) -> Vec<String> {
    report.findings.iter().map(|f| format!("{}: {}: {}", f.code, f.subject, f.text)).collect()
}

/// The tampered folder must be caught by this check, also where the planner says its audit is fine.
fn caught(code: &str, draft: &Draft) {
    let report = audit(&draft.folder());
    assert!(!report.ok(), "not caught at all");
    assert!(report.findings.iter().any(|f| f.code == code), "{code} is not in {:#?}", says(&report));
}

fn tamper(code: &str, mut draft: Draft, change: impl FnOnce(&mut Draft)) {
    change(&mut draft);
    caught(code, &draft);
}

#[test]
fn untouched_folders_pass() {
    let round = Bed { shape: BedShape::Round, size_mm: [100.0, 100.0, 45.0], ..rect_bed([0.0; 3], 5.0) };
    for draft in [box_in_two(), tube_in_four(), letter(), letter_in_two(round)] {
        let report = audit(&draft.folder());
        assert!(report.ok(), "{:#?}", says(&report));
        assert_eq!((report.figures.open_edges, report.figures.overlaps), (0, 0));
        assert!(report.figures.volume_error < 1e-12, "{}", report.figures.volume_error);
        assert!(report.figures.worst_fit_margin_mm >= 0.0);
    }
}

#[test]
fn a_plan_without_audit_figures_is_only_examined() {
    let mut draft = box_in_two();
    draft.plan.audit = None;
    assert!(examine(&draft.folder()).ok());
    caught("audit-figures", &draft);
}

#[test]
fn a_missing_tenth_of_the_model_is_caught() {
    // The lowest tenth of the model goes, the piece stays closed and its records are true.
    let without_tenth = |d: &mut Draft| {
        let [_, rest] = halves(&d.piece_mesh(0), Plane { normal: [1.0, 0.0, 0.0], offset_mm: 10.0 });
        d.set_piece(0, &rest);
    };
    tamper("volume-sum", box_in_two(), without_tenth);
    tamper("stray-face", box_in_two(), without_tenth);
    tamper("skin-area", box_in_two(), without_tenth);
}

#[test]
fn two_lumps_in_one_file_are_caught() {
    // A piece cut apart whose halves stay in one file, drawn 1 mm apart.
    tamper("lumps", box_in_two(), |d| {
        let [low, high] = halves(&d.piece_mesh(0), Plane { normal: [0.0, 1.0, 0.0], offset_mm: 30.0 });
        let apart = mapped(high, |p| [p[0], p[1] + 1.0, p[2]]);
        d.set_piece(0, &together(low, apart));
    });
    // A ball loose in a cavity of its own.
    tamper("lumps", box_in_two(), |d| {
        let cavity = reversed(cuboid([10.0; 3], [30.0; 3], 1));
        let loose = cuboid([15.0; 3], [20.0; 3], 1);
        let piece = together(together(d.piece_mesh(0), cavity), loose);
        d.set_piece(0, &piece);
    });
}

#[test]
fn a_body_that_touches_another_or_fills_its_cavity_is_one_lump() {
    let extra = |low: [f64; 3], high: [f64; 3]| {
        let mut d = box_in_two();
        let piece = together(d.piece_mesh(0), cuboid(low, high, 1));
        d.set_piece(0, &piece);
        audit(&d.folder()).findings.iter().any(|f| f.code == "lumps")
    };
    assert!(!extra([10.0, 60.03, 10.0], [20.0, 70.0, 20.0]), "0.03 mm apart is touching");
    assert!(extra([10.0, 60.08, 10.0], [20.0, 70.0, 20.0]), "0.08 mm apart is not");
    assert!(!extra([10.0; 3], [20.0; 3]), "a body inside the solid is part of it");
}

#[test]
fn poses_that_mirror_or_leave_the_bed_are_caught() {
    tamper("pose-not-rigid", letter(), |d| {
        // The mirror image lies in the same box: only the letter tells.
        let (low, high) = box_of(&d.piece_mesh(0).0);
        let pose = &mut d.plan.pieces[0].pose;
        pose[0] = -1.0;
        pose[3] += low[0] + high[0];
        d.write_loads();
    });
    tamper("through-bed", letter(), |d| {
        d.plan.pieces[0].pose[11] -= 0.01;
        d.write_loads();
    });
    tamper("pose-height", letter(), |d| {
        d.plan.pieces[0].pose[11] += 0.01;
        d.write_loads();
    });
    tamper("outside-bed", letter(), |d| {
        d.plan.pieces[0].pose[3] -= 0.01;
        d.write_loads();
    });
    tamper("no-fit", letter(), |d| d.plan.beds[0].size_mm[2] = 34.9);
    tamper("keep-out", letter(), |d| {
        d.plan.beds[0].keep_out = vec![vec![[20.0, 20.0], [21.0, 20.0], [21.0, 21.0]]];
    });
    tamper("pose-kind", letter(), |d| d.plan.pieces[0].pose_kind = PoseKind::Held);
}

#[test]
fn a_mirrored_piece_in_a_rigid_pose_is_caught_in_the_print_job() {
    tamper("3mf-mesh", letter(), |d| {
        let mut fake = d.clone();
        let (low, high) = box_of(&d.piece_mesh(0).0);
        let mirrored = mapped(d.piece_mesh(0), |p| [low[0] + high[0] - p[0], p[1], p[2]]);
        fake.set_piece(0, &reversed(mirrored));
        d.files.insert("loads/load-01.3mf".into(), fake.files["loads/load-01.3mf"].clone());
    });
}

#[test]
fn an_overlap_of_three_tenths_of_a_mm_is_caught() {
    tamper("overlap", letter(), |d| {
        d.plan.pieces[1].pose[3] -= 5.3;
        d.write_loads();
    });
    // And a gap that is too narrow.
    tamper("gap", letter(), |d| {
        d.plan.pieces[1].pose[3] -= 0.3;
        d.write_loads();
    });
}

#[test]
fn false_seam_figures_are_caught() {
    tamper("seam-line", tube_in_four(), |d| {
        d.plan.seams[2].line_mm -= 1.0;
        d.plan.totals.seam_mm -= 1.0;
        d.plan.seams[2].visible_mm -= 1.0;
        d.plan.totals.visible_mm -= 1.0;
    });
    tamper("seam-area", letter(), |d| d.plan.seams[0].bond_area_mm2 += 5.0);
    tamper("seam-visible", letter(), |d| d.plan.seams[0].visible_mm -= 1.0);
    tamper("seam-detail", letter(), |d| d.plan.seams[0].through_detail_mm = 0.0);
    tamper("seam-hollow", letter(), |d| d.plan.seams[0].in_hollow_mm += 1.0);
    tamper("totals", letter(), |d| d.plan.totals.seam_mm += 0.1);
    tamper("minutes", letter(), |d| d.plan.totals.finishing_min = Some(1.0));
    tamper("minutes", letter(), |d| d.plan.seams[0].cost_min = None);
    tamper("minutes", letter(), |d| drop(d.plan.assumed.pop_first()));
    tamper("line-parts", letter(), |d| d.plan.seams[0].through_detail_mm = 181.0);
}

/// The box in two with marks that its plan keeps to: its seam stays, its first piece is printed.
fn marked_box() -> Draft {
    let mut draft = box_in_two();
    let plane = draft.plan.seams[0].plane;
    draft.plan.items[0].marks = MarksRecord {
        size_mm: draft.plan.items[0].size_mm,
        locked: vec![SeamMark::new(plane, [50.0, 0.0, 20.0])],
        printed: vec![[25.0, 0.0, 20.0]],
        ..MarksRecord::default()
    };
    draft.plan.seams[0].at_mm = Some([50.0, 0.0, 20.0]);
    draft.plan.pieces[0].at_mm = Some([25.0, 0.0, 20.0]);
    draft
}

#[test]
fn marks_that_a_plan_does_not_keep_to_are_caught() {
    let report = audit(&marked_box().folder());
    assert!(report.ok(), "{:#?}", says(&report));
    tamper("marks", marked_box(), |d| d.plan.items[0].marks.locked[0].plane.offset_mm = 55.0);
    tamper("marks", marked_box(), |d| d.plan.items[0].marks.printed[0] = [25.0, -5.0, 20.0]);
    tamper("marks", marked_box(), |d| {
        let plane = PlaneRecord { normal: [0.98, 0.0, libm::sqrt(1.0 - 0.98 * 0.98)], offset_mm: 60.0 };
        d.plan.items[0].marks.forbidden = vec![SeamMark::new(plane, [60.0, 30.0, 0.0])];
    });
    tamper("marks", marked_box(), |d| d.plan.items[0].marks.locked[0].plane.normal = [2.0, 0.0, 0.0]);
    tamper("marks", marked_box(), |d| d.plan.seams[0].at_mm = Some([51.0, 0.0, 20.0]));
    tamper("marks", marked_box(), |d| d.plan.pieces[0].at_mm = Some([25.0, 3.0, 20.0]));
    // Without marks a plan has no excuse for more pieces than the grid.
    tamper("grid", box_in_two(), |d| d.plan.grid[0].pieces = 1);
}

#[test]
fn seams_and_contacts_that_do_not_belong_together_are_caught() {
    // A seam between pieces that never meet.
    tamper("seam-without-contact", tube_in_four(), |d| {
        let mut seam = d.plan.seams[0].clone();
        seam.id = "tube-s9".into();
        seam.pieces = ["tube-1".into(), "tube-4".into()];
        d.plan.seams.push(seam);
    });
    // Pieces 3 and 4 still name the plane they meet on, but each with the wrong neighbour.
    tamper("contact-without-seam", tube_in_four(), |d| {
        for (id, pieces) in [("tube-s2", ["tube-3", "tube-2"]), ("tube-s9", ["tube-1", "tube-4"])] {
            let mut seam = d.plan.seams[0].clone();
            seam.id = id.into();
            seam.pieces = pieces.map(Into::into);
            d.plan.seams.push(seam);
        }
        d.plan.seams.remove(1);
    });
    tamper("seam-sides", letter(), |d| d.plan.seams[0].pieces.swap(0, 1));
    // The plane is elsewhere: cut faces lie on nothing the piece may show.
    tamper("stray-face", letter(), |d| d.plan.seams[0].plane.offset_mm += 0.1);
    // One side is shorter than it should be: its face is a cut face, but no mate meets it.
    tamper("face-without-mate", tube_in_four(), |d| {
        let [low, _] = halves(&d.piece_mesh(0), Plane { normal: [0.0, 0.0, 1.0], offset_mm: 20.0 });
        d.set_piece(0, &low);
    });
}

#[test]
fn missing_stray_and_swapped_files_are_caught() {
    tamper("missing-file", letter(), |d| {
        d.files.remove("pieces/letter-2.stl");
    });
    tamper("stray-file", letter(), |d| {
        let copy = d.files["pieces/letter-2.stl"].clone();
        d.files.insert("pieces/letter-3.stl".into(), copy);
    });
    tamper("3mf-mesh", letter(), |d| {
        let mut fake = d.clone();
        let (one, two) = (d.piece_mesh(0), d.piece_mesh(1));
        fake.set_piece(0, &two);
        fake.set_piece(1, &one);
        d.files.insert("loads/load-01.3mf".into(), fake.files["loads/load-01.3mf"].clone());
    });
    tamper("3mf-objects", letter(), |d| {
        let mut fake = d.clone();
        fake.plan.loads[0].pieces.pop();
        fake.write_loads();
        d.files.insert("loads/load-01.3mf".into(), fake.files["loads/load-01.3mf"].clone());
    });
    tamper("bad-3mf", letter(), |d| {
        d.files.insert("loads/load-01.3mf".into(), b"no archive".to_vec());
    });
    tamper("posed-file", letter(), |d| {
        d.files.insert("posed/letter-1.stl".into(), d.files["pieces/letter-1.stl"].clone());
    });
}

#[test]
fn broken_meshes_are_caught() {
    tamper("not-closed", letter(), |d| {
        let mut mesh = d.piece_mesh(0);
        mesh.1[7].swap(1, 2);
        d.set_piece(0, &mesh);
    });
    tamper("not-closed", letter(), |d| {
        let mut mesh = d.piece_mesh(0);
        mesh.1.pop();
        d.set_piece(0, &mesh);
    });
    tamper("inside-out", letter(), |d| {
        let mesh = reversed(d.piece_mesh(0));
        d.set_piece(0, &mesh);
    });
    tamper("piece-volume", letter(), |d| d.plan.pieces[0].volume_mm3 += 0.01);
    tamper("piece-area", letter(), |d| d.plan.pieces[0].area_mm2 += 0.01);
    tamper("bad-stl", letter(), |d| {
        d.files.get_mut("pieces/letter-1.stl").unwrap().pop();
    });
    tamper("item-origin", letter(), |d| {
        let moved = mapped(seamwright_tests::folders::unstl(&d.files["items/letter.stl"]), |p| {
            [p[0] + 0.5, p[1], p[2]]
        });
        d.files.insert("items/letter.stl".into(), stl(&moved));
    });
}

#[test]
fn a_skin_that_is_not_the_items_is_caught() {
    // A dent in the relief: closed, rightly recorded, the wrong shape.
    tamper("stray-face", letter(), |d| {
        let dented =
            mapped(d.piece_mesh(0), |p| if p == [10.0, 20.0, 30.0] { [p[0], p[1], p[2] - 0.05] } else { p });
        d.set_piece(0, &dented);
    });
    // The same piece twice in place of its neighbour.
    tamper("skin-twice", tube_in_four(), |d| {
        let twin = d.piece_mesh(0);
        d.set_piece(1, &twin);
    });
}

#[test]
fn counts_that_do_not_add_up_are_caught() {
    tamper("grid", letter(), |d| d.plan.grid[0].pieces = 1);
    // A grid made to look worse than it is lets a bad plan pass.
    tamper("grid", letter(), |d| d.plan.grid[0].pieces = 3);
    tamper("grid-line", letter(), |d| d.plan.grid[0].line_mm = 160.0);
    tamper("load-membership", letter(), |d| d.plan.pieces[0].load = "load-02".into());
    tamper("load-membership", tube_in_four(), |d| {
        d.plan.loads[1].pieces.push("tube-1".into());
    });
    tamper("used-fraction", letter(), |d| d.plan.loads[0].used_fraction *= 1.2);
    tamper("repeated-id", letter(), |d| d.plan.pieces[1].id = "letter-1".into());
    tamper("bad-id", letter(), |d| d.plan.items[0].id = "Letter".into());
    tamper("fit-margin", letter(), |d| d.plan.pieces[0].fit.margin_printable_mm += 0.01);
    tamper("fit-any", letter(), |d| d.plan.pieces[0].fit.margin_any_mm -= 0.01);
    tamper("fit-any", letter(), |d| d.plan.pieces[0].fit.margin_any_mm = 30.0);
    // The first half turned by 90 degrees has more room than the pose used.
    tamper("fit-any", box_in_two(), |d| {
        let fit = &mut d.plan.pieces[0].fit;
        fit.margin_any_mm = fit.margin_printable_mm;
    });
}

#[test]
fn a_join_order_that_cannot_be_done_is_caught() {
    tamper("join-direction", letter(), |d| {
        d.plan.join_order[0].direction = [0.0, 1.0, 0.0];
    });
    // Right along the seam, and through the whole block: the wrong half moves.
    tamper("join-blocked", letter(), |d| d.plan.join_order[0].direction = [0.0, 1.0, 0.0]);
    tamper("join-seams", tube_in_four(), |d| {
        d.plan.join_order[2].seams.pop();
    });
    tamper("join-assembly", tube_in_four(), |d| {
        d.plan.join_order[2].from.pop();
    });
    tamper("join-steps", tube_in_four(), |d| d.plan.join_order.swap(0, 1));
}

#[test]
fn a_piece_against_an_area_that_is_kept_out_passes_and_one_on_it_does_not() {
    let mut d = letter();
    let piece = d.piece_mesh(0);
    let (low, high) = box_of(&seamwright_tests::folders::posed(&piece, &d.plan.pieces[0].pose).0);
    // Beside its left side, a rounding inside it; then as far inside as counts.
    let strip = |x: f64| vec![vec![[0.0, low[1] - 1.0], [x, low[1] - 1.0], [x, high[1]], [0.0, high[1]]]];
    d.plan.beds[0].keep_out = strip(low[0] + 1e-9);
    let report = audit(&d.folder());
    assert!(report.ok(), "{:#?}", says(&report));
    d.plan.beds[0].keep_out = strip(low[0] + 1e-5);
    caught("keep-out", &d);
}

#[test]
fn a_piece_moved_in_its_own_bed_still_passes() {
    let mut d = letter();
    let mesh = d.piece_mesh(1);
    d.plan.pieces[1].pose = pose_at(&mesh, UPRIGHT, [70.0, 10.0]);
    d.write_loads();
    let report = audit(&d.folder());
    assert!(report.ok(), "{:#?}", says(&report));
}
