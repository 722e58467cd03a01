//! The files of a plan folder and the records of `plan.json`, filled in the order of the stages.
//!
//! Not here: where the folder goes (the caller), whether it is true (`audit`).

use crate::PlanError;
use crate::audit;
use crate::audit::Folder;
use crate::card::bed_record;
use crate::item::SizedItem;
use crate::job::{Budget, News, Options, Watch};
use crate::laying;
use crate::laying::Resting;
use crate::minutes;
use crate::pool::Pool;
use crate::proof;
use crate::records;
use crate::records::PoseKind as KindRecord;
use crate::records::marks::MarksRecord;
use crate::seaming;
use crate::side::{FinalPiece, Side};
use seamwright_bed::PoseKind;
use seamwright_loads::drawing::{DrawnPiece, LayTitle, lay_svg};
use seamwright_mesh::write::stl::stl_bytes;
use seamwright_mesh::write::threemf::{JobObject, threemf_bytes};
use seamwright_seams::part::place_on;
use seamwright_seams::search::Search;
use std::collections::BTreeMap;

/// A finished plan.
pub struct Made {
    /// All files of the plan folder.
    pub folder: Folder,
    /// What `plan.json` holds.
    pub plan: records::Plan,
    /// What the audit found against it; empty where all holds.
    pub findings: Vec<audit::Finding>,
}

/// An item as it will be written: an original, a copy or a mirrored side.
pub(crate) struct MadeItem<'a> {
    pub id: String,
    pub source: &'a SizedItem,
    pub side: &'a Side,
    pub copy_of: Option<String>,
    pub mirror_of: Option<String>,
}

/// A point of the anytime curve.
pub(crate) struct Moment {
    pub seconds: f64,
    pub round: u64,
    /// Whether every item had a plan.
    pub is_plan: bool,
    /// Pieces of the whole costume.
    pub pieces: usize,
    /// Its finishing minutes as the search weighs them; none where some lines are not weighed yet.
    pub cost_min: Option<f64>,
}

pub(crate) struct Writing {
    pub folder: Folder,
    plan: records::Plan,
}

impl Writing {
    pub fn new(options: &Options, history: &[Moment], searches: &[Search]) -> Self {
        let effort = match options.budget {
            Budget::Effort(rounds) => Some(rounds),
            Budget::Watch => None,
        };
        let mut falling: Vec<records::HistoryRow> = Vec::new();
        for &Moment { round, pieces, cost_min, .. } in history.iter().filter(|moment| moment.is_plan) {
            if falling.last().is_none_or(|row| (row.pieces, row.cost_min) != (pieces, cost_min)) {
                falling.push(records::HistoryRow { round, pieces, cost_min });
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
            assumed: minutes::assumed(),
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
                rounds: history.last().map_or(0, |row| row.round),
                candidates: searches.iter().map(Search::candidates).sum(),
                history: falling,
            },
            audit: None,
        };
        Self { folder: Folder { files: BTreeMap::new() }, plan }
    }

    pub fn items(&mut self, made: &[MadeItem]) {
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
                notices: source.notices.iter().map(records::NoticeRecord::of).collect(),
                marks: if item.copy_of.is_none() && item.mirror_of.is_none() {
                    source.marks.clone()
                } else {
                    MarksRecord::default()
                },
            });
            self.plan.bounds.push(proof::bound_record(&item.id, &side.proof, side.pieces.len()));
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
                    at_mm: Some(place_on(&piece.solid)),
                });
            }
        }
    }

    pub fn lay(&mut self, made: &[MadeItem], options: &Options) -> Result<(), PlanError> {
        let pieces: Vec<&FinalPiece> = made.iter().flat_map(|item| &item.side.pieces).collect();
        let resting: Vec<Resting> = pieces
            .iter()
            .map(|piece| Resting {
                hull_mm: piece.hull_mm.clone(),
                pose: piece.pose,
                bed_index: piece.bed_index,
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

    pub fn finish(
        mut self,
        watch: &dyn Watch,
        history: &[Moment],
        searches: &[Search],
        pool: &Pool,
    ) -> Result<Made, PlanError> {
        let times = minutes::Times::of(&self.plan.assumed);
        for seam in &mut self.plan.seams {
            seam.cost_min = times.map(|times| times.seam_min(seam));
        }
        let sum = |of: fn(&records::Seam) -> f64| self.plan.seams.iter().map(of).sum();
        let pieces_min = times.map(|times| times.pieces_min(&self.plan.pieces));
        self.plan.totals = records::Totals {
            pieces: self.plan.pieces.len(),
            loads: self.plan.loads.len(),
            held: self.plan.pieces.iter().filter(|p| p.pose_kind == KindRecord::Held).count(),
            seam_mm: sum(|s| s.line_mm),
            visible_mm: sum(|s| s.visible_mm),
            through_detail_mm: sum(|s| s.through_detail_mm),
            finishing_min: pieces_min.map(|own| own + sum(|s| s.cost_min.unwrap_or(0.0))),
            ..records::Totals::default()
        };
        let fail = |e: serde_json::Error| PlanError::Write(e.to_string());
        let run = |seconds: f64| {
            let candidates: u64 = searches.iter().map(Search::candidates).sum();
            let row = |&Moment { seconds, round, pieces, cost_min, .. }: &Moment| records::RunRow {
                seconds,
                round,
                pieces,
                cost_min,
            };
            records::to_json(&records::Run {
                format: records::RUN_FORMAT.into(),
                version: records::VERSION,
                seconds,
                threads: pool.n_threads(),
                candidates_per_second: candidates as f64 / seconds.max(1e-3),
                history: history.iter().filter(|moment| moment.is_plan).map(row).collect(),
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
