/**
 * Flying to a place of an item, to the side it is seen from: rays from the place, one a direction, against all triangles.
 *
 * Cost: triangles times directions until one is clear; 150,000 triangles and a dozen directions take
 * some tens of milliseconds, once a flight.
 * Source: the meeting of ray and triangle as in "Fast, minimum storage ray/triangle intersection"
 * (1997; from memory).
 */
import { axesOf, type Eye, type Vec } from "./camera.ts";
import type { Frame } from "./messages.ts";

/** The ray begins this far from the place, past the triangles the place itself is on. */
const OFF_MM = 0.5;

/** Of some directions of the eye the first from which nothing hides the place; else the one that goes clear farthest. */
export function clearest(place_mm: Vec, triangles: readonly ArrayLike<number>[], eyes: readonly { azimuth: number; elevation: number }[]): number {
  let best = 0;
  let farthest = -1;
  for (const [index, eye] of eyes.entries()) {
    const { back } = axesOf(eye);
    const from: Vec = [place_mm[0] + OFF_MM * back[0], place_mm[1] + OFF_MM * back[1], place_mm[2] + OFF_MM * back[2]];
    const first = triangles.reduce((least, corners) => Math.min(least, firstHit(from, back, corners)), Infinity);
    if (first === Infinity) return index;
    if (first > farthest) [best, farthest] = [index, first];
  }
  return best;
}

/** How far the ray goes before it meets a triangle; nine numbers a triangle. */
export function firstHit(from: Vec, ray: Vec, corners: ArrayLike<number>): number {
  let first = Infinity;
  for (let k = 0; k + 8 < corners.length; k += 9) {
    const [ax, ay, az] = [corners[k]!, corners[k + 1]!, corners[k + 2]!];
    const [ux, uy, uz] = [corners[k + 3]! - ax, corners[k + 4]! - ay, corners[k + 5]! - az];
    const [vx, vy, vz] = [corners[k + 6]! - ax, corners[k + 7]! - ay, corners[k + 8]! - az];
    const [px, py, pz] = [ray[1] * vz - ray[2] * vy, ray[2] * vx - ray[0] * vz, ray[0] * vy - ray[1] * vx];
    const scale = ux * px + uy * py + uz * pz;
    if (scale === 0) continue;
    const [tx, ty, tz] = [from[0] - ax, from[1] - ay, from[2] - az];
    const s = (tx * px + ty * py + tz * pz) / scale;
    if (s < 0 || s > 1) continue;
    const [qx, qy, qz] = [ty * uz - tz * uy, tz * ux - tx * uz, tx * uy - ty * ux];
    const t = (ray[0] * qx + ray[1] * qy + ray[2] * qz) / scale;
    if (t < 0 || s + t > 1) continue;
    const far = (vx * qx + vy * qy + vz * qz) / scale;
    if (far > 0 && far < first) first = far;
  }
  return first;
}

/** So much is shown round a place that is flown to, in mm. */
const AROUND_MM = 90;
/** Of a small item no more than this share of it. */
const SHARE = 0.3;
/** Turned aside so much, in radians, where something is in front; azimuth, then elevation. */
const ASIDE = [[0, 0], [0.5, 0], [-0.5, 0], [0, 0.5], [0, -0.5], [1, 0], [-1, 0], [0, 1], [0, -1], [1.6, 0.3], [-1.6, 0.3], [2.4, 0.3], [-2.4, 0.3], [3.14, 0]] as const;

/** The eye that looks at a place closely: from outside the item, or from where nothing hides it. */
export function flownTo(eye: Eye, at_mm: Vec, middle_mm: Vec, size_mm: Vec, frame: Frame, triangles: readonly ArrayLike<number>[]): Eye {
  const [x, y, z] = [at_mm[0] - middle_mm[0], at_mm[1] - middle_mm[1], at_mm[2] - middle_mm[2]];
  const out = Math.hypot(x, y);
  // Straight over the middle no side is nearer: the eye stays on its own.
  const azimuth = out < 1e-3 ? eye.azimuth : Math.atan2(x, -y);
  const elevation = Math.atan2(z, Math.max(out, 1e-3));
  const steepest = (angle: number): number => Math.min(1.2, Math.max(-1.2, angle));
  const eyes = ASIDE.map(([turn, rise]) => ({ azimuth: azimuth + turn, elevation: steepest(elevation + rise) }));
  const across_mm = Math.max(20, Math.min(AROUND_MM, SHARE * Math.max(...size_mm)));
  const room = Math.max(40, Math.min(frame.right - frame.left, frame.bottom - frame.top));
  return { ...eyes[clearest(at_mm, triangles, eyes)]!, centre_mm: at_mm, px_per_mm: room / across_mm, is_free: true };
}
