/**
 * Everything that can happen to the state, as plain data.
 *
 * Not here: what each does (`reduce.ts`).
 */
import type { Bed, ItemSettings, News, Prefer, Probed } from "../planner/protocol.ts";
import type { Chalk } from "./chalk.ts";
import type { Moved, Moving } from "./moving.ts";
import type { Decisions, FileLooked, Kept, Leaf, ModelDecision, Scheme, Spot } from "./state.ts";

/** Decisions: undo goes back through them. */
export type DecisionAction =
  | { kind: "models-added"; models: readonly ModelDecision[] }
  | { kind: "model-removed"; key: string }
  | { kind: "settings-changed"; key: string; settings: Partial<ItemSettings> }
  | { kind: "costume-named"; name: string }
  | { kind: "bed-added"; bed: Bed }
  | { kind: "bed-changed"; id: string; bed: Bed }
  | { kind: "bed-removed"; id: string }
  | { kind: "beds-chosen"; beds: readonly Bed[] }
  | { kind: "preferred"; prefer: Prefer }
  | { kind: "seed-changed"; seed: number }
  | { kind: "seconds-changed"; seconds: number }
  | { kind: "effort-freed" }
  | { kind: "project-opened"; decisions: Decisions };

export type Action =
  | DecisionAction
  | { kind: "undo" }
  | { kind: "redo" }
  | { kind: "restored"; decisions: Decisions; past: readonly Decisions[]; future: readonly Decisions[]; scheme: Scheme }
  | { kind: "run-started"; run: number }
  | { kind: "run-emptied" }
  | { kind: "news"; news: News; run: number }
  | { kind: "stopped" }
  | { kind: "leaf-opened"; leaf: Leaf }
  | { kind: "scheme-chosen"; scheme: Scheme }
  | { kind: "shown"; item: string | null }
  | { kind: "pulled"; pull: number }
  | { kind: "marked"; piece: string | null }
  | { kind: "chosen"; id: string | null }
  | { kind: "chalk-taken"; chalk: Chalk | null }
  | { kind: "moving"; moving: Moving | null }
  | { kind: "moved"; to: Moved }
  | { kind: "probed"; probed: Probed | null }
  | { kind: "laid-over"; over: "none" | "parts" | "leaf" }
  | { kind: "pictured"; item: string; image: ImageData }
  | { kind: "demo-coming"; is_coming: boolean }
  | { kind: "drawing-fell" }
  | { kind: "notices-opened"; text: string }
  | { kind: "file-looked"; file: FileLooked | null }
  | { kind: "file-drawn"; is_drawn: boolean }
  | { kind: "flown"; spot: Spot | null }
  | { kind: "kept"; kept: Kept }
  | { kind: "said"; text: string; warns: boolean }
  | { kind: "said-read" }
  | { kind: "taking"; what: "none" | "zip" | "project" };
