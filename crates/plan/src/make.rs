//! Make a plan folder: read, search, measure, lay, write, audit.
//!
//! Stages follow each other as in the table of contents above; each is one function of its inputs.
//! The folder is a map from paths to bytes: who calls decides where it goes.
//! With [`Budget::Effort`] equal inputs give equal bytes in every file but `run.json`.

use crate::PlanError;
use crate::audit::{self, Folder};
use crate::card::bed_record;
use crate::item::{SizedItem, read_item};
use crate::job::{Budget, ModelInput, News, Options, Watch};
use crate::laying::{self, Resting};
use crate::pool::Pool;
use crate::project::{Decision, PROJECT_FILE, project_bytes};
use crate::records::{self, PoseKind as KindRecord};
use crate::seaming;
use crate::side::{FinalPiece, Side};
use seamwright_bed::PoseKind;
use seamwright_loads::drawing::{DrawnPiece, LayTitle, lay_svg};
use seamwright_mesh::write::stl::stl_bytes;
use seamwright_mesh::write::threemf::{JobObject, threemf_bytes};
use seamwright_seams::partition::Partition;
use seamwright_seams::search::Search;
use std::collections::{BTreeMap, BTreeSet};

/// A finished plan.
pub struct Made {
    /// All files of the plan folder.
    pub folder: Folder,
    /// What `plan.json` holds.
    pub plan: records::Plan,
    /// What the audit found against it; empty where all holds.
    pub findings: Vec<audit::Finding>,
}

/// Rounds without a better plan after which a search bounded by time ends.
const PATIENCE: u64 = 12;

/// Most item names kept apart by a number before giving up.
const SAME_NAMES: usize = 10_000;

/// Plans the costume.
///
/// # Errors
/// [`PlanError`] naming the file, where and why.
pub fn make_plan(models: &[ModelInput], options: &Options, watch: &dyn Watch) -> Result<Made, PlanError> {
    if options.beds.is_empty() {
        return Err(PlanError::NoBed);
    }
    let pool = Pool::new(options.n_threads);
    let mut items = Vec::new();
    for model in models {
        let item = read_item(model)?;
        watch.tell(News::Read {
            item: item.id.clone(),
            triangles: item.solid.n_triangles(),
            size_mm: item.solid.size_mm(),
        });
        items.push(item);
    }
    name_apart(models, &mut items);
    let (searches, history) = search_all(&items, options, &pool, watch);
    watch.tell(News::Stage("measuring seams"));
    let finished = |((model, item), search): ((&ModelInput, &SizedItem), &Search)| {
        let side = Side::new(item, search, &options.beds, &pool)?;
        let mirrored = model.settings.pair.then(|| side.mirrored(item, search, &options.beds, &pool));
        Ok((side, mirrored))
    };
    let sides: Vec<(Side, Option<Side>)> =
        models.iter().zip(&items).zip(&searches).map(finished).collect::<Result<_, PlanError>>()?;
    let made = expand(models, &items, &sides);
    watch.tell(News::Stage("laying pieces"));
    let mut writing = Writing::new(options, &history, &searches);
    writing.items(&made);
    writing.lay(&made, options)?;
    let decisions = items.iter().zip(&sides);
    let decisions =
        decisions.map(|(item, (side, _))| Decision { item: item.id.clone(), planes: side.planes.clone() });
    let project = project_bytes(models, options, decisions.collect())?;
    writing.folder.files.insert(PROJECT_FILE.into(), project);
    writing.finish(watch, &history, &searches, &pool)
}

/// Gives items different ids, their copies and mirrored sides included.
fn name_apart(models: &[ModelInput], items: &mut [SizedItem]) {
    // Leaves room for `-c99-mirrored-s999` within the 40 characters of an id.
    const LONGEST: usize = 22;
    let mut taken = BTreeSet::new();
    for (model, item) in models.iter().zip(items) {
        let named = |n: usize| {
            let suffix = if n == 1 { String::new() } else { format!("-{n}") };
            let kept: String = item.id.chars().take(LONGEST - suffix.len()).collect();
            format!("{}{suffix}", kept.trim_end_matches('-'))
        };
        let all = |id: &str| -> Vec<String> {
            let copies = (1..=n_copies(model)).map(|copy| copy_id(id, copy));
            copies.flat_map(|id| [mirrored_id(&id), id]).collect()
        };
        let free = (1..SAME_NAMES).map(named).find(|id| all(id).iter().all(|id| !taken.contains(id)));
        item.id = free.unwrap_or_else(|| named(1));
        taken.extend(all(&item.id));
    }
}

