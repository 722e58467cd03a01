//! Make a plan folder: read, search, measure, lay, write, audit.
//!
//! Stages follow each other as in the table of contents above; each is one function of its inputs.
//! The folder is a map from paths to bytes: who calls decides where it goes.
//! With [`Budget::Effort`] equal inputs give equal bytes in every file but `run.json`.

use crate::audit::{self, Folder};
use crate::card::bed_record;
use crate::item::{SizedItem, read_item};
use crate::job::{Budget, ModelInput, News, Options, Watch};
use crate::laying::{self, Resting};
use crate::pool::Pool;
use crate::project::{Decision, PROJECT_FILE, project_bytes};
use crate::records::{self, PlaneRecord, PoseKind as KindRecord};
use crate::seaming::{self, Seaming};
use crate::{PlanError, mirror};
use seamwright_bed::{Bed, FitOptions, Goal, PoseKind, fit_any, prepare};
use seamwright_loads::drawing::{DrawnPiece, LayTitle, lay_svg};
use seamwright_mesh::write::stl::stl_bytes;
use seamwright_mesh::write::threemf::{JobObject, threemf_bytes};
use seamwright_mesh::{Placement, Solid};
use seamwright_seams::partition::Partition;
use seamwright_seams::patches::{InnerRule, SkinMap, SkinProbe};
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

/// Cells of the certified fit for the margins written down: about 0.1 s a piece.
const FINAL_CELLS: u32 = 8_000;

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
    name_apart(&mut items);
    let (searches, history) = search_all(&items, options, &pool, watch);
    watch.tell(News::Stage("measuring seams"));
    let planned: Vec<Planned> = items
        .iter()
        .zip(&searches)
        .map(|(item, search)| Planned::new(item, search, &options.beds, &pool))
        .collect::<Result<_, _>>()?;
    let made = expand(models, &items, &planned, options);
    watch.tell(News::Stage("laying pieces"));
    let mut writing = Writing::new(options, &history, &searches);
    writing.items(&made);
    writing.lay(&made, options)?;
    let decisions = items.iter().zip(&planned);
    let decisions = decisions.map(|(item, p)| Decision { item: item.id.clone(), planes: p.planes.clone() });
    let project = project_bytes(models, options, decisions.collect())?;
    writing.folder.files.insert(PROJECT_FILE.into(), project);
    writing.finish(watch, &history, &searches, &pool)
}

