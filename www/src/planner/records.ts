/**
 * Records of files as the core writes and reads them. Made by `cargo xtask page --types` from
 * `records.rs`, `records/marks.rs`, `project.rs`, `project/settings.rs`, `inspect.rs` and `remote/messages.rs` of `crates/plan/src`; change those instead.
 *
 * Units: lengths mm, areas mm2, volumes mm3, masses g, times s. An absent field means its stage does not exist.
 * Longer than 400 lines because it is the table of the file formats.
 */

export const ROLES = ["helm", "mask", "gorget", "pauldron", "rerebrace", "couter", "vambrace", "gauntlet", "breastplate", "backplate", "fauld", "tasset", "cuisse", "poleyn", "greave", "sabaton", "belt", "pack", "wings", "blade", "haft", "shield", "other"] as const;
export type Role = (typeof ROLES)[number];

export const UNITS = ["micron", "mm", "cm", "dm", "inch", "foot", "m"] as const;
export type Unit = (typeof UNITS)[number];

export const UPS = ["x", "y", "z"] as const;
export type Up = (typeof UPS)[number];

export const MENDS = ["as-it-looks", "fill", "wall", "no"] as const;
export type Mend = (typeof MENDS)[number];

export const STEPS = ["weld", "duplicates", "back-to-back", "junctions", "orient", "walls", "holes", "sheets", "dust"] as const;
export type Step = (typeof STEPS)[number];

export const PREFERS = ["balanced", "fewest", "hidden"] as const;
export type Prefer = (typeof PREFERS)[number];

/** All of `plan.json`. */
export interface Plan {
  /** [`PLAN_FORMAT`]. */
  format: string;
  /** [`VERSION`]. */
  version: number;
  /** What made the plan. */
  made_with: MadeWith;
  /** Every number behind mass, time, cost and minutes, by name. */
  assumed: Record<string, Assumed>;
  /** What is worn or carried, as cut. */
  items: Item[];
  /** The printers' beds. */
  beds: Bed[];
  /** Everything printed that is part of an item. */
  pieces: Piece[];
  /** Printed things that are not pieces. */
  extras?: Extra[];
  /** Where pieces meet. */
  seams: Seam[];
  /** Proven least numbers of pieces. */
  bounds?: Bound[];
  /** What the plain grid would give, one row an item. */
  grid: GridRow[];
  /** How the pieces come together. */
  join_order: JoinStep[];
  /** Print jobs. */
  loads: Load[];
  /** Sums over the whole costume. */
  totals: Totals;
  /** What the search did. */
  search: Search;
  /** What the audit found in the files; absent only while the folder is being made. */
  audit?: AuditFigures;
}

/** The program and the options that decide the result. */
export interface MadeWith {
  /** Version of the program. */
  program_version: string;
  /** Seed of the search. */
  seed: number;
  /** Rounds of search asked for; absent where the search was bounded by time. */
  effort?: number;
}

/** One assumed number. */
export interface Assumed {
  /** The number. */
  value: number;
  /** Its unit, e.g. `mm`. */
  unit: string;
  /** Where it comes from; `common practice` where nothing better is known. */
  source: string;
}

/** One item as cut. */
export interface Item {
  /** Id. */
  id: string;
  /** Name for people. */
  name: string;
  /** What it is worn as. */
  role?: string;
  /** Id of the item whose plan this one follows unchanged. */
  copy_of?: string;
  /** Id of the item whose plan this one follows mirrored. */
  mirror_of?: string;
  /** Where on the body it is worn. */
  worn_at?: string;
  /** SHA-256 of the model file, 64 lower-case hex digits. */
  source_sha256: string;
  /** Path in the folder: `items/<id>.stl`. */
  file: string;
  /** From coordinates of the model file to coordinates of the item. */
  placement: number[];
  /** Triangles in the file. */
  triangles: number;
  /** Closed connected surfaces. */
  bodies: number;
  /** Whether every edge is used equally often both ways and the volume is positive. */
  closed: boolean;
  /** Signed sum over bodies. */
  volume_mm3: number;
  /** The part with positive winding, overlaps once. */
  solid_mm3: number;
  /** Surface area. */
  area_mm2: number;
  /** Extents of the box, which starts at the origin. */
  size_mm: [number, number, number];
  /** Flaws of the model file. */
  notices: NoticeRecord[];
  /** What the maker marked on it; a copy or a mirrored side has none of its own. */
  marks?: MarksRecord;
}

