/** The eye: what fits the frame, what stays under the pointer. */
import { expect, it } from "vitest";
import { axesOf, dot, FIRST_EYE, fitted, moved, onScreen, rayThrough, turned, zoomed, type Vec } from "./camera.ts";

const frame = { left: 100, top: 50, right: 500, bottom: 350 };
const corners = Array.from({ length: 8 }, (_, k): Vec => [k & 1 ? 120 : 0, k & 2 ? 200 : 0, k & 4 ? 300 : 0]);

it("has three axes at right angles, whichever way it looks", () => {
  for (const [azimuth, elevation] of [[0, 0], [1, 0.4], [-2.5, 1.5]] as const) {
    const { right, up, back } = axesOf({ azimuth, elevation });
    for (const [a, b] of [[right, up], [up, back], [back, right]] as const) expect(dot(a, b)).toBeCloseTo(0, 12);
    expect(dot(right, right)).toBeCloseTo(1, 12);
    // Right-handed: right x up = back.
    expect(right[0] * up[1] - right[1] * up[0]).toBeCloseTo(back[2], 12);
  }
});

it("fits every corner of a box into the frame and touches two sides of it", () => {
  const eye = fitted(FIRST_EYE, corners, frame);
  const seen = corners.map((p) => onScreen(p, eye, axesOf(eye), frame));
  const [xs, ys] = [seen.map((p) => p[0]), seen.map((p) => p[1])];
  expect(Math.min(...xs)).toBeGreaterThan(frame.left - 1e-6);
  expect(Math.max(...xs)).toBeLessThan(frame.right + 1e-6);
  expect(Math.min(...ys)).toBeCloseTo(frame.top, 6);
  expect(Math.max(...ys)).toBeCloseTo(frame.bottom, 6);
});

it("keeps what is under the pointer there while it zooms", () => {
  const eye = fitted(FIRST_EYE, corners, frame);
  const p: Vec = [30, 10, 250];
  const at = onScreen(p, eye, axesOf(eye), frame);
  const near = zoomed(eye, 3, at, frame);
  const then = onScreen(p, near, axesOf(near), frame);
  expect(then[0]).toBeCloseTo(at[0], 6);
  expect(then[1]).toBeCloseTo(at[1], 6);
});

it("moves the drawing the way the hand goes", () => {
  const eye = fitted(FIRST_EYE, corners, frame);
  const before = onScreen([0, 0, 0], eye, axesOf(eye), frame);
  const after = onScreen([0, 0, 0], moved(eye, 25, -10), axesOf(eye), frame);
  expect(after[0] - before[0]).toBeCloseTo(25, 6);
  expect(after[1] - before[1]).toBeCloseTo(-10, 6);
});

it("turns no further than straight from above", () => {
  expect(turned(FIRST_EYE, 0, 1e5).elevation).toBeCloseTo(Math.PI / 2, 12);
  expect(turned(FIRST_EYE, 0, -1e5).elevation).toBeCloseTo(-Math.PI / 2, 12);
});

it("sends a ray through all that is seen at a place, from outside", () => {
  const eye = turned(zoomed(fitted(FIRST_EYE, corners, frame), 1.7, [200, 90], frame), 120, -40);
  for (const p of corners) {
    const { from_mm, direction } = rayThrough(onScreen(p, eye, axesOf(eye), frame), eye, frame);
    const to: Vec = [p[0] - from_mm[0], p[1] - from_mm[1], p[2] - from_mm[2]];
    const along = dot(to, direction);
    expect(dot(direction, direction)).toBeCloseTo(1, 12);
    expect(along).toBeGreaterThan(1000);
    expect(Math.hypot(...to.map((mm, axis) => mm - along * direction[axis]!))).toBeLessThan(1e-8);
  }
});