/// Gives items of the same name different ids.
fn name_apart(items: &mut [SizedItem]) {
    let mut taken = BTreeSet::new();
    for item in items {
        let base = item.id.clone();
        let free = (1..SAME_NAMES)
            .map(|n| if n == 1 { base.clone() } else { format!("{base}-{n}") })
            .find(|id| !taken.contains(id));
        item.id = free.unwrap_or(base);
        taken.insert(item.id.clone());
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

/// One item with its plan, before copies and mirrored sides.
struct Planned {
    pieces: Vec<FinalPiece>,
    seaming: Seaming,
    planes: Vec<PlaneRecord>,
    grid: records::GridRow,
}

/// A piece as it will be written.
#[derive(Clone)]
struct FinalPiece {
    solid: Solid,
    hull_mm: Vec<[f64; 3]>,
    pose: Placement,
    bed_index: usize,
    kind: PoseKind,
    margin_any_mm: Vec<f64>,
}

impl Planned {
    fn new(item: &SizedItem, search: &Search, beds: &[Bed], pool: &Pool) -> Result<Self, PlanError> {
        let best = search.best().ok_or_else(|| PlanError::NoFit { item: item.id.clone() })?;
        let skin = skin_of(&item.solid, item.role.as_deref(), pool);
        let seaming = seaming::seaming(&item.solid, &skin, best);
        let pieces = pool.map(&seaming.pieces, |&index| {
            let part = &best.parts[index];
            let posed = part.posed.as_ref()?;
            let prepared = prepare(&part.hull);
            let first = [posed.placement.rows()];
            let goal = FitOptions { goal: Goal::Best, n_cells: FINAL_CELLS, first: &first };
            Some(FinalPiece {
                solid: part.solid.clone(),
                hull_mm: part.hull.points_mm.clone(),
                pose: posed.placement,
                bed_index: posed.bed_index,
                kind: posed.kind,
                margin_any_mm: beds.iter().map(|bed| fit_any(&prepared, bed, &goal).margin_mm).collect(),
            })
        });
        let pieces: Option<Vec<FinalPiece>> = pieces.into_iter().collect();
        Ok(Self {
            pieces: pieces.ok_or_else(|| PlanError::NoFit { item: item.id.clone() })?,
            planes: best
                .planes
                .iter()
                .map(|p| PlaneRecord { normal: p.normal, offset_mm: p.offset_mm })
                .collect(),
            grid: seaming::grid_row(&item.id, &item.solid, &skin, &search.grid().partition),
            seaming,
        })
    }
}

/// The skin map of an item, its rays cast on all threads.
fn skin_of(solid: &Solid, role: Option<&str>, pool: &Pool) -> SkinMap {
    const CHUNK: usize = 20_000;
    let probe = SkinProbe::new(solid);
    let starts: Vec<usize> = (0..solid.n_triangles()).step_by(CHUNK).collect();
    let seen = pool.map(&starts, |&start| probe.seen(start..(start + CHUNK).min(solid.n_triangles())));
    SkinMap::from_seen(probe, &seen.concat(), &InnerRule::of_role(role, solid))
}

/// An item as it will be written: an original, a copy or a mirrored side.
struct MadeItem<'a> {
    id: String,
    source: &'a SizedItem,
    planned: &'a Planned,
    copy_of: Option<String>,
    mirror_of: Option<String>,
    solid: Solid,
    pieces: Vec<FinalPiece>,
    placement: Placement,
    planes: Vec<PlaneRecord>,
}

fn expand<'a>(
    models: &[ModelInput],
    items: &'a [SizedItem],
    planned: &'a [Planned],
    options: &Options,
) -> Vec<MadeItem<'a>> {
    let mut made = Vec::new();
    for ((model, source), planned) in models.iter().zip(items).zip(planned) {
        let settings = &model.settings;
        let width_mm = source.solid.size_mm()[0];
        for copy in 1..=settings.copies.unwrap_or(1).max(1) {
            let id = if copy == 1 { source.id.clone() } else { format!("{}-c{copy}", source.id) };
            let original = MadeItem {
                id: id.clone(),
                source,
                planned,
                copy_of: (copy > 1).then(|| source.id.clone()),
                mirror_of: None,
                solid: source.solid.clone(),
                pieces: planned.pieces.clone(),
                placement: source.placement,
                planes: planned.planes.clone(),
            };
            made.push(original);
            if !settings.pair {
                continue;
            }
            let pieces = planned.pieces.iter().map(|piece| FinalPiece {
                solid: mirror::solid(&piece.solid, width_mm),
                hull_mm: piece.hull_mm.iter().map(|&p| mirror::flip(width_mm).apply(p)).collect(),
                pose: mirror::pose(&piece.pose, width_mm, options.beds[piece.bed_index].size_mm()[0]),
                ..piece.clone()
            });
            made.push(MadeItem {
                id: format!("{id}-mirrored"),
                source,
                planned,
                copy_of: None,
                mirror_of: Some(source.id.clone()),
                solid: mirror::solid(&source.solid, width_mm),
                pieces: pieces.collect(),
                placement: source.placement.then(&mirror::flip(width_mm)),
                planes: planned.planes.iter().map(|&p| mirror::plane(p, width_mm)).collect(),
            });
        }
    }
    made
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
            let file = format!("items/{}.stl", item.id);
            self.folder.files.insert(file.clone(), stl_bytes(&item.solid));
            let source = item.source;
            self.plan.items.push(records::Item {
                id: item.id.clone(),
                name: source.name.clone(),
                role: source.role.clone(),
                copy_of: item.copy_of.clone(),
                mirror_of: item.mirror_of.clone(),
                worn_at: None,
                source_sha256: source.sha256.clone(),
                file,
                placement: item.placement.0,
                triangles: item.solid.n_triangles(),
                bodies: item.solid.n_bodies(),
                closed: true,
                volume_mm3: item.solid.volume_mm3(),
                solid_mm3: item.solid.solid_mm3(),
                area_mm2: item.solid.area_mm2(),
                size_mm: item.solid.size_mm(),
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
            self.plan.grid.push(records::GridRow { item: item.id.clone(), ..item.planned.grid.clone() });
            let piece_ids: Vec<String> =
                (1..=item.pieces.len()).map(|n| format!("{}-{n}", item.id)).collect();
            let mirrored = item.mirror_of.is_some();
            let (seams, steps) = seaming::records(
                &item.id,
                &piece_ids,
                &item.planned.seaming,
                &item.planes,
                |d| if mirrored { mirror::direction(d) } else { d },
                self.plan.join_order.len() + 1,
            );
            self.plan.seams.extend(seams);
            self.plan.join_order.extend(steps);
            for (id, piece) in piece_ids.into_iter().zip(&item.pieces) {
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
        let pieces: Vec<&FinalPiece> = made.iter().flat_map(|item| &item.pieces).collect();
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