/** A flaw of a model file. */
export interface NoticeRecord {
  /** Stable name. */
  code: string;
  /** One plain sentence. */
  text: string;
  /** How many places. */
  count: number;
  /** A few of the places. */
  at_mm: [number, number, number][];
}

/** Outline of a bed. */
export type BedShape = "rect" | "round";

/** One kind of printer bed. */
export interface Bed {
  /** Id. */
  id: string;
  /** Outline. */
  shape: BedShape;
  /** Width, depth, height; a round bed has its diameter twice. */
  size_mm: [number, number, number];
  /** Kept free on each side in X and Y and at the top. */
  margin_mm: number;
  /** Kept free between footprints in a load. */
  gap_mm?: number;
  /** How many such printers there are. */
  count: number;
  /** Areas of the bed that cannot be printed on, as polygons in bed coordinates. */
  keep_out: [number, number][][];
}

/** How well a piece fits the bed. */
export interface Fit {
  /** Id of the bed. */
  bed: string;
  /** Room left in the best rotation. */
  margin_any_mm: number;
  /** Room left in the pose used. */
  margin_printable_mm: number;
}

/** How a piece rests on the bed. */
export type PoseKind = "face" | "stable" | "held";

/** One printable chunk of an item. */
export interface Piece {
  /** Id. */
  id: string;
  /** Id of its item. */
  item: string;
  /** Path in the folder: `pieces/<id>.stl`. */
  file: string;
  /** Triangles in the file. */
  triangles: number;
  /** Signed sum over bodies, of the piece as filed. */
  volume_mm3: number;
  /** Taken away by joints. */
  removed_mm3?: number;
  /** Added by joints. */
  added_mm3?: number;
  /** Surface area, cut faces included. */
  area_mm2: number;
  /** Mass as printed. */
  mass_g?: number;
  /** Id of its load. */
  load: string;
  /** Its fit. */
  fit: Fit;
  /** How it rests. */
  pose_kind: PoseKind;
  /** Support material it needs. */
  support_mm3?: number;
  /** `p_bed = R p + t`; the bed's front-left-bottom corner is the origin. */
  pose: number[];
  /** A place on its skin, or inside an item on one of its cut faces. */
  at_mm?: [number, number, number];
}

/** What an extra is. */
export type ExtraKind = "stub" | "splint" | "ring" | "fit-card" | "coupon";

/** A printed thing that is not a piece. */
export interface Extra {
  /** Id. */
  id: string;
  /** What it is. */
  kind: ExtraKind;
  /** Id of the item, piece or seam it serves. */
  for: string;
  /** Path in the folder: `extras/<id>.stl`. */
  file: string;
  /** Signed volume. */
  volume_mm3: number;
  /** Mass as printed. */
  mass_g?: number;
  /** Id of its load. */
  load: string;
  /** As for pieces. */
  pose: number[];
}

/** Shape of a seam's surface. */
export type SeamShape = "flat";

/** A plane: `normal . p = offset_mm`, in item coordinates. */
export interface PlaneRecord {
  /** Unit normal, from the seam's first piece to its second. */
  normal: [number, number, number];
  /** Distance from the origin along the normal. */
  offset_mm: number;
}

