/** Ink of beds and lays: hatching stays inside, numbers stand where there is room. */
import { expect, it } from "vitest";
import { hatching } from "./bed-drawing.ts";
import { roomiest } from "./lay.ts";

it("hatches inside an outline only, an L with its notch left clear", () => {
  const path = hatching([[0, 0], [40, 0], [40, 10], [10, 10], [10, 40], [0, 40]], 3);
  const ends = [...path.matchAll(/[ML]([\d.-]+) ([\d.-]+)/g)].map((m) => [Number(m[1]), Number(m[2])] as const);
  expect(ends.length).toBeGreaterThan(20);
  for (let k = 0; k < ends.length; k += 2) {
    const [x, y] = [(ends[k]![0] + ends[k + 1]![0]) / 2, (ends[k]![1] + ends[k + 1]![1]) / 2];
    expect(x > 10.01 && y > 10.01).toBe(false);
  }
});

it("puts the number into the broad end of a wedge and never into a hole", () => {
  const wedge = roomiest([[[0, 0], [100, 20], [100, -20]]]);
  expect(wedge.at[0]).toBeGreaterThan(60);
  const ring = roomiest([[[0, 0], [60, 0], [60, 60], [0, 60]], [[10, 10], [50, 10], [50, 50], [10, 50]]]);
  const in_hole = ring.at[0] > 10 && ring.at[0] < 50 && ring.at[1] > 10 && ring.at[1] < 50;
  expect(in_hole).toBe(false);
});
