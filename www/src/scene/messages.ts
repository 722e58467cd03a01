/**
 * What the page and the drawing say to each other, over a worker or on the same thread.
 *
 * Units: mm in item coordinates; places on the screen in CSS pixels from the canvas's top left.
 */
import type { Ray } from "../planner/records.ts";

export interface Part {
  id: string;
  /** 0 for an item not cut yet: it gets no balloon. */
  number: number;
  points_mm: Float32Array<ArrayBuffer>;
  triangles: Uint32Array<ArrayBuffer>;
  /** One a triangle: 0 cut face, 1 skin; `null` is all skin. */
  skin: Uint8Array<ArrayBuffer> | null;
  /** How far it moves with the slider at 1. */
  pull_mm: readonly [number, number, number];
}

export interface SeamDrawn {
  id: string;
  pieces: readonly [string, string];
  /** Segments: pairs of points, xyz each. */
  line_mm: Float32Array<ArrayBuffer>;
  weight: 1 | 2 | 3;
  /** Whether it stays in every plan. */
  is_kept: boolean;
}

export interface ItemDrawn {
  id: string;
  size_mm: readonly [number, number, number];
  parts: readonly Part[];
  seams: readonly SeamDrawn[];
}

/** Colours as `#rrggbb`, read from the style sheet so that they stand in one place. */
export interface Inks {
  ink: string;
  paper: string;
  tones: readonly string[];
  is_dark: boolean;
}

export interface Frame {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** A canvas of the page or one in a worker; only the page's own typings know both. */
export type Canvas = OffscreenCanvas | (typeof globalThis extends { HTMLCanvasElement: { prototype: infer C } } ? C : never);

export type ToStage =
  | { kind: "start"; canvas: Canvas }
  /** `frame` is the part of the canvas nothing stands over: the drawing is fitted into it. */
  | { kind: "sized"; width: number; height: number; ratio: number; frame: Frame }
  | { kind: "inks"; inks: Inks }
  | { kind: "item"; item: ItemDrawn }
  /** Ids in the order they stand; others are forgotten unless `keep` names them. */
  | { kind: "shown"; ids: readonly string[]; keep: readonly string[] }
  | { kind: "pulled"; pull: number }
  | { kind: "marked"; piece: string | null }
  | { kind: "chosen"; seam: string | null }
  /** A line laid round an item that is no seam yet: segments, pairs of points. */
  | { kind: "lined"; item: string; segments_mm: Float32Array<ArrayBuffer> | null }
  | { kind: "turned"; across_px: number; down_px: number }
  | { kind: "moved"; across_px: number; down_px: number }
  | { kind: "zoomed"; factor: number; at: readonly [number, number] | null }
  | { kind: "whole" }
  /** Turns to a place of an item, seen from outside, and rings it; `null` takes the ring away. */
  | { kind: "flown"; item: string; at_mm: readonly [number, number, number] | null }
  | { kind: "pointed"; at: readonly [number, number] | null }
  /** Pressed there and let go, nothing moved meanwhile. */
  | { kind: "pressed"; at: readonly [number, number] }
  /** Drawn over with chalk, place by place; `null` is the middle of what nothing stands over. */
  | { kind: "stroked"; at: readonly [number, number] | null; is_end: boolean }
  /** Asks for a small picture of what is not drawn. */
  | { kind: "picture-of"; item: ItemDrawn }
  /** Chalk on an item: place and radius after place and radius, below 0 where a seam is welcome. */
  | { kind: "chalked"; item: string; dabs: Float32Array<ArrayBuffer> };

/** A place of a laid line, on the screen and in item coordinates. */
export interface End {
  at: readonly [number, number];
  at_mm: readonly [number, number, number];
}

export interface Anchor {
  piece: string;
  number: number;
  at: readonly [number, number];
  /** Whether its surface is in sight there. */
  is_seen: boolean;
}

export type FromStage =
  | { kind: "ready" }
  /** `spot` is where the ringed place is. */
  | { kind: "anchors"; anchors: readonly Anchor[]; box: Frame | null; spot: readonly [number, number] | null }
  /** A small picture of an item alone, for its card. */
  | { kind: "picture"; item: string; image: ImageData }
  /** The ray under the pointer; `null` where there is no pointer. */
  | { kind: "aimed"; ray: Ray | null }
  /** The ray where the drawing was pressed, and how near a press is to a line, in mm. */
  | { kind: "pressed"; ray: Ray; near_mm: number }
  | { kind: "stroked"; ray: Ray; is_end: boolean }
  /** Where the two ends of a laid line are that lie farthest apart; `null` where none is laid. */
  | { kind: "ends"; ends: readonly [End, End] | null; axes: { right: readonly [number, number, number]; up: readonly [number, number, number]; px_per_mm: number } }
  /** `is_still`: drawn fine, after a rest; `n_heard` messages had come by then, pointing left out. */
  | { kind: "drawn"; is_still: boolean; n_heard: number; n_triangles: number }
  | { kind: "failed"; text: string };

/** Makes the drawing on the thread it is called on; messages go in by what it gives. */
export type CreateStage = (tell: (message: FromStage) => void) => (message: ToStage) => void;

/** Where the drawing's script leaves it when it runs on the page's own thread. */
export interface HandedOut {
  seamwrightStage?: CreateStage;
}
