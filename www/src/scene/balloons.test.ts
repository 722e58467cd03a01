/** Balloons: all of them there, apart from each other, inside the sheet, beside the item. */
import { expect, it } from "vitest";
import { cross, layBalloons, RADIUS } from "./balloons.ts";
import type { Anchor } from "./messages.ts";

const frame = { left: 0, top: 0, right: 900, bottom: 700 };
const box = { left: 300, top: 150, right: 600, bottom: 550 };
const anchors = (n: number): Anchor[] =>
  Array.from({ length: n }, (_, k) => ({ piece: `p-${k}`, number: k + 1, at: [300 + ((k * 97) % 300), 150 + ((k * 61) % 400)], is_seen: true }));

it("stand apart from each other and from the item, within the frame", () => {
  for (const n of [1, 2, 5, 12]) {
    const laid = layBalloons(anchors(n), box, frame);
    expect(laid).toHaveLength(n);
    for (const one of laid) {
      expect(one.x).toBeGreaterThanOrEqual(frame.left + RADIUS);
      expect(one.x).toBeLessThanOrEqual(frame.right - RADIUS);
      expect(one.y).toBeGreaterThanOrEqual(frame.top + RADIUS - 1e-9);
      expect(one.y).toBeLessThanOrEqual(frame.bottom - RADIUS + 1e-9);
      for (const other of laid) if (other !== one) expect(Math.hypot(one.x - other.x, one.y - other.y)).toBeGreaterThan(2 * RADIUS);
    }
  }
});

it("share the two sides, so that their lines are short", () => {
  const laid = layBalloons(anchors(10), box, frame);
  expect(laid.filter((one) => one.x < 450)).toHaveLength(5);
});

it("are numbered as the pieces are, and point where the drawing says", () => {
  const given = anchors(6);
  const laid = layBalloons(given, box, frame);
  expect(laid.map((one) => one.number)).toEqual([1, 2, 3, 4, 5, 6]);
  expect(laid.map((one) => one.to)).toEqual(given.map((one) => one.at));
});

it("have lines that do not cross, wherever the places lie", () => {
  let crossed = 0;
  for (let seed = 1; seed <= 300; seed += 1) {
    // Places drawn by a linear congruence, so that a failure comes again.
    let drawn = seed;
    const next = (): number => (drawn = (drawn * 16807) % 2147483647) / 2147483647;
    const given = Array.from({ length: 3 + (seed % 10) }, (_, k): Anchor => ({ piece: `p-${k}`, number: k + 1, at: [300 + 300 * next(), 150 + 400 * next()], is_seen: true }));
    const laid = layBalloons(given, box, frame);
    expect(laid.map((one) => one.to)).toEqual(given.map((one) => one.at));
    for (const [k, a] of laid.entries()) for (const b of laid.slice(k + 1)) crossed += cross(a, b) ? 1 : 0;
  }
  expect(crossed).toBe(0);
});

it("stand above and below an item that lies, their lines short and apart", () => {
  const long = { left: 100, top: 320, right: 800, bottom: 420 };
  const given = [200, 450, 700].map((x, k): Anchor => ({ piece: `p-${k}`, number: k + 1, at: [x, 370], is_seen: true }));
  for (const one of layBalloons(given, long, frame)) {
    expect(one.y < long.top || one.y > long.bottom).toBe(true);
    expect(Math.abs(one.x - one.to[0])).toBeLessThan(70);
  }
});

it("go onto the pieces where there are many, still apart and near their places", () => {
  const given = anchors(30);
  const laid = layBalloons(given, box, frame);
  for (const [k, one] of laid.entries()) {
    expect(Math.hypot(one.x - given[k]!.at[0], one.y - given[k]!.at[1])).toBeLessThan(40);
    for (const other of laid) if (other !== one) expect(Math.hypot(one.x - other.x, one.y - other.y)).toBeGreaterThan(2 * one.radius - 1);
  }
});
