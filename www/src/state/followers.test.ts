/** The mirrored side of a pair: the same pieces, reflected, under their own ids and numbers. */
import { expect, it } from "vitest";
import type { Lay, Plan } from "../planner/protocol.ts";
import { withFollowers } from "./followers.ts";
import type { ItemFound } from "./state.ts";

const TETRAHEDRON = { points_mm: new Float32Array([0, 0, 0, 8, 0, 0, 0, 6, 0, 0, 0, 4]), triangles: new Uint32Array([0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3]) };
const volume = ({ points_mm: p, triangles: t }: typeof TETRAHEDRON): number => {
  let sum = 0;
  for (let k = 0; k < t.length; k += 3) {
    const [a, b, c] = [3 * t[k]!, 3 * t[k + 1]!, 3 * t[k + 2]!];
    sum += p[a]! * (p[b + 1]! * p[c + 2]! - p[b + 2]! * p[c + 1]!) - p[a + 1]! * (p[b]! * p[c + 2]! - p[b + 2]! * p[c]!) + p[a + 2]! * (p[b]! * p[c + 1]! - p[b + 1]! * p[c]!);
  }
  return sum / 6;
};
const vambrace: ItemFound = {
  item: "vambrace", key: "k", name: "vambrace", size_mm: [10, 6, 4], triangles: 4, notices: [], units: null, shape: TETRAHEDRON, grid: null, at_least: 2,
  cut: {
    pieces: [{ id: "vambrace-1", number: 3, shape: TETRAHEDRON, skin: new Uint8Array([1, 1, 1, 0]), pull_mm: [5, 1, 2], size_mm: [8, 6, 4], fits: true, is_printed: false, at_mm: [0, 0, 0] }],
    seams: [{ id: "vambrace-s1", pieces: ["vambrace-1", "vambrace-2"], line_mm: new Float32Array([1, 2, 3, 4, 5, 6]), weight: 2, at_mm: [0, 0, 0], is_kept: false }],
    cuts: [],
    seam_mm: 9,
    grid_pieces: 2,
  },
};
const item = (id: string, more: object): object => ({ id, name: "vambrace", size_mm: [10, 6, 4], ...more });
const plan = { items: [item("vambrace", {}), item("vambrace-mirrored", { mirror_of: "vambrace" }), item("vambrace-2", { copy_of: "vambrace" }), item("vambrace-2-mirrored", { mirror_of: "vambrace-2" })] } as unknown as Plan;
const lays = [{ pieces: [{ id: "vambrace-mirrored-1", number: 12 }] }] as unknown as Lay[];

it("is reflected in the middle of its width and stays outward", () => {
  const mirrored = withFollowers([vambrace], plan, lays)[1]!;
  const piece = mirrored.cut!.pieces[0]!;
  expect([...piece.shape.points_mm.slice(0, 6)]).toEqual([10, 0, 0, 2, 0, 0]);
  expect(volume(TETRAHEDRON)).toBeCloseTo(32, 6);
  expect(volume(piece.shape as typeof TETRAHEDRON)).toBeCloseTo(32, 6);
  expect(piece.pull_mm).toEqual([-5, 1, 2]);
  expect([...mirrored.cut!.seams[0]!.line_mm]).toEqual([9, 2, 3, 6, 5, 6]);
});

it("has its own ids and the numbers of the lays", () => {
  const all = withFollowers([vambrace], plan, lays);
  expect(all.map((one) => one.item)).toEqual(["vambrace", "vambrace-mirrored", "vambrace-2", "vambrace-2-mirrored"]);
  expect(all[1]!.cut!.pieces[0]).toMatchObject({ id: "vambrace-mirrored-1", number: 12 });
  expect(all[1]!.cut!.seams[0]).toMatchObject({ id: "vambrace-mirrored-s1", pieces: ["vambrace-mirrored-1", "vambrace-mirrored-2"] });
  expect(all[3]!.cut!.pieces[0]!.id).toBe("vambrace-2-mirrored-1");
});

it("leaves a copy's shape as it is, not copied again", () => {
  expect(withFollowers([vambrace], plan, lays)[2]!.cut!.pieces[0]!.shape).toBe(TETRAHEDRON);
});
