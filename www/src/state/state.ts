/**
 * The page's one state object: what the maker decided, what the planner found, how it is looked at.
 *
 * Plain data, changed by `reduce` alone. Bytes of model files are not in it: they stand on the shelf
 * (`keep/shelf.ts`) under the model's key, so that undo can bring a removed model back.
 * Units: mm, seconds. Not here: how it changes (`reduce.ts`), how it is kept (`keep/`).
 */
import type { Bed, CutNote, FileLook, ItemSettings, Lay, NoticeRecord, PieceShape, Plan, Prefer, SeamLine, Shape, Stage, UnitsFound, Vec3 } from "../planner/protocol.ts";
import type { Chalk } from "./chalk.ts";
import type { Moving } from "./moving.ts";

export const LEAVES = ["costume", "wearer", "beds", "seams", "loads", "sheet"] as const;
export type Leaf = (typeof LEAVES)[number];

/** `system` follows what the browser says the maker prefers. */
export type Scheme = "system" | "paper" | "blueprint";

export interface ModelDecision {
  key: string;
  name: string;
  n_bytes: number;
  settings: ItemSettings;
}

/** All that undo goes back through, and all that a new plan follows from. */
export interface Decisions {
  costume: string;
  /** The costume this page brought along: the maker's own models take its place. */
  is_demo: boolean;
  models: readonly ModelDecision[];
  beds: readonly Bed[];
  prefer: Prefer;
  seed: number;
  seconds: number;
  /** Rounds of search that a project fixed: the same plan on any machine. `null` leaves it to `seconds`. */
  effort: number | null;
}

/** One item as far as the planner has come with it. A pair or copies give several items a model. */
export interface ItemFound {
  item: string;
  key: string | null;
  name: string;
  size_mm: Vec3 | null;
  triangles: number | null;
  notices: readonly NoticeRecord[];
  units: UnitsFound | null;
  shape: Shape | null;
  grid: { n_done: number; n_all: number } | null;
  cut: { pieces: readonly PieceShape[]; seams: readonly SeamLine[]; cuts: readonly CutNote[]; seam_mm: number; grid_pieces: number } | null;
  /** No plan of it has fewer pieces, proved so far. */
  at_least: number | null;
}

export interface RoundFound {
  round: number;
  pieces: number;
  candidates: number;
  seconds: number;
}

export type Phase = "idle" | "reading" | "searching" | "paused" | "ending" | "finished";

export interface Finished {
  plan: Plan;
  lays: readonly Lay[];
  findings: readonly string[];
}

/** A plan of an item that may be chosen: with fewer pieces, fewer supports, cheaper lines or less of them through detail than the best. */
export interface OtherPlan {
  /** Its own id, which no item has. */
  id: string;
  item: string;
  n_pieces: number;
  n_held: number;
  cost_min: number;
  through_detail_mm: number;
  cut: NonNullable<ItemFound["cut"]>;
}

/** What one run of the planner has found. Items of the run before stay until new ones come. */
export interface Run {
  number: number;
  phase: Phase;
  stage: Stage | null;
  reading: readonly string[];
  items: readonly ItemFound[];
  /** Ids told in this run; the rest of `items` are from the run before. */
  fresh: readonly string[];
  rounds: readonly RoundFound[];
  finished: Finished | null;
  /** Plans to choose beside that of an item. */
  others: readonly OtherPlan[];
  failures: readonly { key: string | null; text: string }[];
  replaced: string | null;
  /** The maker ended it before it was finished. */
  is_given_up: boolean;
}

/** A place that is flown to, in coordinates of an item. */
export interface Spot {
  item: string;
  at_mm: Vec3;
}

/** A model file as it is, looked at beside what is planned of it. */
export interface FileLooked extends FileLook {
  key: string;
  /** Those it was sized by: with others it is another. */
  settings: ItemSettings;
  /** Drawn in place of the plan. */
  is_drawn: boolean;
}

/** How the drawing is looked at; no decision, so undo leaves it alone. */
export interface Look {
  leaf: Leaf;
  scheme: Scheme;
  /** The item drawn; `ALL` draws them all, `null` the first there is. */
  shown: string | null;
  pull: number;
  /** The piece under the pointer or in focus. */
  marked: string | null;
  /** The seam or piece whose card is open, by its id. */
  chosen: string | null;
  /** The chalk in the hand: the drawing is chalked where it is pressed, not turned. */
  chalk: Chalk | null;
  /** The place flown to, ringed on the drawing. */
  spot: Spot | null;
  /** What lies over the drawing: lists at phone width, the notices at any. */
  over: "none" | "parts" | "leaf" | "notices";
}

