/**
 * The card of what was chosen on the drawing or in a list: one seam or one piece, and what can be done
 * with it.
 */
import type { CutNote, ItemSettings, Seam } from "../planner/protocol.ts";
import { cutOf, endsAt, forbidSeam, isOriginal, keepSeam, letSeamGo, type Markable, markable, printPiece, unprintPiece } from "../state/marks.ts";
import { addSeam, type Moving, moveSeam } from "../state/moving.ts";
import { type ItemFound, itemsShown, type State } from "../state/state.ts";
import { words } from "../words/words.ts";
import { chalkCard } from "./chalk.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { movingCard } from "./moving.ts";
import { word } from "./parts.ts";

const text = words.card;

/** The card that is open; `null` where nothing is chosen, or what was chosen is not there any more. */
export function card(state: State, doing: Doing): VNode | null {
  const { chosen, chalk } = state.look;
  const open = (inner: readonly (VNode | null)[]): VNode => h("section", { class: "card-of", key: "card", "aria-label": text.name, tabindex: "-1" }, ...inner);
  if (state.look.leaf !== "seams") return null;
  if (chalk !== null) return open(chalkCard(chalk, doing));
  if (chosen === null) return null;
  for (const item of itemsShown(state)) {
    const moved = movingOf(state, doing, item);
    if (moved !== null) return open(moved);
    const inner = seamCard(state, doing, item, chosen) ?? pieceCard(state, doing, item, chosen);
    if (inner !== null) return open([...inner, h("p", { class: "doable" }, ...steps(doing, item, chosen), word(words.page.close, () => doing.send({ kind: "chosen", id: null })))]);
  }
  return null;
}

/** The card while something of the item is moved. */
function movingOf(state: State, doing: Doing, item: ItemFound): VNode[] | null {
  const { moving } = state;
  if (moving === null || moving.item !== item.item) return null;
  const on = markable(state, item);
  if (on === null) return null;
  const seam = on.cut.seams.find((one) => one.id === moving.seam);
  const heading = seam !== undefined ? words.moving.seam(numberOf(item, seam.pieces[0]), numberOf(item, seam.pieces[1])) : words.moving.added(numberOf(item, state.look.chosen ?? ""));
  return movingCard(doing, on, moving, heading);
}

const begin = (doing: Doing, moving: Moving | null) => (): void => {
  if (moving !== null) doing.send({ kind: "moving", moving });
};

/** Through all seams of the item, one after the other. */
function steps(doing: Doing, { cut }: ItemFound, chosen: string): VNode[] {
  const ids = cut?.seams.map((seam) => seam.id) ?? [];
  const at = ids.indexOf(chosen);
  const next = ids[(at + 1) % ids.length];
  return at < 0 || next === undefined || ids.length < 2 ? [] : [word(text.next_seam, () => doing.send({ kind: "chosen", id: next }))];
}

const numberOf = (item: ItemFound, piece: string): number => item.cut?.pieces.find((one) => one.id === piece)?.number ?? 0;

function seamCard(state: State, doing: Doing, item: ItemFound, chosen: string): VNode[] | null {
  const seam = item.cut?.seams.find((one) => one.id === chosen);
  if (seam === undefined || item.cut === null) return null;
  const plan = state.run.phase === "finished" ? state.run.finished?.plan : undefined;
  const measured = plan?.seams.find((one) => one.id === chosen);
  const [a, b] = seam.pieces;
  const on = markable(state, item);
  const own = cutOf(item.cut, chosen);
  return [
    h("h2", {}, text.seam(numberOf(item, a), numberOf(item, b))),
    measured === undefined ? h("p", { class: "quiet" }, text.unmeasured) : h("p", { class: "quiet" }, figuresOf(measured)),
    ...(on === null || own === null ? [h("p", { class: "quiet" }, waiting(state, item))] : seamWords(doing, on, own, chosen)),
  ];
}

const figuresOf = (seam: Seam): string =>
  [text.line(seam.line_mm), text.shows(seam.visible_mm), seam.through_detail_mm > 0 ? text.in_detail(seam.through_detail_mm) : "", seam.min_wall_mm === undefined ? "" : text.wall(seam.min_wall_mm), seam.cost_min === undefined ? "" : text.minutes(seam.cost_min)]
    .filter((part) => part !== "")
    .join(", ");

/** Why nothing can be done with it now. */
const waiting = (state: State, item: ItemFound): string => (isOriginal(state, item) ? text.waits : text.follows);

const change = (doing: Doing, on: Markable, settings: Partial<ItemSettings> | null) => (): void => {
  if (settings !== null) doing.send({ kind: "settings-changed", key: on.key, settings });
};

function seamWords(doing: Doing, on: Markable, own: CutNote, chosen: string): VNode[] {
  const with_it = endsAt(on.cut, own).filter((one) => !one.is_kept).length;
  const others = own.seams.length - 1;
  return [
    own.is_kept ? h("p", {}, text.stays) : null,
    h(
      "p",
      { class: "doable" },
      own.is_kept ? word(text.let_go, change(doing, on, letSeamGo(on, chosen))) : word(text.keep, change(doing, on, keepSeam(on, chosen))),
      word(words.moving.move, begin(doing, moveSeam(on, chosen))),
      word(text.forbid, change(doing, on, forbidSeam(on, chosen))),
    ),
    others > 0 ? h("p", { class: "quiet small" }, text.one_cut(others)) : null,
    !own.is_kept && with_it > 0 ? h("p", { class: "quiet small" }, text.with_it(with_it)) : null,
  ].filter((node): node is VNode => node !== null);
}

function pieceCard(state: State, doing: Doing, item: ItemFound, chosen: string): VNode[] | null {
  const piece = item.cut?.pieces.find((one) => one.id === chosen);
  if (piece === undefined) return null;
  const on = markable(state, item);
  return [
    h("h2", {}, text.piece(piece.number, piece.id)),
    h("p", { class: "quiet" }, text.size(piece.size_mm)),
    on === null
      ? h("p", { class: "quiet" }, waiting(state, item))
      : h(
          "p",
          { class: "doable" },
          piece.is_printed ? null : word(words.moving.add, begin(doing, addSeam(on, chosen))),
          piece.is_printed ? word(text.not_printed, change(doing, on, unprintPiece(on, chosen)), { pressed: true }) : word(text.printed, change(doing, on, printPiece(on, chosen)), { pressed: false }),
        ),
    h("p", { class: "quiet small" }, piece.is_printed ? text.is_printed : text.print_keeps),
  ];
}