/// The anytime curve: seconds, round, pieces of the whole costume.
type History = Vec<(f64, u64, usize)>;

fn search_all(
    items: &[SizedItem],
    options: &Options,
    pool: &Pool,
    watch: &dyn Watch,
) -> (Vec<Search>, History) {
    let mut searches: Vec<Search> = pool.map(items, |item| {
        let search = Search::new(&item.solid, &options.beds, options.seed, options.prefer);
        let pieces = search.grid().partition.n_pieces();
        watch.tell(News::FirstPlan { item: item.id.clone(), pieces });
        search
    });
    let total = |searches: &[Search]| -> usize {
        searches.iter().filter_map(Search::best).map(Partition::n_pieces).sum()
    };
    let mut history = vec![(watch.seconds(), 0, total(&searches))];
    let stop = || watch.stop();
    let mut since_better = 0;
    for round in 1.. {
        let over = match options.budget {
            Budget::Effort(rounds) => round > rounds || watch.stop(),
            Budget::Watch => watch.stop() || since_better >= PATIENCE,
        };
        let tasks: Vec<(usize, seamwright_seams::search::Task)> = searches
            .iter()
            .enumerate()
            .flat_map(|(i, search)| search.tasks().into_iter().map(move |task| (i, task)))
            .collect();
        if over || tasks.is_empty() {
            break;
        }
        let mut results = pool.map(&tasks, |(i, task)| searches[*i].run(task, &stop)).into_iter();
        let mut changed = false;
        for (i, search) in searches.iter_mut().enumerate() {
            let n = tasks.iter().filter(|(of, _)| *of == i).count();
            let own: Vec<Option<Partition>> = results.by_ref().take(n).collect();
            if n > 0 {
                changed |= search.merge(own);
            }
        }
        since_better = if changed { 0 } else { since_better + 1 };
        let pieces = total(&searches);
        history.push((watch.seconds(), round, pieces));
        let candidates = searches.iter().map(|s| s.candidates() as u64).sum();
        watch.tell(News::Round { round, pieces, candidates });
    }
    (searches, history)
}

/// An item as it will be written: an original, a copy or a mirrored side.
struct MadeItem<'a> {
    id: String,
    source: &'a SizedItem,
    side: &'a Side,
    copy_of: Option<String>,
    mirror_of: Option<String>,
}

/// Id of copy `copy`, counted from 1, of an item.
fn copy_id(id: &str, copy: u32) -> String {
    if copy == 1 { id.to_owned() } else { format!("{id}-c{copy}") }
}

/// Id of the mirrored side of an item or copy.
fn mirrored_id(id: &str) -> String {
    format!("{id}-mirrored")
}

fn expand<'a>(
    models: &[ModelInput],
    items: &'a [SizedItem],
    sides: &'a [(Side, Option<Side>)],
) -> Vec<MadeItem<'a>> {
    let mut made = Vec::new();
    for ((model, source), (side, mirrored)) in models.iter().zip(items).zip(sides) {
        for copy in 1..=n_copies(model) {
            let id = copy_id(&source.id, copy);
            let copy_of = (copy > 1).then(|| source.id.clone());
            made.push(MadeItem { id: id.clone(), source, side, copy_of, mirror_of: None });
            if let Some(side) = mirrored {
                let mirror_of = Some(source.id.clone());
                made.push(MadeItem { id: mirrored_id(&id), source, side, copy_of: None, mirror_of });
            }
        }
    }
    made
}

fn n_copies(model: &ModelInput) -> u32 {
    model.settings.copies.unwrap_or(1).max(1)
}

struct Writing {
    folder: Folder,
    plan: records::Plan,
}

