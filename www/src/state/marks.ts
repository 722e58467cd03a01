/**
 * What the maker marks on an item: seams that stay or are not wanted, pieces that are printed.
 *
 * How: a seam that stays is named by its plane and a place on its line, and stands after all it ends at,
 * in the order cut; so with one go those it ends at, and what ends at one that is let go is let go too.
 * Pure. Units: mm in item coordinates. Not here: what marks do to a plan (the core).
 */
import type { BegunRecord, CutNote, ItemSettings, MarksRecord, PlaneRecord, SeamMark, Vec3 } from "../planner/protocol.ts";
import type { ItemFound, State } from "./state.ts";

/** An item that can be marked: one that is cut and follows no other. */
export interface Markable {
  item: ItemFound;
  cut: NonNullable<ItemFound["cut"]>;
  /** Of the model. */
  key: string;
  marks: MarksRecord;
}

const none = (size_mm: Vec3): MarksRecord => ({ size_mm });

export const isMarked = (marks: MarksRecord | undefined): boolean => marks !== undefined && [marks.locked, marks.forbidden, marks.chalk, marks.printed].some((some) => (some?.length ?? 0) > 0);

/** Whether an item is the one of its model that others follow: it alone is marked. */
export const isOriginal = (state: State, item: ItemFound): boolean => item.key !== null && state.run.items.find((one) => one.key === item.key) === item;

/**
 * The item as it can be marked now; `null` where it follows another, is not cut, or is drawn as it was cut
 * before the last marks.
 */
export function markable(state: State, item: ItemFound): Markable | null {
  const { cut, key, size_mm } = item;
  const model = state.decisions.models.find((one) => one.key === key);
  if (cut === null || key === null || size_mm === null || model === undefined || !isOriginal(state, item)) return null;
  const marks = model.settings.marks ?? none(size_mm);
  const n_kept = cut.cuts.filter((one) => one.is_kept).length;
  return n_kept === (marks.locked?.length ?? 0) ? { item, cut, key, marks } : null;
}

/** The cut that made a seam. */
export const cutOf = (cut: Markable["cut"], seam: string): CutNote | null => cut.cuts.find((one) => one.seams.includes(seam)) ?? null;

const isWithin = (inner: CutNote, outer: CutNote): boolean => inner !== outer && inner.pieces.every((piece) => outer.pieces.includes(piece));

/** Cuts that a cut ends at, which go with it. */
export const endsAt = (cut: Markable["cut"], own: CutNote): CutNote[] => cut.cuts.slice(0, cut.cuts.indexOf(own)).filter((other) => isWithin(own, other));

/** Where a cut goes through some regions only, points inside those. */
export const only = ({ inside_mm }: { inside_mm?: Vec3[] }): { inside_mm?: Vec3[] } => (inside_mm?.length ? { inside_mm } : {});

/** The mark of a cut: by the seam that was chosen, or the first it made. */
function markOf(cut: Markable["cut"], own: CutNote, seam: string | null): SeamMark | null {
  const made = cut.seams.find((one) => one.id === (seam ?? own.seams[0]));
  return made === undefined ? null : { plane: own.plane, at_mm: made.at_mm, ...only(own) };
}

/** With these cuts, and those they end at, among those that stay. */
function withKept({ cut, marks }: Markable, wanted: readonly CutNote[], seam: string | null): MarksRecord {
  const all = new Set(wanted.flatMap((own) => [own, ...endsAt(cut, own)]));
  const locked = [...(marks.locked ?? [])];
  for (const own of cut.cuts) {
    if (own.is_kept || !all.has(own)) continue;
    const mark = markOf(cut, own, seam !== null && own.seams.includes(seam) ? seam : null);
    if (mark !== null) locked.push(mark);
  }
  return { ...marks, locked };
}

