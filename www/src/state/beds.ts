/**
 * Printer beds as decisions: the usual sizes, ids made from sizes, and what makes a bed impossible.
 *
 * Units: mm. Beds are named by their size, never by words. Sizes are those makers' printers come in
 * (common practice, no source); margin 5 and gap 5 likewise.
 */
import type { Bed } from "../planner/protocol.ts";

export interface UsualBed {
  round: boolean;
  size_mm: [number, number, number];
}

export const USUAL_BEDS: readonly UsualBed[] = [
  { round: false, size_mm: [180, 180, 180] },
  { round: false, size_mm: [220, 220, 250] },
  { round: false, size_mm: [256, 256, 256] },
  { round: false, size_mm: [300, 300, 300] },
  { round: false, size_mm: [350, 350, 350] },
  { round: true, size_mm: [260, 260, 300] },
];

export const USUAL_MARGIN_MM = 5;
export const USUAL_GAP_MM = 5;
/** The core refuses larger beds: its grid is exact in 32-bit numbers up to here. */
export const LARGEST_MM = 4096;

/** Same as the native program's `--bed`: `220x220x250`, `d260x300`. Figures keep their decimals. */
export function bedId(round: boolean, [width, depth, height]: readonly [number, number, number]): string {
  const part = (mm: number): string => String(Math.round(mm * 1000) / 1000).replace(".", "-");
  return round ? `d${part(width)}x${part(height)}` : `${part(width)}x${part(depth)}x${part(height)}`;
}

export function newBed({ round, size_mm }: UsualBed, taken: readonly Bed[]): Bed {
  return {
    id: freeId(bedId(round, size_mm), taken),
    shape: round ? "round" : "rect",
    size_mm: [...size_mm],
    margin_mm: USUAL_MARGIN_MM,
    gap_mm: USUAL_GAP_MM,
    count: 1,
    keep_out: [],
  };
}

/** A bed with another size; its id follows the size. */
export function resized(bed: Bed, round: boolean, size_mm: [number, number, number], others: readonly Bed[]): Bed {
  const size: [number, number, number] = round ? [size_mm[0], size_mm[0], size_mm[2]] : [...size_mm];
  return { ...bed, shape: round ? "round" : "rect", size_mm: size, id: freeId(bedId(round, size), others) };
}

function freeId(id: string, taken: readonly Bed[]): string {
  const is_taken = (wanted: string): boolean => taken.some((bed) => bed.id === wanted);
  if (!is_taken(id)) return id;
  let n = 2;
  while (is_taken(`${id}-${n}`)) n += 1;
  return `${id}-${n}`;
}

/** Width and depth left for footprints, and height, with the margin taken off. */
export function usable_mm(bed: Bed): [number, number, number] {
  const [width, depth, height] = bed.size_mm;
  return [width - 2 * bed.margin_mm, depth - 2 * bed.margin_mm, height - bed.margin_mm];
}

/** Why the planner would refuse the bed, as a code for the words file; `null` where it is possible. */
export function bedProblem(bed: Bed): "size" | "margin" | "gap" | "keep-out" | null {
  const is_length = (mm: number): boolean => Number.isFinite(mm) && mm > 0 && mm <= LARGEST_MM;
  if (!bed.size_mm.every(is_length)) return "size";
  if (!(bed.margin_mm >= 0) || !usable_mm(bed).every((mm) => mm > 0)) return "margin";
  if (bed.gap_mm !== undefined && !(bed.gap_mm >= 0 && bed.gap_mm <= LARGEST_MM)) return "gap";
  const is_on_sheet = (mm: number): boolean => Number.isFinite(mm) && Math.abs(mm) <= LARGEST_MM;
  if (!bed.keep_out.every((area) => area.length >= 3 && area.flat().every(is_on_sheet))) return "keep-out";
  return null;
}

/** A keep-out rectangle as its polygon, counter-clockwise from the corner nearest the origin. */
export function rectangle([x, y, w, d]: readonly [number, number, number, number]): [number, number][] {
  return [
    [x, y],
    [x + w, y],
    [x + w, y + d],
    [x, y + d],
  ];
}

/** The other way: x, y, width and depth of a polygon's bounds. */
export function boundsOf(area: readonly (readonly [number, number])[]): [number, number, number, number] {
  const xs = area.map((p) => p[0]);
  const ys = area.map((p) => p[1]);
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return [x, y, Math.max(...xs) - x, Math.max(...ys) - y];
}
