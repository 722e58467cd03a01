/**
 * Chalk on an item: areas where no seam is wanted or one is welcome, laid in strokes of touches.
 *
 * Pure. Units: mm in item coordinates. Not here: what a stroke meets (the finder), what chalk does to a plan (the
 * core).
 */
import type { ChalkDab, ItemSettings, Vec3 } from "../planner/protocol.ts";
import { isOriginal, settings } from "./marks.ts";
import type { ItemFound, State } from "./state.ts";

/** What lies in the hand. */
export interface Chalk {
  tool: "off" | "in" | "rub";
  radius_mm: number;
}

export const RADII_MM = [1, 100] as const;

/** Touches of a stroke lie this share of the radius apart. */
const APART = 0.5;

/** The chalk on an item. */
export function chalkOn(state: State, item: ItemFound): readonly ChalkDab[] {
  if (!isOriginal(state, item)) return [];
  return state.decisions.models.find((model) => model.key === item.key)?.settings.marks?.chalk ?? [];
}

const apart = (a: Vec3, b: Vec3): number => Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);

/** A stroke with one place more, unless that lies where the last touch does. */
export function stroke(places: readonly Vec3[], at_mm: Vec3, { radius_mm }: Chalk): readonly Vec3[] {
  const last = places.at(-1);
  return last !== undefined && apart(last, at_mm) < APART * radius_mm ? places : [...places, at_mm];
}

/** What is chalked once a stroke is laid over it. */
export function stroked(chalk: readonly ChalkDab[], places: readonly Vec3[], { tool, radius_mm }: Chalk): readonly ChalkDab[] {
  const left = chalk.filter((dab) => !places.some((at) => (tool === "rub" ? apart(at, dab.at_mm) < radius_mm + 0.5 * dab.radius_mm : apart(at, dab.at_mm) + dab.radius_mm <= radius_mm)));
  return tool === "rub" ? left : [...left, ...places.map((at_mm) => ({ kind: tool, at_mm, radius_mm }))];
}

/** Settings of an item's model with this chalk on it; `null` where that changes nothing. */
export function chalked(state: State, item: ItemFound, chalk: readonly ChalkDab[]): { key: string; settings: Partial<ItemSettings> } | null {
  const model = state.decisions.models.find((one) => one.key === item.key);
  if (model === undefined || item.size_mm === null || chalk === chalkOn(state, item)) return null;
  const marks = model.settings.marks ?? { size_mm: item.size_mm };
  return { key: model.key, settings: settings({ ...marks, chalk: [...chalk] }) };
}

/** As the drawing takes it: place and radius, touch by touch; a radius below nothing where a seam is welcome. */
export function drawnChalk(chalk: readonly ChalkDab[]): Float32Array<ArrayBuffer> {
  return new Float32Array(chalk.flatMap(({ kind, at_mm, radius_mm }) => [...at_mm, kind === "off" ? radius_mm : -radius_mm]));
}