/** One connected contact patch between two pieces. */
export interface Seam {
  /** Id. */
  id: string;
  /** Id of its item. */
  item: string;
  /** The piece below the plane, then the piece above it. */
  pieces: [string, string];
  /** Shape of its surface. */
  shape: SeamShape;
  /** Where it lies. */
  plane: PlaneRecord;
  /** The patch's whole boundary as cut. */
  line_mm: number;
  /** Line on skin that is seen. */
  visible_mm: number;
  /** Visible line over relief. */
  through_detail_mm: number;
  /** Visible line that lies in a hollow. */
  in_hollow_mm: number;
  /** Finishing minutes. */
  cost_min?: number;
  /** Area left to bond after joints. */
  bond_area_mm2: number;
  /** Thinnest wall the seam crosses. */
  min_wall_mm?: number;
  /** What aligns and holds it. */
  joints?: Joint[];
  /** How it is fixed. */
  bond?: Bond;
  /** What it carries. */
  strength?: Strength;
  /** A place on its line, where it shows if it does. */
  at_mm?: [number, number, number];
}

/** One joint of a seam. */
export interface Joint {
  /** `stub`, `tongue`, `housed-tongue`, `splint`, `magnet`, `channel`, `mark`, `wire`, `locator`, `seat` or `screw`. */
  kind: string;
  /** Its middle on the seam. */
  at_mm: [number, number, number];
  /** Unit vector along it. */
  axis: [number, number, number];
  /** Its sizes, as its kind orders them. */
  size_mm: number[];
  /** Why this one. */
  why: string;
}

/** How a seam is fixed. */
export interface Bond {
  /** `cyanoacrylate`, `epoxy`, `methacrylate`, `polyurethane`, `solvent`, `heat-weld`, `mechanical` or `magnet`. */
  method: string;
  /** Why this one. */
  why: string;
}

/** What a seam must carry and may carry. */
export interface Strength {
  /** Bending moment in N mm. */
  moment_nmm: number;
  /** Stress in MPa. */
  stress_mpa: number;
  /** Allowed stress in MPa. */
  allowed_mpa: number;
  /** Allowed over actual. */
  safety: number;
}

/** A proven least number of pieces for one item. */
export interface Bound {
  /** Id of the item. */
  item: string;
  /** No plan has fewer. */
  pieces_at_least: number;
  /** Whether the plan has exactly so many. */
  proven_fewest: boolean;
  /** One plain sentence. */
  how: string;
  /** Points and sets, so that others can re-check it. */
  proof: Proof;
}

/** Why an item cannot have fewer pieces: its lumps are apart, so their least numbers add up. */
export interface Proof {
  /** The lumps it falls into before any cut. */
  lumps: LumpProof[];
}

/** Why a lump cannot have fewer pieces. */
export interface LumpProof {
  /** A point of its surface, to know it by. */
  at_mm: [number, number, number];
  /** It is cut into at least so many pieces. */
  pieces_at_least: number;
  /** What shows it. */
  by: ProofBy;
  /** Points of its surface; each ends up in some piece. */
  points_mm: [number, number, number][];
  /** Positions of points that no bed holds together. */
  sets: number[][];
}

/** What shows a least number of pieces. */
export type ProofBy = "lump" | "volume" | "points";

/** The plain grid on one item. */
export interface GridRow {
  /** Id of the item. */
  item: string;
  /** Cells counted by lumps. */
  pieces: number;
  /** Its whole seam line. */
  line_mm: number;
  /** Its seam line on skin that is seen. */
  visible_mm: number;
  /** Its visible line over relief. */
  through_detail_mm: number;
}

/** One step of assembly. */
export interface JoinStep {
  /** Counted from 1. */
  step: number;
  /** Ids of the seams closed in it. */
  seams: string[];
  /** Ids of the pieces that move. */
  from: string[];
  /** Ids of the pieces they are pushed against. */
  to: string[];
  /** Unit vector along which `from` travels toward `to`, in item coordinates. */
  direction: [number, number, number];
}

/** A time with its spread, in seconds. */
export interface Spread {
  /** Hardly less than this. */
  low: number;
  /** Best estimate. */
  likely: number;
  /** Hardly more than this. */
  high: number;
}

