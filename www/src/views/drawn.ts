/**
 * What the drawing is told: items as the stage holds them, colours as the style sheet writes them.
 */
import type { Inks, ItemDrawn } from "../scene/messages.ts";
import { type FileLooked, fileItem, fileOf, type ItemFound, itemsShown, type OtherPlan, type State } from "../state/state.ts";

const made = new WeakMap<object, ItemDrawn>();

/** An item for the stage; the same object as long as the item's shape and cut are the same. */
function drawnItem(item: ItemFound): ItemDrawn | null {
  const source = item.cut ?? item.shape;
  if (source === null) return null;
  const before = made.get(source);
  if (before !== undefined) return before;
  const drawn: ItemDrawn =
    item.cut !== null
      ? {
          id: item.item,
          size_mm: item.size_mm ?? sizeOf(item.cut.pieces.map((piece) => piece.shape.points_mm)),
          parts: item.cut.pieces.map((piece) => ({ id: piece.id, number: piece.number, ...piece.shape, skin: piece.skin, pull_mm: piece.pull_mm })),
          seams: item.cut.seams,
        }
      : {
          id: item.item,
          size_mm: item.size_mm ?? [1, 1, 1],
          parts: item.shape === null ? [] : [{ id: item.item, number: 0, ...item.shape, skin: null, pull_mm: [0, 0, 0] }],
          seams: [],
        };
  made.set(source, drawn);
  return drawn;
}

/** A model file as it is. */
function drawnFile(file: FileLooked): ItemDrawn {
  const before = made.get(file.shape);
  if (before !== undefined) return before;
  const id = fileItem(file);
  const drawn: ItemDrawn = { id, size_mm: file.report.size, parts: [{ id, number: 0, ...file.shape, skin: null, pull_mm: [0, 0, 0] }], seams: [] };
  made.set(file.shape, drawn);
  return drawn;
}

/** A plan to choose, for its picture. */
export function drawnOther({ id, cut }: OtherPlan): ItemDrawn {
  return {
    id,
    size_mm: sizeOf(cut.pieces.map((piece) => piece.shape.points_mm)),
    parts: cut.pieces.map((piece) => ({ id: piece.id, number: piece.number, ...piece.shape, skin: piece.skin, pull_mm: piece.pull_mm })),
    seams: [],
  };
}

/** A copy or mirrored side whose size was not told: from its own points, which begin at the origin. */
function sizeOf(points: readonly Float32Array[]): [number, number, number] {
  const high: [number, number, number] = [0, 0, 0];
  for (const one of points) {
    for (let k = 0; k < one.length; k += 1) {
      const axis = (k % 3) as 0 | 1 | 2;
      high[axis] = Math.max(high[axis], one[k] ?? 0);
    }
  }
  return high;
}

export function drawnItems(state: State): { shown: ItemDrawn[]; hidden: ItemDrawn[] } {
  const now = new Set(itemsShown(state));
  const of = (items: readonly ItemFound[]): ItemDrawn[] => items.map(drawnItem).filter((item): item is ItemDrawn => item !== null);
  const file = fileOf(state);
  if (file?.is_drawn === true) return { shown: [drawnFile(file)], hidden: of(state.run.items) };
  return { shown: of(state.run.items.filter((item) => now.has(item))), hidden: of(state.run.items.filter((item) => !now.has(item))) };
}

export function inksOfPage(): Inks {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(name).trim();
  const tones = [0, 1, 2, 3, 4, 5].map((index) => of(`--tone-${index}`));
  return { ink: of("--ink"), paper: of("--paper"), tones, is_dark: of("--is-dark") === "1" };
}
