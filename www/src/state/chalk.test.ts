/** Chalk: how strokes are laid and rubbed out, and what a model's settings say of it. */
import { describe, expect, it } from "vitest";
import type { Vec3 } from "../planner/protocol.ts";
import { chalked, chalkOn, drawnChalk, stroke, stroked } from "./chalk.ts";
import { isOriginal, markable } from "./marks.ts";
import { firstState, type ItemFound, type State } from "./state.ts";

const off = { tool: "off", radius_mm: 10 } as const;
const along = (...xs: number[]): Vec3[] => xs.map((x) => [x, 0, 0]);

const item = (id: string): ItemFound => ({ item: id, key: "k", size_mm: [40, 10, 10] }) as unknown as ItemFound;

function state(chalk?: ReturnType<typeof chalkOn>): State {
  const before = firstState([]);
  const marks = chalk === undefined ? {} : { marks: { size_mm: [40, 10, 10] as Vec3, chalk: [...chalk] } };
  const models = [{ key: "k", name: "bar.stl", n_bytes: 1, settings: { copies: 2, ...marks } }];
  return { ...before, decisions: { ...before.decisions, models }, run: { ...before.run, items: [item("bar"), item("bar-c2")] } };
}

describe("chalk", () => {
  it("is laid in touches half a radius apart", () => {
    const places = along(0, 2, 4, 6, 9, 11).reduce<readonly Vec3[]>((so_far, at) => stroke(so_far, at, off), []);
    expect(places).toEqual(along(0, 6, 11));
  });

  it("takes the place of smaller touches under it, and is rubbed out where the rubber meets it", () => {
    const small = { kind: "in" as const, at_mm: [1, 0, 0] as Vec3, radius_mm: 3 };
    const beside = { kind: "in" as const, at_mm: [30, 0, 0] as Vec3, radius_mm: 3 };
    const now = stroked([small, beside], along(0, 6), off);
    expect(now).toEqual([beside, ...along(0, 6).map((at_mm) => ({ kind: "off", at_mm, radius_mm: 10 }))]);
    expect(stroked(now, along(0), { tool: "rub", radius_mm: 2 })).toEqual([beside]);
    expect(stroked(now, along(100), { tool: "rub", radius_mm: 2 })).toEqual(now);
  });

  it("belongs to the item others follow, and leaves no record when the last is gone", () => {
    const chalk = stroked([], along(0), off);
    const now = state(chalk);
    expect(now.run.items.map((one) => isOriginal(now, one))).toEqual([true, false]);
    // A follower of one piece has no cuts either, and is not marked all the same.
    const whole = { pieces: [{}], seams: [], cuts: [], seam_mm: 0, grid_pieces: 1 } as unknown as NonNullable<ItemFound["cut"]>;
    const items = now.run.items.map((one) => ({ ...one, cut: whole }));
    const cut: State = { ...now, run: { ...now.run, items } };
    expect(items.map((one) => markable(cut, one) !== null)).toEqual([true, false]);
    expect(chalkOn(now, now.run.items[0]!)).toEqual(chalk);
    expect(chalkOn(now, now.run.items[1]!)).toEqual([]);
    expect(chalked(state(), item("bar"), chalk)).toEqual({ key: "k", settings: { marks: { size_mm: [40, 10, 10], chalk } } });
    expect(chalked(now, now.run.items[0]!, [])).toEqual({ key: "k", settings: { marks: undefined } });
    expect(chalked(now, now.run.items[0]!, chalkOn(now, now.run.items[0]!))).toBeNull();
  });

  it("is told to the drawing touch by touch, a radius below nothing where a seam is welcome", () => {
    expect([...drawnChalk([...stroked([], along(5), off), ...stroked([], along(7), { tool: "in", radius_mm: 2 })])]).toEqual([5, 0, 0, 10, 7, 0, 0, -2]);
  });
});
