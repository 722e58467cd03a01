/** Planes as they are slid, turned and tilted, back and forth, and where a set seam stands among the marks. */
import { describe, expect, it } from "vitest";
import type { PlaneRecord, Vec3 } from "../planner/protocol.ts";
import { axesIn, type Moving, movedTo, planeNow, pulledAt } from "./moving.ts";

const unit = (a: Vec3): Vec3 => a.map((c) => c / Math.hypot(...a)) as Vec3;

const still = (normal: Vec3, pivot_mm: Vec3): Moving => ({
  item: "bar", key: "k", seam: null, before: [], at_mm: pivot_mm, pivot_mm,
  plane: { normal, offset_mm: normal.reduce((sum, c, axis) => sum + c * pivot_mm[axis]!, 0) },
  slide_mm: 0, turn_deg: 0, tilt_deg: 0, probed: undefined,
});

describe("a seam that is moved", () => {
  it("lies where it lay until it is moved, and slides along its normal", () => {
    const moving = still(unit([1, 2, 3]), [10, 20, 30]);
    expect(planeNow(moving).offset_mm).toBeCloseTo(moving.plane.offset_mm, 12);
    expect(planeNow({ ...moving, slide_mm: 7 }).offset_mm).toBeCloseTo(moving.plane.offset_mm + 7, 12);
  });

  it("turns about the place it turns about by the angle that was typed", () => {
    for (const normal of [[0, 0, 1], [1, 0, 0], unit([1, -1, 0.4])] as Vec3[]) {
      const moving = still(normal, [5, -3, 8]);
      for (const change of [{ turn_deg: 20 }, { tilt_deg: -35 }]) {
        const { normal: now, offset_mm } = planeNow({ ...moving, ...change });
        const along = now.reduce((sum, c, axis) => sum + c * normal[axis]!, 0);
        expect((Math.acos(along) * 180) / Math.PI).toBeCloseTo(Math.abs(Object.values(change)[0]!), 9);
        expect(now.reduce((sum, c, axis) => sum + c * moving.pivot_mm[axis]!, 0)).toBeCloseTo(offset_mm, 12);
      }
      // A standing plane is turned about what stands in it: level stays level.
      const { level, across } = axesIn(moving.plane);
      expect(level[2]).toBeCloseTo(0, 12);
      expect(Math.hypot(...across)).toBeCloseTo(1, 12);
    }
  });

  it("is pulled at one end while the other stays", () => {
    const { plane } = still([0, 0, 1], [0, 0, 20]);
    const off = ({ normal, offset_mm }: PlaneRecord, at: Vec3): number => normal.reduce((sum, c, axis) => sum + c * at[axis]!, -offset_mm);
    const pulled = pulledAt(plane, [50, 0, 20], [-50, 0, 20], 10);
    expect(off(pulled, [-50, 0, 20])).toBeCloseTo(0, 12);
    expect(off(pulled, [50, 0, 30])).toBeCloseTo(0, 12);
    // Across the line between them it stays level.
    expect(pulled.normal[1]).toBeCloseTo(0, 12);
  });

  it("is told how it came to a plane, and not where that is too far", () => {
    const moving = still(unit([1, 2, 3]), [10, 20, 30]);
    const to = { slide_mm: 12, turn_deg: 8, tilt_deg: -15 };
    const back = movedTo(moving, planeNow({ ...moving, ...to }))!;
    for (const [name, value] of Object.entries(to)) expect(back[name as keyof typeof back]).toBeCloseTo(value, 9);
    const turned: PlaneRecord = { normal: unit([-1, -2, -3]), offset_mm: 0 };
    expect(movedTo(moving, turned)).toBeNull();
    expect(movedTo(moving, { ...moving.plane, offset_mm: moving.plane.offset_mm + 500 })).toBeNull();
  });
});