/** Without this cut, what ends at it, and prints of pieces beside it. */
function withoutKept({ cut, marks }: Markable, own: CutNote): MarksRecord {
  const kept = cut.cuts.filter((one) => one.is_kept);
  const locked = (marks.locked ?? []).filter((_, index) => {
    const one = kept[index];
    return one === undefined || (one !== own && !isWithin(one, own));
  });
  const beside = cut.pieces.filter((piece) => piece.is_printed && own.pieces.includes(piece.id));
  const printed = (marks.printed ?? []).filter((at) => !beside.some((piece) => isAt(at, piece.at_mm)));
  return tidy({ ...marks, locked, printed });
}

const isAt = (a: Vec3, b: Vec3): boolean => a.every((c, axis) => Math.abs(c - b[axis]!) < 0.01);

/** Empty lists are left out, as in the project file. */
function tidy(marks: MarksRecord): MarksRecord {
  const { size_mm, locked, forbidden, chalk, printed } = marks;
  return {
    size_mm,
    ...(locked?.length ? { locked } : {}),
    ...(forbidden?.length ? { forbidden } : {}),
    ...(chalk?.length ? { chalk } : {}),
    ...(printed?.length ? { printed } : {}),
  };
}

/** As settings take it: no marks at all are no record. */
export const settings = (marks: MarksRecord): Partial<ItemSettings> => ({ marks: isMarked(marks) ? tidy(marks) : undefined }) as Partial<ItemSettings>;

export function keepSeam(on: Markable, seam: string): Partial<ItemSettings> | null {
  const own = cutOf(on.cut, seam);
  return own === null || own.is_kept ? null : settings(withKept(on, [own], seam));
}

export function letSeamGo(on: Markable, seam: string): Partial<ItemSettings> | null {
  const own = cutOf(on.cut, seam);
  return own === null || !own.is_kept ? null : settings(withoutKept(on, own));
}

export function forbidSeam(on: Markable, seam: string): Partial<ItemSettings> | null {
  const own = cutOf(on.cut, seam);
  const mark = own === null ? null : markOf(on.cut, own, seam);
  if (own === null || mark === null) return null;
  const marks = own.is_kept ? withoutKept(on, own) : on.marks;
  return settings({ ...marks, forbidden: [...(marks.forbidden ?? []), mark] });
}

/** Every seam round it stays with it. */
export function printPiece(on: Markable, piece: string): Partial<ItemSettings> | null {
  const made = on.cut.pieces.find((one) => one.id === piece);
  if (made === undefined || made.is_printed) return null;
  const round = on.cut.cuts.filter((one) => one.pieces.includes(piece));
  const marks = withKept(on, round, null);
  return settings({ ...marks, printed: [...(marks.printed ?? []), made.at_mm] });
}

export function unprintPiece(on: Markable, piece: string): Partial<ItemSettings> | null {
  const made = on.cut.pieces.find((one) => one.id === piece);
  if (made === undefined || !made.is_printed) return null;
  return settings({ ...on.marks, printed: (on.marks.printed ?? []).filter((at) => !isAt(at, made.at_mm)) });
}

/** The marks of the cuts before one, those that stay as they are marked. */
function marksOf({ cut, marks }: Markable, cuts: readonly CutNote[]): SeamMark[] {
  const kept = cut.cuts.filter((one) => one.is_kept);
  return cuts.flatMap((own) => marks.locked?.[kept.indexOf(own)] ?? markOf(cut, own, null) ?? []);
}

export const beforeCut = (on: Markable, own: CutNote): SeamMark[] => marksOf(on, endsAt(on.cut, own));

export const beforePiece = (on: Markable, piece: string): SeamMark[] => marksOf(on, on.cut.cuts.filter((one) => one.pieces.includes(piece)));

