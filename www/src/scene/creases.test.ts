/** Normals of a drawing: smooth over a ball, broken at the edges of a box. */
import { expect, it } from "vitest";
import { corners, farthest, places } from "./creases.ts";

const BOX_POINTS = new Float32Array([0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 1, 0, 0, 0, 1, 1, 0, 1, 1, 1, 1, 0, 1, 1]);
const BOX = new Uint32Array([0, 2, 1, 0, 3, 2, 4, 5, 6, 4, 6, 7, 0, 1, 5, 0, 5, 4, 1, 2, 6, 1, 6, 5, 2, 3, 7, 2, 7, 6, 3, 0, 4, 3, 4, 7]);

/** A ball of radius 1 by latitude and longitude. */
function ball(n: number): { points: Float32Array; triangles: Uint32Array } {
  const points: number[] = [];
  const triangles: number[] = [];
  for (let i = 0; i <= n; i += 1) {
    for (let j = 0; j < 2 * n; j += 1) {
      const [a, b] = [(Math.PI * i) / n, (Math.PI * j) / n];
      points.push(Math.sin(a) * Math.cos(b), Math.sin(a) * Math.sin(b), Math.cos(a));
    }
  }
  const at = (i: number, j: number): number => i * 2 * n + (j % (2 * n));
  for (let i = 1; i < n - 1; i += 1) {
    for (let j = 0; j < 2 * n; j += 1) triangles.push(at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j), at(i + 1, j + 1), at(i, j + 1));
  }
  return { points: new Float32Array(points), triangles: new Uint32Array(triangles) };
}

it("gives every corner of a box the normal of its own face", () => {
  const { normals } = corners(BOX_POINTS, BOX);
  for (let k = 0; k < BOX.length; k += 1) {
    const lengths = [0, 1, 2].map((axis) => Math.abs(normals[4 * k + axis]!));
    expect(lengths.sort((a, b) => a - b)).toEqual([0, 0, 127]);
  }
});

it("gives the corners of a ball the directions from its middle", () => {
  const { points, triangles } = ball(24);
  const { positions, normals } = corners(points, triangles);
  let worst = 1;
  for (let k = 0; k < triangles.length; k += 1) {
    // Rings next to the open poles have neighbours on one side only.
    if (Math.abs(positions[3 * k + 2]!) > 0.93) continue;
    const normal = [0, 1, 2].map((axis) => normals[4 * k + axis]!);
    const dot = normal.reduce((sum, part, axis) => sum + (positions[3 * k + axis]! * part) / Math.hypot(...normal), 0);
    worst = Math.min(worst, dot);
  }
  // Facets lean 3.75 degrees from the ball at their corners; the mean over them leans less.
  expect((Math.acos(worst) * 180) / Math.PI).toBeLessThan(2);
});

it("spreads places over the skin by area and none over cut faces", () => {
  const skin = new Uint8Array(12).fill(1);
  skin[0] = 0;
  skin[1] = 0; // the bottom is a cut face
  const found = places(BOX_POINTS, BOX, skin, 50);
  expect(found.length).toBe(150);
  const heights = Array.from({ length: 50 }, (_, k) => found[3 * k + 2]!);
  expect(heights.every((z) => z > 0.1)).toBe(true);
  expect(heights.filter((z) => z > 0.99).length).toBe(10);
});

it("finds how far a ball reaches in any direction, to a hundredth", () => {
  const { points } = ball(24);
  const far = farthest(points, 120);
  for (const [x, y, z] of [[1, 0, 0], [0, -1, 0], [0.6, 0, 0.8], [-0.48, 0.64, -0.6]] as const) {
    let most = 0;
    for (let k = 0; k < far.length; k += 3) most = Math.max(most, x * far[k]! + y * far[k + 1]! + z * far[k + 2]!);
    expect(most).toBeGreaterThan(0.97);
    expect(most).toBeLessThan(1.0001);
  }
});
