/**
 * A seam while the maker moves it, or sets a new one: the plane by what was typed or pulled.
 *
 * Pure. Units: mm in item coordinates; degrees where they are typed, for people.
 */
import type { ItemSettings, PlaneRecord, Probed, SeamMark, Vec3 } from "../planner/protocol.ts";
import { beforeCut, beforePiece, cutOf, type Markable, only, withSeam } from "./marks.ts";

export interface Moving {
  item: string;
  key: string;
  /** The seam that is moved; `null` where one is added. */
  seam: string | null;
  /** Cuts that come before it. */
  before: readonly SeamMark[];
  /** On the skin of what it cuts. */
  at_mm: Vec3;
  /** Points inside the regions that are cut alone. */
  inside_mm?: Vec3[];
  /** Where it began, and the place it turns about. */
  plane: PlaneRecord;
  pivot_mm: Vec3;
  slide_mm: number;
  turn_deg: number;
  tilt_deg: number;
  /** What it makes there: `null` where it misses the part, `undefined` before that is known. */
  probed: Probed | null | undefined;
}

export type Moved = Partial<Pick<Moving, "slide_mm" | "turn_deg" | "tilt_deg">>;

/** As far as a seam is moved at once. */
export const MOST_SLIDE_MM = 80;
export const MOST_TURN_DEG = 45;

const dot = (a: Vec3, b: Vec3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a: Vec3, b: Vec3): Vec3 => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a: Vec3): Vec3 => a.map((c) => c / Math.hypot(...a)) as Vec3;

/** Two directions in a plane: the level one, which turns it, and the one across, which tilts it. */
export function axesIn({ normal }: PlaneRecord): { level: Vec3; across: Vec3 } {
  const level = unit(Math.hypot(normal[0], normal[1]) < 0.1 ? cross([0, 1, 0], normal) : cross([0, 0, 1], normal));
  return { level, across: cross(normal, level) };
}

/** Where the plane is now. */
export function planeNow({ plane, pivot_mm, slide_mm, turn_deg, tilt_deg }: Moving): PlaneRecord {
  const { level, across } = axesIn(plane);
  const [turn, tilt] = [turn_deg, tilt_deg].map((deg) => Math.tan((deg * Math.PI) / 180)) as [number, number];
  const normal = unit(plane.normal.map((c, axis) => c + turn * level[axis]! + tilt * across[axis]!) as Vec3);
  return { normal, offset_mm: dot(normal, pivot_mm) + slide_mm };
}

/** How it must be slid, turned and tilted to lie in another plane; `null` where that is too far. */
export function movedTo(moving: Moving, plane: PlaneRecord): Moved | null {
  const { level, across } = axesIn(moving.plane);
  const along = dot(plane.normal, moving.plane.normal);
  if (along <= 0) return null;
  const [turn_deg, tilt_deg] = [level, across].map((axis) => (Math.atan(dot(plane.normal, axis) / along) * 180) / Math.PI) as [number, number];
  const slide_mm = plane.offset_mm - dot(plane.normal, moving.pivot_mm);
  const is_near = Math.abs(turn_deg) <= MOST_TURN_DEG && Math.abs(tilt_deg) <= MOST_TURN_DEG && Math.abs(slide_mm) <= MOST_SLIDE_MM;
  return is_near ? { slide_mm, turn_deg, tilt_deg } : null;
}

/** The plane with one place of it moved along its normal and another left where it is. */
export function pulledAt(plane: PlaneRecord, end_mm: Vec3, other_mm: Vec3, by_mm: number): PlaneRecord {
  const along = end_mm.map((c, axis) => c - other_mm[axis]!) as Vec3;
  const long_mm = Math.hypot(...along);
  const normal = unit(plane.normal.map((c, axis) => c - (by_mm * along[axis]!) / (long_mm * long_mm)) as Vec3);
  return { normal, offset_mm: dot(normal, other_mm) };
}

const STILL = { slide_mm: 0, turn_deg: 0, tilt_deg: 0, probed: undefined } as const;

/** A seam taken up to be moved, about the middle of its line. */
export function moveSeam(on: Markable, seam: string): Moving | null {
  const own = cutOf(on.cut, seam);
  const made = on.cut.seams.find((one) => one.id === seam);
  if (own === null || made === undefined) return null;
  const ids = new Set(own.seams);
  const lines = on.cut.seams.filter((one) => ids.has(one.id)).map((one) => one.line_mm);
  const [low, high] = boxOf(lines);
  const middle = low.map((c, axis) => 0.5 * (c + high[axis]!)) as Vec3;
  // The middle of a slanted line's box need not lie in its plane.
  const off_mm = dot(own.plane.normal, middle) - own.plane.offset_mm;
  const pivot_mm = middle.map((c, axis) => c - off_mm * own.plane.normal[axis]!) as Vec3;
  return { item: on.item.item, key: on.key, seam, before: beforeCut(on, own), at_mm: made.at_mm, ...only(own), plane: own.plane, pivot_mm, ...STILL };
}

/** A new seam across the longest side of a piece, through its middle. */
export function addSeam(on: Markable, piece: string): Moving | null {
  const made = on.cut.pieces.find((one) => one.id === piece);
  if (made === undefined || made.is_printed) return null;
  const [low, high] = boxOf([made.shape.points_mm]);
  const size = low.map((c, axis) => high[axis]! - c);
  const longest = size.indexOf(Math.max(...size));
  const normal = [0, 1, 2].map((axis) => (axis === longest ? 1 : 0)) as Vec3;
  const pivot_mm = low.map((c, axis) => 0.5 * (c + high[axis]!)) as Vec3;
  return { item: on.item.item, key: on.key, seam: null, before: beforePiece(on, piece), at_mm: made.at_mm, plane: { normal, offset_mm: dot(normal, pivot_mm) }, pivot_mm, ...STILL };
}

/** The seam set where it is: it stays there. */
export function setSeam(on: Markable, moving: Moving): Partial<ItemSettings> | null {
  const { probed } = moving;
  if (probed == null) return null;
  return withSeam(on, moving.seam, moving.before, { plane: planeNow(moving), at_mm: probed.at_mm, ...only(moving) });
}

function boxOf(lists: readonly Float32Array[]): [Vec3, Vec3] {
  const low: Vec3 = [Infinity, Infinity, Infinity];
  const high: Vec3 = [-Infinity, -Infinity, -Infinity];
  for (const points of lists) {
    for (let k = 0; k < points.length; k += 1) {
      const axis = (k % 3) as 0 | 1 | 2;
      low[axis] = Math.min(low[axis], points[k]!);
      high[axis] = Math.max(high[axis], points[k]!);
    }
  }
  return [low, high];
}