/** With a seam set anew after those it ends at; one that was moved goes with what ended at it. */
export function withSeam(on: Markable, moved: string | null, before: readonly SeamMark[], mark: SeamMark): Partial<ItemSettings> {
  const own = moved === null ? null : cutOf(on.cut, moved);
  const marks = own?.is_kept === true ? withoutKept(on, own) : on.marks;
  const locked = marks.locked ?? [];
  const fresh = before.filter((one) => !locked.some((other) => JSON.stringify(one) === JSON.stringify(other)));
  return settings({ ...marks, locked: [...locked, ...fresh, mark] });
}

/** Another plan taken: all its seams stay. */
export function chosenPlan(on: Markable, cut: Markable["cut"]): Partial<ItemSettings> {
  return settings(withKept({ ...on, cut }, cut.cuts, null));
}

export const allowAll = (on: Markable): Partial<ItemSettings> => settings({ ...on.marks, forbidden: [] });

/** Where the search of an item begins: the cuts of the plan drawn now, but for those that are to stay. */
export function begunOf(item: ItemFound, marks: MarksRecord | undefined): BegunRecord | undefined {
  const { cut, size_mm } = item;
  if (cut === null || size_mm === null || cut.cuts.length === 0) return undefined;
  const stays = (own: CutNote): boolean =>
    marks?.locked?.some(({ plane, at_mm }) => samePlane(plane, own.plane) && own.seams.some((id) => cut.seams.some((seam) => seam.id === id && isAt(seam.at_mm, at_mm)))) ?? false;
  const cuts = cut.cuts.filter((own) => !stays(own)).flatMap((own) => markOf(cut, own, null) ?? []);
  return { size_mm, cuts };
}

const samePlane = (a: PlaneRecord, b: PlaneRecord): boolean => a.offset_mm === b.offset_mm && a.normal.every((c, axis) => c === b.normal[axis]);

/** The seam whose line passes nearest to a place, if it passes within `near_mm`. */
export function seamAt(item: ItemFound, at_mm: Vec3, near_mm: number): string | null {
  let best: { id: string; off: number } | null = null;
  for (const { id, line_mm } of item.cut?.seams ?? []) {
    for (let k = 0; k + 5 < line_mm.length; k += 6) {
      const off = offLine(line_mm, k, at_mm);
      if (off <= near_mm && (best === null || off < best.off)) best = { id, off };
    }
  }
  return best?.id ?? null;
}

/** From a place to the segment that begins at `k`. */
function offLine(line_mm: Float32Array, k: number, at_mm: Vec3): number {
  const along = [0, 1, 2].map((axis) => line_mm[k + 3 + axis]! - line_mm[k + axis]!);
  const to = [0, 1, 2].map((axis) => at_mm[axis]! - line_mm[k + axis]!);
  const square = along.reduce((sum, c) => sum + c * c, 0);
  const share = square === 0 ? 0 : Math.min(1, Math.max(0, along.reduce((sum, c, axis) => sum + c * to[axis]!, 0) / square));
  return Math.hypot(...along.map((c, axis) => to[axis]! - share * c));
}

/** How far the place of a seam or piece may move for it to be the same in the next plan. */
const SAME_MM = 2;

/** What was chosen, by its id in the next plan; `null` where it is not there any more. */
export function chosenNow(before: readonly ItemFound[], now: readonly ItemFound[], chosen: string | null): string | null {
  if (chosen === null || before === now) return chosen;
  for (const item of before) {
    const seam = item.cut?.seams.find((one) => one.id === chosen);
    const piece = item.cut?.pieces.find((one) => one.id === chosen);
    const next = now.find((one) => one.item === item.item);
    if (seam === undefined && piece === undefined) continue;
    if (next === undefined || next.cut === item.cut) return next === undefined ? null : chosen;
    if (seam !== undefined) return seamAt(next, seam.at_mm, SAME_MM);
    return next.cut?.pieces.find((one) => Math.hypot(...one.at_mm.map((c, axis) => c - piece!.at_mm[axis]!)) < SAME_MM)?.id ?? null;
  }
  return null;
}
