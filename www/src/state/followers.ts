/**
 * Items that follow another's plan: the mirrored side of a pair, further copies.
 *
 * The planner cuts and tells the original only; what follows it has the same pieces, reflected in
 * the middle of its width where it is mirrored. Their ids and numbers are those of the finished plan.
 * Units and frame: mm; an item's box starts at the origin, so mirrored is `x -> width - x`.
 */
import type { Lay, PieceShape, Plan, SeamLine, Shape } from "../planner/protocol.ts";
import type { ItemFound } from "./state.ts";

/** The items of a finished plan in its order: those told, and after them those that follow. */
export function withFollowers(told: readonly ItemFound[], plan: Plan, lays: readonly Lay[]): ItemFound[] {
  const numbers = new Map(lays.flatMap((lay) => lay.pieces.map((piece): [string, number] => [piece.id, piece.number])));
  const all: ItemFound[] = [];
  for (const made of plan.items) {
    const known = told.find((one) => one.item === made.id);
    const original = [...told, ...all].find((one) => one.item === (made.mirror_of ?? made.copy_of));
    if (known !== undefined) all.push(known);
    else if (original !== undefined) all.push(follower(original, made.id, made.name, made.mirror_of === undefined ? null : made.size_mm[0], numbers));
  }
  return all;
}

/** `width_mm` is `null` for a copy as it lies. */
function follower(original: ItemFound, id: string, name: string, width_mm: number | null, numbers: ReadonlyMap<string, number>): ItemFound {
  const renamed = (of: string): string => `${id}${of.slice(original.item.length)}`;
  const shape = (of: Shape): Shape => (width_mm === null ? of : { points_mm: reflected(of.points_mm, width_mm), triangles: turned(of.triangles) });
  const piece = (of: PieceShape): PieceShape => {
    const own = renamed(of.id);
    const [x, y, z] = of.pull_mm;
    return { ...of, id: own, number: numbers.get(own) ?? of.number, shape: shape(of.shape), pull_mm: width_mm === null ? of.pull_mm : [-x, y, z] };
  };
  const seam = (of: SeamLine): SeamLine => ({
    ...of,
    id: renamed(of.id),
    pieces: [renamed(of.pieces[0]), renamed(of.pieces[1])],
    line_mm: width_mm === null ? of.line_mm : reflected(of.line_mm, width_mm),
  });
  const { cut } = original;
  return {
    ...original,
    item: id,
    name,
    notices: [],
    shape: original.shape === null ? null : shape(original.shape),
    grid: null,
    cut: cut === null ? null : { ...cut, pieces: cut.pieces.map(piece), seams: cut.seams.map(seam), cuts: [] },
  };
}

function reflected(points_mm: Float32Array, width_mm: number): Float32Array<ArrayBuffer> {
  const found = new Float32Array(points_mm);
  for (let k = 0; k < found.length; k += 3) found[k] = width_mm - found[k]!;
  return found;
}

/** A reflected triangle goes round the other way; its first corner stays first. */
function turned(triangles: Uint32Array): Uint32Array<ArrayBuffer> {
  const found = new Uint32Array(triangles);
  for (let k = 0; k + 2 < found.length; k += 3) [found[k + 1], found[k + 2]] = [triangles[k + 2]!, triangles[k + 1]!];
  return found;
}
