/** Figures as they stand on the sheet. */
import { expect, it } from "vitest";
import { bedSize, count, figure, handTime, megabytes, mm, seconds, size } from "./figures.ts";

const plain = (text: string): string => text.replaceAll("\u202f", " ");

it("parts thousands by a thin space and drops decimals that say nothing", () => {
  expect(plain(figure(1012))).toBe("1 012");
  expect(plain(figure(1234567.891, 2))).toBe("1 234 567.89");
  expect(figure(5, 2)).toBe("5");
  expect(figure(-0.001, 1)).toBe("0");
  expect(figure(-3)).toBe("−3");
  expect(figure(Number.NaN)).toBe("–");
});

it("writes sizes with their unit, and a round bed by its diameter", () => {
  expect(plain(size([128, 174, 211]))).toBe("128 × 174 × 211 mm");
  expect(plain(bedSize({ shape: "rect", size_mm: [220, 220, 250] }))).toBe("220 × 220 × 250 mm");
  expect(plain(bedSize({ shape: "round", size_mm: [260, 260, 300] }))).toBe("⌀ 260 × 300 mm");
  expect(plain(mm(0.25, 2))).toBe("0.25 mm");
});

it("counts one piece and several", () => {
  expect(count(1, "piece", "pieces")).toBe("1 piece");
  expect(count(0, "piece", "pieces")).toBe("0 pieces");
});

it("writes times and amounts of bytes as one reads them", () => {
  expect(plain(seconds(8.24))).toBe("8.2 s");
  expect(plain(seconds(185))).toBe("3 min 5 s");
  expect([48, 89, 90, 235, 571].map((minutes) => plain(handTime(minutes)))).toEqual(["50 min", "90 min", "1.5 h", "4 h", "9.5 h"]);
  expect(plain(megabytes(49_900_084))).toBe("49.9 MB");
  expect(plain(megabytes(84))).toBe("1 kB");
  expect(plain(megabytes(0))).toBe("0 kB");
});
