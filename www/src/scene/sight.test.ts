/** Flying to a place: the side it is seen from. */
import { describe, expect, it } from "vitest";
import { FIRST_EYE } from "./camera.ts";
import { clearest, firstHit, flownTo } from "./sight.ts";

/** A square of 20 mm across x at `x`, standing on z = -10. */
const wall = (x: number): number[] => [x, -10, -10, x, 10, -10, x, 10, 10, x, -10, -10, x, 10, 10, x, -10, 10];

describe("the side a place is seen from", () => {
  it("is where no triangle stands between", () => {
    expect(firstHit([0, 0, 0], [1, 0, 0], wall(7))).toBeCloseTo(7);
    expect(firstHit([0, 0, 0], [-1, 0, 0], wall(7))).toBe(Infinity);
    expect(firstHit([0, 30, 0], [1, 0, 0], wall(7))).toBe(Infinity);
    // An eye of azimuth 0 looks along +y: it stands at -y; one of a quarter turn stands at +x.
    const [front, right] = [{ azimuth: 0, elevation: 0 }, { azimuth: Math.PI / 2, elevation: 0 }];
    expect(clearest([0, 0, 0], [wall(7)], [right, front])).toBe(1);
    expect(clearest([0, 0, 0], [wall(-7)], [right, front])).toBe(0);
  });

  it("is the one that goes clear farthest where all are hidden", () => {
    const [left, right] = [{ azimuth: -Math.PI / 2, elevation: 0 }, { azimuth: Math.PI / 2, elevation: 0 }];
    expect(clearest([0, 0, 0], [wall(7), wall(-3)], [left, right])).toBe(1);
  });
});

describe("an eye that flies to a place", () => {
  const frame = { left: 0, top: 0, right: 600, bottom: 400 };

  it("stands outside the item, with the place in the middle", () => {
    const eye = flownTo(FIRST_EYE, [0, 100, 100], [100, 100, 100], [200, 200, 200], frame, []);
    expect(eye.centre_mm).toEqual([0, 100, 100]);
    // Seen from -x.
    expect(Math.sin(eye.azimuth)).toBeCloseTo(-1);
    expect(eye.elevation).toBeCloseTo(0);
    expect(eye.px_per_mm).toBeCloseTo(400 / 60);
    expect(eye.is_free).toBe(true);
  });

  it("turns aside where something is in front", () => {
    const eye = flownTo(FIRST_EYE, [0, 0, 0], [100, 0, 0], [200, 200, 200], frame, [wall(-7)]);
    expect(Math.sin(eye.azimuth)).toBeGreaterThan(-0.95);
  });
});
