/**
 * The eye: parallel projection from a direction, as on a drawing; turned, moved and zoomed.
 *
 * Units and frame: mm, Z up; azimuth and elevation in radians. Azimuth 0 looks along +Y, at the
 * front of an item. On the screen x goes right and y down, in CSS pixels.
 */
import type { Frame } from "./messages.ts";

export type Vec = readonly [number, number, number];

export interface Eye {
  azimuth: number;
  elevation: number;
  /** What is in the middle of the frame. */
  centre_mm: Vec;
  px_per_mm: number;
  /** The maker zoomed or moved: the eye is no longer fitted by itself. */
  is_free: boolean;
}

export const FIRST_EYE: Eye = { azimuth: -0.55, elevation: 0.32, centre_mm: [0, 0, 0], px_per_mm: 1, is_free: false };

/** A whole turn is a drag over about the width of a hand on a tablet. */
const RADIANS_PER_PX = 0.0085;
/** Straight from above is allowed, over the top is not. */
const STEEPEST = Math.PI / 2;

export interface Axes {
  right: Vec;
  up: Vec;
  /** Toward the eye. */
  back: Vec;
}

export function axesOf({ azimuth, elevation }: Pick<Eye, "azimuth" | "elevation">): Axes {
  const [sa, ca, se, ce] = [Math.sin(azimuth), Math.cos(azimuth), Math.sin(elevation), Math.cos(elevation)];
  return { right: [ca, sa, 0], up: [-sa * se, ca * se, ce], back: [sa * ce, -ca * ce, se] };
}

export const dot = (a: Vec, b: Vec): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

/** As if the item were taken by its front: down shows more of its top. */
export function turned(eye: Eye, across_px: number, down_px: number): Eye {
  const elevation = Math.min(STEEPEST, Math.max(-STEEPEST, eye.elevation + down_px * RADIANS_PER_PX));
  return { ...eye, azimuth: eye.azimuth - across_px * RADIANS_PER_PX, elevation };
}

export function moved(eye: Eye, across_px: number, down_px: number): Eye {
  const { right, up } = axesOf(eye);
  const [x, y] = [-across_px / eye.px_per_mm, down_px / eye.px_per_mm];
  const centre = eye.centre_mm.map((c, axis) => c + (right[axis] as number) * x + (up[axis] as number) * y);
  return { ...eye, centre_mm: centre as unknown as Vec, is_free: true };
}

/** Zooms so that what is under `at` stays there; the middle of the frame where `at` is `null`. */
export function zoomed(eye: Eye, factor: number, at: readonly [number, number] | null, frame: Frame): Eye {
  const px_per_mm = Math.min(200, Math.max(0.01, eye.px_per_mm * factor));
  const [cx, cy] = middle(frame);
  const [x, y] = at === null ? [0, 0] : [at[0] - cx, cy - at[1]];
  const keep = px_per_mm / eye.px_per_mm - 1;
  return { ...moved({ ...eye, px_per_mm }, -x * keep, y * keep), px_per_mm };
}

export const middle = (frame: Frame): [number, number] => [(frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2];

export function onScreen(p: Vec, eye: Eye, axes: Axes, frame: Frame): [number, number] {
  const from: Vec = [p[0] - eye.centre_mm[0], p[1] - eye.centre_mm[1], p[2] - eye.centre_mm[2]];
  const [cx, cy] = middle(frame);
  return [cx + dot(from, axes.right) * eye.px_per_mm, cy - dot(from, axes.up) * eye.px_per_mm];
}

/** Farther toward the eye than anything that is drawn. */
const OUTSIDE_MM = 100_000;

/** The ray from the eye through a place on the screen. */
export function rayThrough(at: readonly [number, number], eye: Eye, frame: Frame): { from_mm: Vec; direction: Vec } {
  const { right, up, back } = axesOf(eye);
  const [cx, cy] = middle(frame);
  const [x, y] = [(at[0] - cx) / eye.px_per_mm, (cy - at[1]) / eye.px_per_mm];
  const from = eye.centre_mm.map((c, axis) => c + x * right[axis]! + y * up[axis]! + OUTSIDE_MM * back[axis]!);
  return { from_mm: from as unknown as Vec, direction: [-back[0], -back[1], -back[2]] };
}

/** The eye from the same side that shows all points within the frame. */
export function fitted(eye: Eye, points_mm: readonly Vec[], frame: Frame): Eye {
  if (points_mm.length === 0) return eye;
  const { right, up, back } = axesOf(eye);
  const spans = [right, up, back].map((axis) => {
    let [low, high] = [Infinity, -Infinity];
    for (const p of points_mm) {
      const at = dot(p, axis);
      low = Math.min(low, at);
      high = Math.max(high, at);
    }
    return { size: high - low, middle: (low + high) / 2, axis };
  });
  const [w, h] = [spans[0]!.size, spans[1]!.size];
  const [room_w, room_h] = [Math.max(20, frame.right - frame.left), Math.max(20, frame.bottom - frame.top)];
  const px_per_mm = Math.min(room_w / Math.max(w, 1e-6), room_h / Math.max(h, 1e-6));
  const along = (k: 0 | 1 | 2): number => spans.reduce((sum, span) => sum + span.axis[k] * span.middle, 0);
  return { ...eye, px_per_mm, centre_mm: [along(0), along(1), along(2)], is_free: false };
}