/** One print job. */
export interface Load {
  /** Id: `load-01` and so on. */
  id: string;
  /** Id of the bed. */
  bed: string;
  /** Which printer runs it. */
  printer?: string;
  /** Path in the folder: `loads/<id>.3mf`. */
  file: string;
  /** Ids of its pieces. */
  pieces: string[];
  /** Ids of its extras. */
  extras?: string[];
  /** Footprints over the usable area of the bed. */
  used_fraction: number;
  /** Print time. */
  print_s?: Spread;
  /** Mass as printed. */
  mass_g?: number;
  /** Filament in metres. */
  filament_m?: number;
}

/** Sums over the costume. */
export interface Totals {
  /** Pieces of all items, copies and mirrored sides included. */
  pieces: number;
  /** Print jobs. */
  loads: number;
  /** Pieces that stand only with supports. */
  held: number;
  /** All seam lines. */
  seam_mm: number;
  /** Seam lines that are seen. */
  visible_mm: number;
  /** Seen lines over relief. */
  through_detail_mm: number;
  /** Finishing minutes. */
  finishing_min?: number;
  /** Mass as printed. */
  mass_g?: number;
  /** Filament in metres. */
  filament_m?: number;
  /** Print time on one printer after another. */
  print_s?: Spread;
  /** Print time with all printers at work. */
  makespan_s?: number;
  /** Money, in the currency of the assumed price. */
  cost?: number;
}

/** What the search did. */
export interface Search {
  /** Rounds done. */
  rounds: number;
  /** Planes looked at: each with the lumps it leaves, how both sides fit and what its line costs. */
  candidates: number;
  /** The best plan each time it got better. */
  history: HistoryRow[];
}

/** The best plan after some round. */
export interface HistoryRow {
  /** Round, counted from 0. */
  round: number;
  /** Pieces of all items, mirrored sides and copies included. */
  pieces: number;
  /** Finishing minutes. */
  cost_min?: number;
}

/** The figures of the audit. */
export interface AuditFigures {
  /** Largest |sum of pieces - item| over the item's volume. */
  volume_error: number;
  /** Edges not used equally often both ways, over all pieces. */
  open_edges: number;
  /** Edges used by more than two triangles, over all pieces. */
  nonmanifold_edges: number;
  /** Smallest room left by a piece in its pose. */
  worst_fit_margin_mm: number;
  /** Pairs of posed things that overlap. */
  overlaps: number;
  /** Whether all holds. */
  ok: boolean;
}

/** All of `run.json`: what depends on the machine and the hour. */
export interface Run {
  /** [`RUN_FORMAT`]. */
  format: string;
  /** [`VERSION`]. */
  version: number;
  /** Wall time of the whole call. */
  seconds: number;
  /** Threads used. */
  threads: number;
  /** Planes looked at a second, over the whole call. */
  candidates_per_second: number;
  /** The best plan by time. */
  history: RunRow[];
}

/** The best plan after some time. */
export interface RunRow {
  /** Wall time since the start. */
  seconds: number;
  /** Round, counted from 0. */
  round: number;
  /** Pieces of all items, mirrored sides and copies included. */
  pieces: number;
  /** Finishing minutes. */
  cost_min?: number;
}

/** All marks on one item. */
export interface MarksRecord {
  /** Size of the item they were made on. */
  size_mm: [number, number, number];
  /** Seams that stay, in the order they are cut. */
  locked?: SeamMark[];
  /** Seams that are not wanted. */
  forbidden?: SeamMark[];
  /** Chalk, dab by dab; the later counts where two meet. */
  chalk?: ChalkDab[];
  /** A place on each piece that is printed already; the seams round it are among the locked. */
  printed?: [number, number, number][];
}

/** A seam and where it is. */
export interface SeamMark {
  /** Its plane. */
  plane: PlaneRecord;
  /** A place on its line. */
  at_mm: [number, number, number];
  /** Points inside the regions that are cut alone; none where all that the plane meets is. */
  inside_mm?: [number, number, number][];
}

/** Cuts of a plan made before, on an item of this size: the search begins with it where it still holds. */
export interface BegunRecord {
  /** Size of the item. */
  size_mm: [number, number, number];
  /** The cuts in their order, but for those that stay. */
  cuts: SeamMark[];
}

