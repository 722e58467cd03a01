/** What the planner's main side and its workers say to each other. Knows no worker and no DOM. */
import type { FileLook, News } from "./protocol.ts";
import type { Asked, ItemSettings, Met, OpenedProject, ProbeAsked, ProbeNote, Ray, ResultNote, TaskNote } from "./records.ts";

export type Role = "keeper" | "searcher" | "finder";

/** The first message to every worker. */
export interface Birth {
  role: Role;
  module: WebAssembly.Module;
}

export interface Model {
  key: string;
  name: string;
  settings: ItemSettings;
  bytes: Uint8Array<ArrayBuffer>;
}

/** What a task found, if it found something; cuts are those of a plan. */
export type Found = { result: ResultNote; cuts: Float64Array<ArrayBuffer> } | null;

/** What a plane would make, and its line: segments, pairs of points. */
export type Probed = ProbeNote & { segments_mm: Float32Array<ArrayBuffer> };

/** A question with one answer. */
export type Question =
  | { what: "zip" }
  | { what: "project" }
  | { what: "open"; bytes: Uint8Array<ArrayBuffer> }
  | { what: "look"; name: string; settings: ItemSettings; bytes: Uint8Array<ArrayBuffer> };

export type Answer =
  | Uint8Array<ArrayBuffer>
  | { opened: OpenedProject; bytes: Uint8Array<ArrayBuffer>[] }
  | FileLook;

export type ToKeeper =
  | { kind: "begin"; run: number; asked: Asked; models: Model[] }
  /** All results of the round that `ready` asked for, in its order. */
  | { kind: "results"; run: number; results: Found[] }
  | { kind: "finish"; run: number }
  | { kind: "pause" }
  | { kind: "go-on" }
  | { kind: "ask"; id: number; question: Question };

export type FromKeeper =
  /** It is started and hears. */
  | { kind: "born" }
  | { kind: "begun"; run: number }
  | { kind: "news"; run: number; news: News }
  /** An item is read: what searchers need of it. */
  | { kind: "solid"; run: number; item: number; bytes: Uint8Array<ArrayBuffer> }
  /** Every item has its plan; these tasks are next, none where the search is over. */
  | { kind: "ready"; run: number; tasks: TaskNote[] }
  | { kind: "answer"; id: number; answer: Answer }
  | { kind: "refused"; id: number; text: string };

export type ToSearcher =
  | { kind: "item"; run: number; item: number; asked: Asked; bytes: Uint8Array<ArrayBuffer> }
  | { kind: "task"; run: number; at: number; task: TaskNote }
  /** Answered between two steps of the task at work. */
  | { kind: "probe"; id: number; asked: ProbeAsked }
  | { kind: "pause" }
  | { kind: "go-on" }
  /** Drop the task at work. */
  | { kind: "drop" };

export type FromSearcher =
  | { kind: "found"; run: number; at: number; found: Found }
  | { kind: "probed"; id: number; probed: Probed | null }
  /** Said about once a second while at work. */
  | { kind: "alive" };

/** A part of an item as it is drawn; without a piece it is the item before any cut. */
export interface DrawnPart {
  piece: string | null;
  pull_mm: readonly [number, number, number];
  points_mm: Float32Array<ArrayBuffer>;
  triangles: Uint32Array<ArrayBuffer>;
}

/** Forgets some items, takes others as they are drawn now, then finds. */
export interface ToFinder {
  kind: "find";
  id: number;
  ray: Ray;
  forget: string[];
  fresh: { item: string; parts: DrawnPart[] }[];
}

export type FromFinder =
  | { kind: "found"; id: number; met: Met | null }
  /** Said after each item that was taken. */
  | { kind: "alive" };

/** A worker that cannot go on: its own mistake, not the maker's. */
export interface Died {
  kind: "died";
  text: string;
}

/** Sends a message; listed buffers move instead of being copied. */
export type Post<Message> = (message: Message, moved?: Transferable[]) => void;
