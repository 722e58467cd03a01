/**
 * What the page asks of the planner and what it hears from it. Knows no worker and no DOM.
 *
 * Units: mm in item coordinates (Z up, right-handed), seconds. The records of files (`Plan`, `Bed`,
 * `ItemSettings` ...) are generated from the core: `records.ts`.
 *
 * Every News carries the number of the run it belongs to; news of an older run than the last
 * `plan()` are dropped by the planner, so a listener sees one run at a time.
 * Arrays in News are the listener's own.
 */
import type { Probed } from "./messages.ts";
import type { Bed, BegunRecord, ChalkDab, CutNote, InspectRecord, ItemPlanNote, ItemSettings, Lay, MarksRecord, Met, NoticeRecord, OtherNote, PieceNote, Plan, PlaneRecord, Prefer, ProbeAsked, Ray, ReadItem, RoundNote, Seam, SeamMark, SeamNote, UnitsFound } from "./records.ts";

export type { Probed };
export type { Bed, BegunRecord, ChalkDab, CutNote, InspectRecord, ItemSettings, Lay, MarksRecord, Met, NoticeRecord, Plan, PlaneRecord, Prefer, Ray, Seam, SeamMark, UnitsFound };

export type Vec3 = [number, number, number];

/** A model file as dropped, with what was decided about it. */
export interface ModelFile {
  /** The page's own name for it; stays the same when settings change. */
  key: string;
  /** File name. */
  name: string;
  bytes: Uint8Array<ArrayBuffer>;
  /** As in the project file. */
  settings: ItemSettings;
}

export interface JobOptions {
  /** As in plan.json; ids unique. */
  beds: Bed[];
  prefer: Prefer;
  seed: number;
  /** Rounds of search: the same result everywhere. Where null, `seconds` bounds it. */
  effort: number | null;
  /** Where both are null the search ends when nothing better was found for a while. */
  seconds: number | null;
}

/** What is drawn of a solid: at most 150k triangles an item, its pieces taken together. */
export interface Shape {
  /** xyz after xyz. */
  points_mm: Float32Array<ArrayBuffer>;
  /** Corners, counter-clockwise from outside. */
  triangles: Uint32Array<ArrayBuffer>;
}

/** A model file as it is, before any mending. */
export interface FileLook {
  report: InspectRecord;
  shape: Shape;
}

export interface PieceShape extends PieceNote {
  shape: Shape;
  /** One a triangle: 0 cut face, 1 skin. */
  skin: Uint8Array<ArrayBuffer>;
}

export interface SeamLine extends SeamNote {
  /** Segments: pairs of points, xyz each. */
  line_mm: Float32Array<ArrayBuffer>;
  weight: 1 | 2 | 3;
}

/** A plan of one item as it is drawn. */
export type CutDrawn = { pieces: PieceShape[]; seams: SeamLine[] } & Omit<ItemPlanNote, "pieces" | "seams">;

/** An item as it is drawn, for rays: the same object as long as nothing of it changed. */
export interface Drawn {
  id: string;
  parts: readonly {
    id: string;
    /** 0 where the item is not cut yet: then it is no piece that is met. */
    number: number;
    points_mm: Float32Array<ArrayBuffer>;
    triangles: Uint32Array<ArrayBuffer>;
    /** How far it moves with the slider at 1. */
    pull_mm: readonly [number, number, number];
  }[];
}

/** What is done once the search has ended. */
export type Stage = "measuring" | "laying" | "auditing";

export type News =
  | { kind: "reading"; key: string }
  | ({ kind: "read"; key: string; shape: Shape } & ReadItem)
  | { kind: "grid"; item: string; n_done: number; n_all: number }
  /** A plan of one item to draw: its first (the plain grid), then every better one. */
  | ({ kind: "item-plan"; first: boolean } & CutDrawn)
  /** After `finished`: a plan of one item to choose beside the best, in few triangles. */
  | ({ kind: "other-plan" } & Omit<OtherNote, "pieces"> & CutDrawn)
  /** `pieces` and `candidates` of the whole costume; round 0 is the plain grid. */
  | ({ kind: "round"; seconds: number } & Omit<RoundNote, "over">)
  | { kind: "paused" }
  | { kind: "going-on" }
  | { kind: "stage"; text: Stage }
  | { kind: "finished"; plan: Plan; lays: Lay[]; findings: string[] }
  /** `key` names the model at fault, null where it is none. The run ends with it, unless it goes on to read the others. */
  | { kind: "failed"; key: string | null; text: string; goes_on?: boolean }
  /** All models are read and some failed: the run ends without a plan. */
  | { kind: "not-planned" }
  /** The maker had enough of it: what is read and found stays drawn, and nothing is finished. */
  | { kind: "given-up" }
  /** A worker hung or died and another took its place; its work is done again and nothing is lost. */
  | { kind: "worker-replaced"; text: string };

export interface Planner {
  /** Rounds of search for plans that do not say themselves. */
  readonly effort: number | null;
  listen(hear: (news: News, run: number) => void): void;
  /** Starts anew and returns the run's number; whatever ran before is dropped. */
  plan(models: ModelFile[], options: JobOptions): number;
  pause(): void;
  goOn(): void;
  /** Ends the search and finishes the best plan; before the first plan, as soon as there is one. */
  stop(): void;
  /** Ends the run where it is, also in the midst of reading a file: nothing is finished. */
  giveUp(): void;
  /** What a ray meets first of what is drawn. Answered at once, whatever else is going on. */
  find(ray: Ray, drawn: readonly Drawn[]): Promise<Met | null>;
  /** What a plane would make of a part of a model's item as it is planned now; `null` where it misses it. */
  probe(key: string, asked: Omit<ProbeAsked, "item">): Promise<Probed | null>;
  /** What the file of a model of this run holds, what is wrong with it and where, and its surface as it is. */
  look(key: string): Promise<FileLook>;
  /** The whole plan folder, after `finished`. */
  zip(): Promise<Uint8Array<ArrayBuffer>>;
  /** The project file, after `finished`. */
  project(): Promise<Uint8Array<ArrayBuffer>>;
  openProject(bytes: Uint8Array<ArrayBuffer>): Promise<{ models: ModelFile[]; options: JobOptions }>;
  close(): void;
}
