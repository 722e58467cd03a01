/**
 * Seam lines as stitches: short strokes along the line, longer and heavier where a seam is harder to
 * hide.
 *
 * How: segments are chained by their end points into runs, and each run is cut into strokes of equal
 * length with equal gaps, fitted so that a closed run has no short last stitch.
 * Units: mm; widths and lengths are given in pixels and turned into mm by the caller's scale.
 */

/** Of a seam that stays and of the one chosen: a line without gaps, the chosen one heavy. */
export const UNBROKEN = { kept: { stroke: 10, gap: 0, width: 1.7 }, chosen: { stroke: 10, gap: 0, width: 3.8 } };

/** Of a line that is laid and no seam yet. */
export const LAID = { stroke: 14, gap: 4, width: 3.4 };

/** By weight 1, 2, 3: stroke, gap and width in CSS pixels. Our choice, by eye. */
export const THREADS: Record<1 | 2 | 3, { stroke: number; gap: number; width: number }> = {
  1: { stroke: 2.4, gap: 4, width: 1.3 },
  2: { stroke: 6.5, gap: 5, width: 1.7 },
  3: { stroke: 10.5, gap: 6, width: 2.4 },
};

/** Ends closer than this are one point: a quarter of the finest line the drawing can show. */
const SAME_MM = 0.02;

/** Runs of points, from segments in any order and direction. */
export function runs(line_mm: Float32Array): Float32Array[] {
  const n = line_mm.length / 6;
  const key = (k: number): string => `${Math.round(line_mm[k]! / SAME_MM)},${Math.round(line_mm[k + 1]! / SAME_MM)},${Math.round(line_mm[k + 2]! / SAME_MM)}`;
  const at = new Map<string, number[]>();
  for (let s = 0; s < n; s += 1) {
    for (const end of [0, 1]) {
      const name = key(6 * s + 3 * end);
      const there = at.get(name);
      if (there === undefined) at.set(name, [s]);
      else there.push(s);
    }
  }
  const used = new Uint8Array(n);
  const walk = (start: number, end: 0 | 1): number[] => {
    // Points beyond `end` of segment `start`, as offsets into `line_mm`.
    const found: number[] = [];
    let [segment, out] = [start, end];
    for (;;) {
      const here = 6 * segment + 3 * out;
      found.push(here);
      const next = at.get(key(here))?.find((other) => used[other] === 0);
      if (next === undefined) return found;
      used[next] = 1;
      out = key(6 * next) === key(here) ? 1 : 0;
      segment = next;
    }
  };
  const chained: Float32Array[] = [];
  for (let s = 0; s < n; s += 1) {
    if (used[s] === 1) continue;
    used[s] = 1;
    const forward = walk(s, 1);
    const backward = walk(s, 0);
    const offsets = [...backward.reverse(), ...forward];
    const points = new Float32Array(offsets.length * 3);
    offsets.forEach((offset, index) => points.set(line_mm.subarray(offset, offset + 3), 3 * index));
    chained.push(points);
  }
  return chained;
}

/** Strokes as pairs of points, xyz each. A stroke that goes round a bend gives several pairs. */
export function strokes(run: Float32Array, stroke_mm: number, gap_mm: number): number[] {
  const n = run.length / 3;
  const length = (k: number): number => Math.hypot(run[3 * k + 3]! - run[3 * k]!, run[3 * k + 4]! - run[3 * k + 1]!, run[3 * k + 5]! - run[3 * k + 2]!);
  let whole = 0;
  for (let k = 0; k + 1 < n; k += 1) whole += length(k);
  if (whole === 0) return [];
  const period = whole / Math.max(1, Math.round(whole / (stroke_mm + gap_mm)));
  const stroke = Math.min(period, (period * stroke_mm) / (stroke_mm + gap_mm));
  const found: number[] = [];
  let begun = 0;
  for (let k = 0; k + 1 < n; k += 1) {
    const part = length(k);
    if (part === 0) continue;
    const point = (along: number, axis: number): number => run[3 * k + axis]! + ((run[3 * k + 3 + axis]! - run[3 * k + axis]!) * along) / part;
    // The strokes that meet this stretch of the run.
    for (let index = Math.floor(begun / period); index * period < begun + part; index += 1) {
      const from = Math.max(0, index * period - begun);
      const to = Math.min(part, index * period + stroke - begun);
      if (to - from <= 1e-6) continue;
      for (const along of [from, to]) found.push(point(along, 0), point(along, 1), point(along, 2));
    }
    begun += part;
  }
  return found;
}