/** What is known of the copy this browser keeps. */
export interface Kept {
  at: string | null;
  problem: string | null;
}

export interface State {
  decisions: Decisions;
  past: readonly Decisions[];
  future: readonly Decisions[];
  run: Run;
  look: Look;
  kept: Kept;
  /** How often the drawing fell and was begun anew. */
  drawing_falls: number;
  /** Small pictures of items for their cards, by id; what the drawing made of them. */
  pictures: Readonly<Record<string, ImageData>>;
  /** Licences of what the page is made with, once asked for. */
  notices: string | null;
  /** One sentence about the last thing asked for, until the next. */
  said: { text: string; warns: boolean } | null;
  /** The demo costume is on its way. */
  is_demo_coming: boolean;
  /** Something is being made for taking away. */
  taking: "none" | "zip" | "project";
  /** The seam that is being moved or set, before it is decided on. */
  moving: Moving | null;
  /** The model file last looked into. */
  file: FileLooked | null;
}

export const NO_RUN: Run = {
  number: 0,
  phase: "idle",
  stage: null,
  reading: [],
  items: [],
  fresh: [],
  rounds: [],
  finished: null,
  others: [],
  failures: [],
  replaced: null,
  is_given_up: false,
};

export function firstState(beds: readonly Bed[]): State {
  return {
    decisions: { costume: "", is_demo: false, models: [], beds, prefer: "balanced", seed: 1, seconds: 20, effort: null },
    past: [],
    future: [],
    run: NO_RUN,
    look: { leaf: "costume", scheme: "system", shown: null, pull: 0, marked: null, chosen: null, chalk: null, spot: null, over: "none" },
    kept: { at: null, problem: null },
    drawing_falls: 0,
    pictures: {},
    notices: null,
    said: null,
    is_demo_coming: false,
    taking: "none",
    moving: null,
    file: null,
  };
}

/** No item has this id: ids are small letters, figures and hyphens. */
export const ALL = "*";

/** The file looked into, as long as it is still that of a model and sized as it was. */
export function fileOf({ file, decisions }: State, key: string | null = null): FileLooked | null {
  const is_current = file !== null && (key === null || file.key === key) && decisions.models.some((model) => model.key === file.key && model.settings === file.settings);
  return is_current ? file : null;
}

/** Id under which a file is drawn; no item has it: ids of items end with no hyphen. */
export const fileItem = ({ key }: FileLooked): string => `${key}-`;

/** Items drawn and listed, in order. */
export function itemsShown(state: State): readonly ItemFound[] {
  const { items } = state.run;
  const { shown } = state.look;
  // The costume leaf is about the whole costume, unless one item was asked for.
  if (shown === ALL || (shown === null && state.look.leaf === "costume")) return items;
  return shown === null ? items.slice(0, 1) : items.filter((one) => one.item === shown);
}

/**
 * A sum over items as the finished plan will have them: until it is there, an item stands also for its
 * copies and mirrored sides. One item alone stands for itself.
 */
export function sumMade(state: State, items: readonly ItemFound[], of: (item: ItemFound) => number): number {
  return items.reduce((sum, one) => sum + of(one) * (items.length === 1 ? 1 : timesMade(state, one)), 0);
}

function timesMade({ run, decisions }: State, item: ItemFound): number {
  if (run.phase === "finished") return 1;
  // Followers from the run before are counted with the item they follow, as it is asked for now.
  if (run.items.find((other) => other.key === item.key) !== item) return 0;
  const settings = decisions.models.find((model) => model.key === item.key)?.settings;
  return (settings?.copies ?? 1) * (settings?.pair === true ? 2 : 1);
}

export const piecesOf = (item: ItemFound): number => item.cut?.pieces.length ?? 0;

/** Pieces that no plan of these items can do without; null before anything is proved of each. */
export function leastOf(state: State, items: readonly ItemFound[]): number | null {
  if (items.length === 0 || items.some((one) => one.at_least === null)) return null;
  return sumMade(state, items, (one) => one.at_least ?? 0);
}

/** An item's name; its id where several have the same, as the two sides of a pair do. */
export function nameOf(state: State, item: ItemFound): string {
  const is_shared = state.run.items.some((other) => other !== item && other.name === item.name);
  return is_shared || item.name === "" ? item.item : item.name;
}
