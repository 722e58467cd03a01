/** Beds: ids as on the command line, what is left of them, what is refused. */
import { expect, it } from "vitest";
import { bedId, bedProblem, boundsOf, newBed, rectangle, resized, USUAL_BEDS, usable_mm } from "./beds.ts";

it("has the ids that the command line gives", () => {
  expect(bedId(false, [220, 220, 250])).toBe("220x220x250");
  expect(bedId(true, [260, 260, 300])).toBe("d260x300");
  expect(USUAL_BEDS.map((usual) => newBed(usual, []).id)).toContain("d260x300");
});

it("never gives two beds one id", () => {
  const first = newBed(USUAL_BEDS[0]!, []);
  const second = newBed(USUAL_BEDS[0]!, [first]);
  const third = resized(newBed(USUAL_BEDS[1]!, []), false, [180, 180, 180], [first, second]);
  expect(new Set([first, second, third].map((bed) => bed.id)).size).toBe(3);
  expect([first, second, third].every((bed) => /^[a-z0-9-]{1,40}$/.test(bed.id))).toBe(true);
});

it("takes the margin off each side and off the top, not off the bed's surface", () => {
  expect(usable_mm(newBed(USUAL_BEDS[1]!, []))).toEqual([210, 210, 245]);
});

it("makes a round bed as wide as deep", () => {
  expect(resized(newBed(USUAL_BEDS[1]!, []), true, [260, 100, 300], []).size_mm).toEqual([260, 260, 300]);
});

it("says why a bed is none", () => {
  const bed = newBed(USUAL_BEDS[1]!, []);
  expect(bedProblem(bed)).toBeNull();
  expect(bedProblem({ ...bed, margin_mm: 110 })).toBe("margin");
  expect(bedProblem({ ...bed, size_mm: [0, 220, 250] })).toBe("size");
  expect(bedProblem({ ...bed, size_mm: [5000, 220, 250] })).toBe("size");
  expect(bedProblem({ ...bed, keep_out: [[[0, 0], [9, 9]]] })).toBe("keep-out");
});

it("finds a rectangle again from its corners", () => {
  expect(boundsOf(rectangle([10, 20, 30, 40]))).toEqual([10, 20, 30, 40]);
});
