/** Seam lines as stitches: nothing of a line is lost, and stitches are even. */
import { expect, it } from "vitest";
import { runs, strokes } from "./stitches.ts";

/** A circle of radius 10 as segments in an order that jumps about, half of them the wrong way round. */
function circle(n: number): Float32Array {
  const at = (k: number): number[] => [10 * Math.cos((2 * Math.PI * k) / n), 10 * Math.sin((2 * Math.PI * k) / n), 0];
  const segments = Array.from({ length: n }, (_, k) => (k % 2 === 0 ? [...at(k), ...at(k + 1)] : [...at(k + 1), ...at(k)]));
  return new Float32Array(Array.from({ length: n }, (_, k) => segments[(k * 7) % n]!).flat());
}

const length = (points: ArrayLike<number>, k: number): number => Math.hypot(points[k + 3]! - points[k]!, points[k + 4]! - points[k + 1]!, points[k + 5]! - points[k + 2]!);

it("chains segments in any order into one closed run of the same length", () => {
  const found = runs(circle(48));
  expect(found).toHaveLength(1);
  const run = found[0]!;
  expect(run.length / 3).toBe(49);
  let whole = 0;
  for (let k = 0; k + 5 < run.length; k += 3) whole += length(run, k);
  expect(whole).toBeCloseTo(48 * 2 * 10 * Math.sin(Math.PI / 48), 3);
});

it("keeps lines apart that do not touch", () => {
  expect(runs(new Float32Array([0, 0, 0, 1, 0, 0, 5, 0, 0, 6, 0, 0]))).toHaveLength(2);
});

it("fills the part of the run that strokes have in their period, whatever its length", () => {
  for (const end of [7, 10, 33.3]) {
    const points = strokes(new Float32Array([0, 0, 0, end, 0, 0]), 3, 1);
    let drawn = 0;
    for (let k = 0; k < points.length; k += 6) drawn += length(points, k);
    expect(drawn).toBeCloseTo(0.75 * end, 4);
  }
});

it("makes no stroke of a run without length", () => {
  expect(strokes(new Float32Array([1, 1, 1, 1, 1, 1]), 3, 1)).toEqual([]);
});