/** A touch of chalk: a ball round a place on the skin. */
export interface ChalkDab {
  /** Off where no seam is wanted, in where one is welcome. */
  kind: ChalkKind;
  /** Its middle. */
  at_mm: [number, number, number];
  /** Its radius. */
  radius_mm: number;
}

/** What chalk says. */
export type ChalkKind = "off" | "in";

/** Settings of a model as a project holds them. */
export interface ItemSettings {
  role?: string;
  scale?: number;
  height_mm?: number;
  volume_cm3?: number;
  units?: string;
  up?: string;
  pair?: boolean;
  copies?: number;
  part?: number;
  mend?: string;
  leave_out?: string[];
  wall_mm?: number;
  unite?: boolean;
  simplify?: number;
  marks?: MarksRecord;
  begun?: BegunRecord;
}

/** What was decided about one item. */
export interface Decision {
  /** Id of the item; copies and mirrored sides follow theirs. */
  item: string;
  /** Where it is cut, in order, in item coordinates. */
  planes: PlaneRecord[];
}

/** What the unit of a file is taken as. */
export interface UnitRecord {
  /** The unit. */
  unit: string;
  /** Nothing else is plausible. */
  sure: boolean;
  /** One plain sentence. */
  reason: string;
}

/** What mending would do. */
export interface MendingRecord {
  /** Its steps in order. */
  steps: NoticeRecord[];
  /** The farthest the mended surface would lie from the file's, away from repaired places. */
  deviation_mm?: number;
  /** Share of the area that would be repaired. */
  repaired_fraction?: number;
  /** Triangles it would have. */
  triangles?: number;
  /** Volume it would have. */
  volume_mm3?: number;
  /** Why it cannot be mended, where it cannot. */
  fails?: string;
}

/** What a file holds and what is wrong with it. */
export interface InspectRecord {
  /** Triangles as read. */
  triangles: number;
  /** Different points. */
  vertices: number;
  /** Connected surfaces. */
  bodies: number;
  /** Every edge pairs up and the volume is positive. */
  closed: boolean;
  /** Edges with a triangle on one side only. */
  open_edges: number;
  /** Closed chains of them. */
  boundary_loops: number;
  /** Edges with more than two triangles. */
  nonmanifold_edges: number;
  /** Points where the surface only touches itself. */
  nonmanifold_vertices: number;
  /** Triangles that face the wrong way. */
  flipped_triangles: number;
  /** Triangles that lie on another. */
  duplicate_triangles: number;
  /** Triangles without area. */
  degenerate_triangles: number;
  /** Pairs of triangles that cross; absent beyond the planner's range. */
  self_intersections?: number;
  /** One of so many triangles was asked for crossings; absent where all were. */
  self_intersections_asked_one_in?: number;
  /** Signed volume. */
  volume_mm3: number;
  /** Area of all triangles. */
  area_mm2: number;
  /** Extents of the box. */
  size: [number, number, number];
  /** What the unit is taken as. */
  units_guess: UnitRecord;
  /** The thinnest wall found by rays; absent where the mesh is not closed. */
  thinnest_wall_mm?: number;
  /** Flaws with places. */
  notices: NoticeRecord[];
  /** What mending would do; absent where there is nothing to mend. */
  mending?: MendingRecord;
}

/** Everything asked beside the models. */
export interface Asked {
  /** Beds as in plan.json; ids unique. */
  beds: Bed[];
  /** What the maker prefers: balanced, fewest or hidden. */
  prefer: string;
  /** Seed of the search. */
  seed: number;
  /** Rounds of search; absent where time bounds it. */
  effort?: number;
}

/** What was taken as unit and up axis of a file, and why. */
export interface UnitsFound {
  /** Unit taken. */
  guess: string;
  /** One plain sentence. */
  why: string;
  /** Whether another unit is plausible and the maker has not said. */
  in_doubt: boolean;
  /** Axis of the file taken as up. */
  up: string;
  /** One plain sentence. */
  up_why: string;
  /** Whether the axis was guessed to be another than Z. */
  up_in_doubt: boolean;
}