impl Writing {
    fn new(options: &Options, history: &History, searches: &[Search]) -> Self {
        let effort = match options.budget {
            Budget::Effort(rounds) => Some(rounds),
            Budget::Watch => None,
        };
        let mut falling: Vec<records::HistoryRow> = Vec::new();
        for &(_, round, pieces) in history {
            if falling.last().is_none_or(|row| row.pieces != pieces) {
                falling.push(records::HistoryRow { round, pieces, cost_min: None });
            }
        }
        let plan = records::Plan {
            format: records::PLAN_FORMAT.into(),
            version: records::VERSION,
            made_with: records::MadeWith {
                program_version: env!("CARGO_PKG_VERSION").into(),
                seed: options.seed,
                effort,
            },
            assumed: BTreeMap::new(),
            items: Vec::new(),
            beds: options.beds.iter().map(bed_record).collect(),
            pieces: Vec::new(),
            extras: Vec::new(),
            seams: Vec::new(),
            bounds: Vec::new(),
            grid: Vec::new(),
            join_order: Vec::new(),
            loads: Vec::new(),
            totals: records::Totals::default(),
            search: records::Search {
                rounds: history.last().map_or(0, |row| row.1),
                candidates: searches.iter().map(|s| s.candidates() as u64).sum(),
                history: falling,
            },
            audit: None,
        };
        Self { folder: Folder { files: BTreeMap::new() }, plan }
    }

    fn items(&mut self, made: &[MadeItem]) {
        for item in made {
            let (source, side) = (item.source, item.side);
            let file = format!("items/{}.stl", item.id);
            self.folder.files.insert(file.clone(), stl_bytes(&side.solid));
            self.plan.items.push(records::Item {
                id: item.id.clone(),
                name: source.name.clone(),
                role: source.role.clone(),
                copy_of: item.copy_of.clone(),
                mirror_of: item.mirror_of.clone(),
                worn_at: None,
                source_sha256: source.sha256.clone(),
                file,
                placement: side.placement.0,
                triangles: side.solid.n_triangles(),
                bodies: side.solid.n_bodies(),
                closed: true,
                volume_mm3: side.solid.volume_mm3(),
                solid_mm3: side.solid.solid_mm3(),
                area_mm2: side.solid.area_mm2(),
                size_mm: side.solid.size_mm(),
                notices: source
                    .notices
                    .iter()
                    .map(|n| records::NoticeRecord {
                        code: n.code.into(),
                        text: n.text.clone(),
                        count: n.count,
                        at_mm: n.at_mm.clone(),
                    })
                    .collect(),
            });
            self.plan.grid.push(records::GridRow { item: item.id.clone(), ..side.grid.clone() });
            let piece_ids: Vec<String> =
                (1..=side.pieces.len()).map(|n| format!("{}-{n}", item.id)).collect();
            let (seams, steps) = seaming::records(
                &item.id,
                &piece_ids,
                &side.seaming,
                &side.planes,
                self.plan.join_order.len() + 1,
            );
            self.plan.seams.extend(seams);
            self.plan.join_order.extend(steps);
            for (id, piece) in piece_ids.into_iter().zip(&side.pieces) {
                let file = format!("pieces/{id}.stl");
                self.folder.files.insert(file.clone(), stl_bytes(&piece.solid));
                self.plan.pieces.push(records::Piece {
                    id,
                    item: item.id.clone(),
                    file,
                    triangles: piece.solid.n_triangles(),
                    volume_mm3: piece.solid.volume_mm3(),
                    removed_mm3: None,
                    added_mm3: None,
                    area_mm2: piece.solid.area_mm2(),
                    mass_g: None,
                    load: String::new(),
                    fit: records::Fit { bed: String::new(), margin_any_mm: 0.0, margin_printable_mm: 0.0 },
                    pose_kind: match piece.kind {
                        PoseKind::Face => KindRecord::Face,
                        PoseKind::Stable => KindRecord::Stable,
                        PoseKind::Held => KindRecord::Held,
                    },
                    support_mm3: None,
                    pose: piece.pose.0,
                });
            }
        }
    }

