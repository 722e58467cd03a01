/**
 * Marks as the page makes them of the cuts that are drawn: what goes with a seam, what is let go with it.
 */
import { describe, expect, it } from "vitest";
import type { CutNote, MarksRecord, Vec3 } from "../planner/protocol.ts";
import { allowAll, cutOf, endsAt, forbidSeam, keepSeam, letSeamGo, type Markable, printPiece, seamAt, unprintPiece } from "./marks.ts";

/** A bar cut in two, its first half cut again: pieces 1 and 2 on the left, 3 on the right. */
function bar(marks: Partial<MarksRecord> = {}, n_kept = 0, printed: string[] = []): Markable {
  const at = (k: number): Vec3 => [10 * k, 0, 0];
  const cuts: CutNote[] = [
    { plane: { normal: [1, 0, 0], offset_mm: 20 }, is_kept: n_kept > 0, pieces: ["bar-1", "bar-2", "bar-3"], seams: ["bar-s1", "bar-s2"] },
    { plane: { normal: [0, 1, 0], offset_mm: 5 }, is_kept: n_kept > 1, pieces: ["bar-1", "bar-2"], seams: ["bar-s3"] },
  ];
  const seam = (id: string, pieces: [string, string], k: number) => ({ id, pieces, weight: 2 as const, at_mm: at(k), is_kept: false, line_mm: new Float32Array([10 * k, -5, 0, 10 * k, 5, 0]) });
  const piece = (id: string, k: number) => ({ id, number: k, pull_mm: at(0), size_mm: at(1), fits: true, is_printed: printed.includes(id), at_mm: at(k + 5), shape: { points_mm: new Float32Array(), triangles: new Uint32Array() }, skin: new Uint8Array() });
  const cut = {
    pieces: [piece("bar-1", 1), piece("bar-2", 2), piece("bar-3", 3)],
    seams: [seam("bar-s1", ["bar-1", "bar-3"], 1), seam("bar-s2", ["bar-2", "bar-3"], 2), seam("bar-s3", ["bar-1", "bar-2"], 3)],
    cuts,
    seam_mm: 30,
    grid_pieces: 3,
  };
  const size_mm: Vec3 = [40, 10, 10];
  return { item: { item: "bar", cut } as unknown as Markable["item"], cut, key: "k", marks: { size_mm, ...marks } };
}

const [across, along] = bar().cut.cuts.map((one) => one.plane);

describe("marks on an item", () => {
  it("take with a seam that stays those it ends at, in the order cut", () => {
    const kept = keepSeam(bar(), "bar-s3")?.marks;
    expect(kept?.locked?.map((mark) => mark.plane)).toEqual([across, along]);
    expect(kept?.locked?.map((mark) => mark.at_mm)).toEqual([[10, 0, 0], [30, 0, 0]]);
    expect(keepSeam(bar(), "bar-s2")?.marks?.locked).toEqual([{ plane: across, at_mm: [20, 0, 0] }]);
    expect(endsAt(bar().cut, cutOf(bar().cut, "bar-s3")!)).toHaveLength(1);
  });

  it("keep the marks of before as they are, and say nothing of what stays already", () => {
    const before = { locked: [{ plane: across!, at_mm: [20, 3, 0] as Vec3 }] };
    expect(keepSeam(bar(before, 1), "bar-s3")?.marks?.locked).toEqual([before.locked[0], { plane: along, at_mm: [30, 0, 0] }]);
    expect(keepSeam(bar(before, 1), "bar-s1")).toBeNull();
    expect(letSeamGo(bar(before, 1), "bar-s3")).toBeNull();
  });

  it("name the regions of a cut that goes through some alone", () => {
    const on = bar();
    on.cut.cuts[0]!.inside_mm = [[10, 1, 1]];
    const [first] = keepSeam(on, "bar-s3")!.marks!.locked!;
    expect(first).toEqual({ plane: across, at_mm: [10, 0, 0], inside_mm: [[10, 1, 1]] });
  });

  it("let go with a seam what ends at it and prints beside it, and are none when the last is gone", () => {
    const both = { ...keepSeam(bar(), "bar-s3")!.marks!, printed: [[60, 0, 0] as Vec3] };
    expect(letSeamGo(bar(both, 2, ["bar-1"]), "bar-s1")).toEqual({ marks: undefined });
    expect(letSeamGo(bar(both, 2, ["bar-1"]), "bar-s3")?.marks?.locked).toHaveLength(1);
  });

  it("name a seam that is not wanted by its place, whether it stayed before or not", () => {
    const unwanted = forbidSeam(bar(), "bar-s2")?.marks;
    expect(unwanted).toEqual({ size_mm: [40, 10, 10], forbidden: [{ plane: across, at_mm: [20, 0, 0] }] });
    const stayed = keepSeam(bar(), "bar-s3")!.marks!;
    expect(forbidSeam(bar(stayed, 2), "bar-s1")?.marks).toEqual({ size_mm: [40, 10, 10], forbidden: [{ plane: across, at_mm: [10, 0, 0] }] });
    expect(allowAll(bar(unwanted ?? {}))).toEqual({ marks: undefined });
  });

  it("hold with a printed piece every seam round it, and give it free alone", () => {
    const printed = printPiece(bar(), "bar-2")?.marks;
    expect(printed?.locked?.map((mark) => mark.plane)).toEqual([across, along]);
    expect(printed?.printed).toEqual([[70, 0, 0]]);
    expect(printPiece(bar(), "bar-3")?.marks?.locked).toHaveLength(1);
    const now = bar(printed ?? {}, 2, ["bar-2"]);
    expect(printPiece(now, "bar-2")).toBeNull();
    expect(unprintPiece(now, "bar-2")?.marks).toEqual({ size_mm: [40, 10, 10], locked: printed?.locked });
  });

  it("find the seam under a place, and none far from all", () => {
    const { item } = bar();
    expect(seamAt(item, [11, 2, 0], 3)).toBe("bar-s1");
    expect(seamAt(item, [16, 9, 0], 3)).toBeNull();
    expect(seamAt(item, [16, 2, 0], 9)).toBe("bar-s2");
  });
});