/** A model read and sized. */
export interface ReadItem {
  /** Id of the item. */
  item: string;
  /** Name for people. */
  name: string;
  /** Triangles as cut. */
  triangles: number;
  /** Its size. */
  size_mm: [number, number, number];
  /** Flaws of the file. */
  notices: NoticeRecord[];
  /** Unit and up axis. */
  units: UnitsFound;
}

/** One task of a round, enough for a searcher that has the item's ground. */
export interface TaskNote {
  /** Position of the item. */
  item: number;
  /** Round of the item's search, counted from 0. */
  round: number;
  /** Position of the task among the item's tasks of the round. */
  task: number;
  /** Pieces a result must stay below. */
  limit: number;
  /** Cuts of the best plan, as numbers, where the task is to make it better. */
  best?: number[];
}

/** What decides between two partitions. */
export interface OutlineNote {
  /** Whether every piece fits a bed. */
  all_fit: boolean;
  /** How many pieces there are. */
  n_pieces: number;
  /** How many of them stand only with supports. */
  n_held: number;
  /** The room these lack to stand, in all. */
  short_mm: number;
  /** What the lines of all cuts cost, in mm of plain line. */
  cost_mm: number;
  /** How much of them leads through detail. */
  detail_mm: number;
  /** How much of them leads through areas chalked off. */
  chalked_mm: number;
}

/** What a round hears of what a task found: a plan's outline or a proof. */
export interface ResultNote {
  /** Of a plan; its cuts travel beside it. */
  outline?: OutlineNote;
  /** Of a least number of pieces. */
  proof?: Proof;
  /** Planes looked at. */
  candidates: number;
}

/** A new best: the item it is of, and its position among the results of the round. */
export interface Winner {
  /** Position of the item. */
  item: number;
  /** Position of the result. */
  at: number;
}

/** The least number of pieces proved for one item. */
export interface LeastNote {
  /** Id of the item. */
  item: string;
  /** No plan of it has fewer; a mirrored side and copies not counted. */
  pieces: number;
}

/** A round that is over. */
export interface RoundNote {
  /** Counted from 1; 0 is the plain grid. */
  round: number;
  /** Pieces of all items' best plans, mirrored sides and copies included. */
  pieces: number;
  /** What is proved so far of each item. */
  at_least: LeastNote[];
  /** Planes looked at. */
  candidates: number;
  /** Whether no further round is due. */
  over: boolean;
}

/** A plan to choose beside the best. */
export interface OtherNote {
  /** Pieces. */
  pieces: number;
  /** How many of them stand only with supports. */
  held: number;
  /** Finishing minutes as the search weighs them. */
  cost_min: number;
  /** Line through detail as the search foresees or measures it. */
  detail_mm: number;
}

/** One piece to draw; its points and triangles travel beside it. */
export interface PieceNote {
  /** Id of the piece. */
  id: string;
  /** Number on the drawing, counted over the whole costume as in lays. */
  number: number;
  /** How far it moves with the pull slider at 1. */
  pull_mm: [number, number, number];
  /** Extents of its box. */
  size_mm: [number, number, number];
  /** Whether it fits a bed or is printed already. */
  fits: boolean;
  /** Whether it is marked as printed. */
  is_printed: boolean;
  /** A place on its skin, or inside an item on one of its cut faces. */
  at_mm: [number, number, number];
}

/** One seam to draw; its line travels beside it. */
export interface SeamNote {
  /** Id of the seam. */
  id: string;
  /** The pieces it joins. */
  pieces: [string, string];
  /** How hard it is to hide: 3 runs through detail, 2 is seen, 1 lies in a hollow or unseen. */
  weight: number;
  /** A place on its line, where it shows if that is known. */
  at_mm: [number, number, number];
  /** Whether it stays in every plan. */
  is_kept: boolean;
}