    fn lay(&mut self, made: &[MadeItem], options: &Options) -> Result<(), PlanError> {
        let pieces: Vec<&FinalPiece> = made.iter().flat_map(|item| &item.side.pieces).collect();
        let resting: Vec<Resting> = pieces
            .iter()
            .map(|piece| Resting {
                hull_mm: piece.hull_mm.clone(),
                pose: piece.pose,
                bed_index: piece.bed_index,
                kind: piece.kind,
            })
            .collect();
        let (loads, poses) = laying::lay_all(&resting, &options.beds)?;
        for (index, laid) in poses.iter().enumerate() {
            let bed_index = loads[laid.load].bed_index;
            let record = &mut self.plan.pieces[index];
            record.load = load_id(laid.load);
            record.pose = laid.pose.0;
            record.fit = records::Fit {
                bed: options.beds[bed_index].id.clone(),
                margin_any_mm: pieces[index].margin_any_mm[bed_index].max(laid.margin_mm),
                margin_printable_mm: laid.margin_mm,
            };
        }
        for (number, load) in loads.iter().enumerate() {
            let bed = &options.beds[load.bed_index];
            let on: Vec<usize> = load.pieces.iter().map(|laid| laid.index).collect();
            let points: Vec<Vec<[f64; 3]>> = on.iter().map(|&i| pieces[i].solid.points_mm()).collect();
            let objects: Vec<JobObject> = on
                .iter()
                .zip(&points)
                .map(|(&i, points_mm)| JobObject {
                    name: &self.plan.pieces[i].id,
                    part_number: &self.plan.pieces[i].id,
                    points_mm,
                    triangles: pieces[i].solid.triangles(),
                    placement: poses[i].pose,
                })
                .collect();
            let id = load_id(number);
            let file = format!("loads/{id}.3mf");
            self.folder.files.insert(file.clone(), threemf_bytes(&objects));
            let drawn: Vec<DrawnPiece> = on
                .iter()
                .map(|&i| DrawnPiece {
                    index: i,
                    number: i as u32 + 1,
                    id: self.plan.pieces[i].id.clone(),
                    outlines_mm: vec![laying::outline(&resting[i])],
                    front: laying::front(&resting[i]),
                })
                .collect();
            let title = LayTitle {
                costume: self.plan.items.first().map_or_else(String::new, |item| item.name.clone()),
                load: format!("Load {} of {}", number + 1, loads.len()),
            };
            let drawing = lay_svg(load, bed, &drawn, &title);
            self.folder.files.insert(format!("loads/{id}.svg"), drawing.into_bytes());
            self.plan.loads.push(records::Load {
                id,
                bed: bed.id.clone(),
                printer: None,
                file,
                pieces: on.iter().map(|&i| self.plan.pieces[i].id.clone()).collect(),
                extras: None,
                used_fraction: load.used_fraction,
                print_s: None,
                mass_g: None,
                filament_m: None,
            });
        }
        if options.posed {
            for (index, laid) in poses.iter().enumerate() {
                let bytes = laying::posed_stl(&pieces[index].solid, &laid.pose);
                self.folder.files.insert(format!("posed/{}.stl", self.plan.pieces[index].id), bytes);
            }
        }
        Ok(())
    }

    fn finish(
        mut self,
        watch: &dyn Watch,
        history: &History,
        searches: &[Search],
        pool: &Pool,
    ) -> Result<Made, PlanError> {
        let sum = |of: fn(&records::Seam) -> f64| self.plan.seams.iter().map(of).sum();
        self.plan.totals = records::Totals {
            pieces: self.plan.pieces.len(),
            loads: self.plan.loads.len(),
            held: self.plan.pieces.iter().filter(|p| p.pose_kind == KindRecord::Held).count(),
            seam_mm: sum(|s| s.line_mm),
            visible_mm: sum(|s| s.visible_mm),
            through_detail_mm: sum(|s| s.through_detail_mm),
            ..records::Totals::default()
        };
        let fail = |e: serde_json::Error| PlanError::Write(e.to_string());
        let run = |seconds: f64| {
            let candidates: usize = searches.iter().map(Search::candidates).sum();
            let row = |&(seconds, round, pieces)| records::RunRow { seconds, round, pieces, cost_min: None };
            records::to_json(&records::Run {
                format: records::RUN_FORMAT.into(),
                version: records::VERSION,
                seconds,
                threads: pool.n_threads(),
                candidates_per_second: candidates as f64 / seconds.max(1e-3),
                history: history.iter().map(row).collect(),
            })
        };
        self.folder.files.insert("run.json".into(), run(watch.seconds()).map_err(fail)?);
        self.folder.files.insert("plan.json".into(), records::to_json(&self.plan).map_err(fail)?);
        watch.tell(News::Stage("auditing the files"));
        let report = audit::examine(&self.folder);
        self.plan.audit = Some(report.figures);
        self.folder.files.insert("plan.json".into(), records::to_json(&self.plan).map_err(fail)?);
        self.folder.files.insert("run.json".into(), run(watch.seconds()).map_err(fail)?);
        Ok(Made { folder: self.folder, plan: self.plan, findings: report.findings })
    }
}

fn load_id(number: usize) -> String {
    format!("load-{:02}", number + 1)
}