/** One cut of a plan: what it cut and the seams it made there. */
export interface CutNote {
  /** Its plane. */
  plane: PlaneRecord;
  /** Points inside the regions that are cut alone; none where all that the plane meets is. */
  inside_mm?: [number, number, number][];
  /** Whether it stays in every plan; such cuts come first, as they are marked. */
  is_kept: boolean;
  /** Pieces on both sides of it, of what it cut. */
  pieces: string[];
  /** Ids of its seams. */
  seams: string[];
}

/** A plan of one item to draw. */
export interface ItemPlanNote {
  /** Id of the item. */
  item: string;
  /** Its pieces. */
  pieces: PieceNote[];
  /** Its seams. */
  seams: SeamNote[];
  /** Its cuts in the order made. */
  cuts: CutNote[];
  /** Whole seam line. */
  seam_mm: number;
  /** Pieces of the plain grid. */
  grid_pieces: number;
}

/** A plane that a maker moves through a part of an item. */
export interface ProbeAsked {
  /** Position of the item. */
  item: number;
  /** All cuts made before, those that stay among them. */
  before: SeamMark[];
  /** A place on the skin of the part. */
  at_mm: [number, number, number];
  /** The plane. */
  plane: PlaneRecord;
  /** Points inside the regions that are cut alone; none where all that it meets is. */
  inside_mm?: [number, number, number][];
}

/** What such a plane would make; its line travels beside it. */
export interface ProbeNote {
  /** A place on the line, near the one asked for. */
  at_mm: [number, number, number];
  /** Length of the line, skin and rims alike. */
  line_mm: number;
  /** What the seam takes to join, fill and sand, as the search weighs it. */
  cost_min: number;
  /** How much of the line leads through areas chalked off. */
  chalked_mm: number;
  /** Lumps on the lower side. */
  below: ProbedNote[];
  /** Lumps on the upper side. */
  above: ProbedNote[];
}

/** A lump that a plane leaves. */
export interface ProbedNote {
  /** Extents of its box. */
  size_mm: [number, number, number];
  /** Whether it fits a bed. */
  fits: boolean;
  /** Whether it stands only with supports. */
  is_held: boolean;
  /** Pieces it is thought to need. */
  needs: number;
}

/** Where a ray starts as seen from one item. */
export interface RayStart {
  /** Id of the item. */
  item: string;
  /** The start in its coordinates. */
  at_mm: [number, number, number];
}

/** A ray into the drawing; items stand apart there, so it starts elsewhere for each of them. */
export interface Ray {
  /** Where it runs, of any length. */
  direction: [number, number, number];
  /** How far pieces are pulled apart, 0 to 1. */
  pull: number;
  /** Its start, an item each; others are not looked at. */
  starts: RayStart[];
}

/** What a ray meets first. */
export interface Met {
  /** Id of the item. */
  item: string;
  /** Id of the piece; absent where the item is not cut yet. */
  piece?: string;
  /** The place on the drawn surface, in item coordinates, as if nothing was pulled apart. */
  at_mm: [number, number, number];
}

/** A piece laid on a bed, from above. */
export interface LaidPiece {
  /** Id of the piece. */
  id: string;
  /** Its number on the drawing. */
  number: number;
  /** Outlines in bed coordinates, counter-clockwise. */
  outline_mm: [number, number][][];
  /** Where the item's front faces, a unit vector; absent where the piece stands too steep to say. */
  front?: [number, number];
}

/** One load from above; the bed's front-left corner is the origin. */
export interface Lay {
  /** Id of the load. */
  load: string;
  /** The bed. */
  bed: Bed;
  /** What lies on it. */
  pieces: LaidPiece[];
}

/** A finished plan, beside `plan.json` itself. */
export interface FinishedNote {
  /** The loads from above. */
  lays: Lay[];
  /** What the audit found against the plan; empty where all holds. */
  findings: string[];
}

/** One model of an opened project; its bytes travel beside it. */
export interface OpenedModel {
  /** File name. */
  name: string;
  /** How it is to be made, as in the project file. */
  settings: ItemSettings;
}

/** An opened project. */
export interface OpenedProject {
  /** Its models. */
  models: OpenedModel[];
  /** What it asks. */
  asked: Asked;
}
