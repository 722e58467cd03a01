/**
 * Seams leaf: how many pieces and how much seam, how the search came there, and what it is asked.
 *
 * The drawing itself is beside it (`sheet.ts`); item cards hang at the top right of the sheet.
 */
import { bedProblem } from "../state/beds.ts";
import type { SeamLine } from "../planner/protocol.ts";
import { allowAll, chosenPlan, markable } from "../state/marks.ts";
import type { Finished, ItemFound, OtherPlan, State } from "../state/state.ts";
import { ALL, itemsShown, leastOf, nameOf, piecesOf, sumMade } from "../state/state.ts";
import { figure } from "../words/figures.ts";
import { words } from "../words/words.ts";
import { failureSaid } from "./costume.ts";
import { chalkWords } from "./chalk.ts";
import { curve } from "./curve.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { choice, number, warning, word } from "./parts.ts";
import { faultReport } from "./report.ts";

const text = words.seams;

/** Heading, counts and what the planner says: always in sight. */
export function seamsLeaf(state: State, doing: Doing): VNode[] {
  const { run, decisions } = state;
  if (decisions.models.length === 0 && run.items.length === 0) {
    return [h("h1", {}, text.heading), h("p", { class: "lead", role: "status" }, state.is_demo_coming ? words.demo.coming : text.nothing)];
  }
  const items = itemsShown(state);
  const only = items.length === 1 ? items[0] : undefined;
  const bed = decisions.beds[0];
  const beds = bed === undefined ? "" : text.beds(bed, bed.margin_mm, decisions.beds.length);
  const about =
    only?.size_mm != null && bed !== undefined
      ? text.item(only.size_mm, bed, bed.margin_mm, decisions.beds.length)
      : [items.length === 0 ? "" : text.items(sumMade(state, items, () => 1)), beds].filter((part) => part !== "").join(" · ");
  return [
    h("h1", {}, (only === undefined ? "" : nameOf(state, only)) || (decisions.costume || text.heading)),
    h("p", { class: "quiet" }, about),
    counts(state, items),
    ...saidByPlanner(state),
    ...guesses(state, doing),
  ].filter((node): node is VNode => node !== null);
}

function counts(state: State, items: readonly ItemFound[]): VNode | null {
  const { run, look } = state;
  const n_pieces = sumMade(state, items, piecesOf);
  // What is drawn after a failure is from the plan before, and no answer to what is asked now.
  if (n_pieces === 0 || run.failures.length > 0) return null;
  const n_grid = sumMade(state, items, (one) => one.cut?.grid_pieces ?? 0);
  const is_final = run.phase === "finished" && run.finished !== null;
  const is_whole = items.every((one) => one.cut === null || one.cut.seams.length === 0);
  // That there is at least one piece goes without saying.
  const least = is_whole || n_pieces === 1 ? null : leastOf(state, items);
  const proof =
    least !== null && (least === n_pieces || (is_final && least > items.length))
      ? least === n_pieces
        ? text.proven(least)
        : text.not_proven(least)
      : n_grid > n_pieces
        ? text.grid(n_grid)
        : text.grid_same;
  const figures = is_final && run.finished !== null ? finalFigures(run.finished, items) : [text.seam_about(sumMade(state, items, (one) => one.cut?.seam_mm ?? 0)), text.so_far];
  return h(
    "div",
    { class: "counts", "aria-live": look.leaf === "seams" ? "polite" : "off" },
    h("p", {}, h("strong", {}, text.pieces(n_pieces)), " ", proof),
    h("p", { class: "quiet" }, is_whole ? text.whole : figures.join(is_final ? ", " : " ")),
  );
}

/** Exact sums over the items shown; only what `plan.json` holds is said. */
function finalFigures(finished: Finished, items: readonly ItemFound[]): string[] {
  const ids = new Set(items.map((one) => one.item));
  const seams = finished.plan.seams.filter((seam) => ids.has(seam.item));
  const sum = (of: (seam: (typeof seams)[number]) => number): number => seams.reduce((total, seam) => total + of(seam), 0);
  const minutes = sum((s) => s.cost_min ?? 0) + piecesMin(finished, ids);
  return [text.seam(sum((s) => s.line_mm)), text.shows(sum((s) => s.visible_mm)), text.in_detail(sum((s) => s.through_detail_mm)), text.finishing(minutes)];
}

/** What the pieces take beside their seams, of the times the plan assumes. */
function piecesMin({ plan }: Finished, ids: ReadonlySet<string>): number {
  const pieces = plan.pieces.filter((piece) => ids.has(piece.item));
  const held = pieces.filter((piece) => piece.pose_kind === "held").length;
  const assumed = (name: string): number => plan.assumed[name]?.value ?? 0;
  return assumed("finishing_piece") * pieces.length + assumed("finishing_held_piece") * held;
}

function saidByPlanner(state: State): VNode[] {
  const { run, decisions } = state;
  const said: VNode[] = [];
  const grid = run.items.find((one) => one.grid !== null)?.grid ?? null;
  const phase = run.stage !== null ? text.stage(run.stage) : grid !== null && run.phase !== "paused" ? text.grid_progress(grid.n_done, grid.n_all) : text.phase[run.phase];
  const findings = run.finished?.findings ?? [];
  if (run.is_given_up) said.push(h("p", { class: "phase", role: "status" }, text.given_up));
  if (phase !== "" && !(run.phase === "finished" && findings.length > 0)) said.push(h("p", { class: "phase", role: "status" }, phase));
  for (const failure of run.failures) said.push(failureSaid(state, failure));
  if (run.phase === "finished" && findings.length > 0) {
    said.push(warning(text.audit_failed(findings.length)), h("ul", { class: "findings" }, findings.map((finding) => h("li", {}, finding))));
  }
  const shown = new Set(itemsShown(state).map((one) => one.item));
  const held = run.phase === "finished" ? (run.finished?.plan.pieces.filter((piece) => shown.has(piece.item) && piece.pose_kind === "held").length ?? 0) : 0;
  if (held > 0) said.push(h("p", { class: "quiet" }, text.held(held)));
  const unfit = run.items.flatMap((one) => one.cut?.pieces ?? []).filter((piece) => !piece.fits);
  if (unfit.length > 0) said.push(warning(text.not_fitting(unfit.map((piece) => figure(piece.number)).join(", "))));
  if (decisions.beds.some((bed) => bedProblem(bed) !== null)) said.push(warning(text.older_beds));
  if (run.replaced !== null) said.push(h("p", { class: "quiet" }, text.replaced(run.replaced)));
  const report = faultReport(state);
  if (report !== null) said.push(report);
  return said;
}

/** What was guessed about a file and is asked on the Costume leaf, which need not be the one open. */
function guesses({ decisions, run }: State, doing: Doing): VNode[] {
  return decisions.models.flatMap(({ key, name, settings }) => {
    const units = run.items.find((one) => one.key === key)?.units;
    if (units == null) return [];
    const guessed = [
      units.in_doubt && settings.units === undefined ? text.guessed_unit(name, units.guess) : null,
      units.up_in_doubt && settings.up === undefined ? text.guessed_up(name, units.up) : null,
    ].filter((sentence) => sentence !== null);
    return guessed.length === 0 ? [] : [h("p", { key: `guess-${key}` }, guessed.join(" "), " ", word(text.answer, () => doing.showModel(key), { label: text.answer_for(name) }))];
  });
}

/** Curve, words to steer the search by and what it is asked: folded away at phone width. */
export function searching(state: State, doing: Doing): VNode[] {
  const { run, decisions } = state;
  const last = run.rounds.at(-1);
  const is_searching = run.phase === "searching" || run.phase === "paused";
  return [
    curve(run.rounds, leastOf(state, run.items)),
    ...seamList(state, doing),
    chalkWords(state, doing),
    last === undefined ? null : h("p", { class: "quiet small" }, text.rounds(last.round, last.candidates)),
    h(
      "p",
      { class: "doable" },
      run.phase === "searching" ? word(text.pause, doing.pause) : null,
      run.phase === "paused" ? word(text.go_on, doing.goOn) : null,
      is_searching ? word(text.stop, doing.stop) : null,
      run.phase === "reading" || run.phase === "ending" ? word(text.give_up, doing.giveUp) : null,
      is_searching || run.phase === "ending" ? null : word(text.again, doing.again, { off: run.phase === "reading" }),
    ),
    choice("prefer", text.prefer, (["balanced", "fewest", "hidden"] as const).map((value) => ({ value, label: text.prefers[value] })), decisions.prefer, (prefer) => doing.send({ kind: "preferred", prefer })),
    h(
      "div",
      { class: "fields" },
      number({ label: text.seed, value: decisions.seed, least: 0, most: 1e9, whole: true, change: (seed) => doing.send({ kind: "seed-changed", seed }) }),
      decisions.effort !== null ? null : number({ label: text.seconds, unit: "s", value: decisions.seconds, least: 1, most: 86400, change: (seconds) => doing.send({ kind: "seconds-changed", seconds }) }),
    ),
    decisions.effort === null
      ? null
      : h("p", { class: "effort" }, text.effort(decisions.effort), " ", word(text.by_time, () => doing.send({ kind: "effort-freed" }))),
  ].filter((node): node is VNode => node !== null);
}

/** The seams of the item shown, each a word that opens its card; and seams that are not wanted. */
function seamList(state: State, doing: Doing): VNode[] {
  const items = itemsShown(state);
  const only = items.length === 1 ? items[0] : undefined;
  if (only === undefined || only.cut === null) return [];
  const { cut } = only;
  const on = markable(state, only);
  const n_forbidden = on?.marks.forbidden?.length ?? 0;
  const number = (id: string): number => cut.pieces.find((piece) => piece.id === id)?.number ?? 0;
  const seam = ({ id, pieces: [a, b], is_kept }: SeamLine): VNode => {
    const is_chosen = state.look.chosen === id;
    return h("li", { key: id }, word(words.marks.seam(number(a), number(b)), () => doing.send({ kind: "chosen", id: is_chosen ? null : id }), { pressed: is_chosen, label: words.marks.seam_said(number(a), number(b), is_kept) }), is_kept ? h("span", { "aria-hidden": "true" }, "●") : null);
  };
  return [
    cut.seams.length === 0 ? null : h("div", { class: "seam-list" }, h("span", { class: "quiet" }, words.marks.seams), h("ul", { "aria-label": words.marks.seams }, cut.seams.map(seam))),
    on === null || n_forbidden === 0
      ? null
      : h("p", { class: "quiet small" }, words.marks.forbidden(n_forbidden), " ", word(words.marks.allow, () => doing.send({ kind: "settings-changed", key: on.key, settings: allowAll(on) }))),
  ].filter((node): node is VNode => node !== null);
}

/** Cards pinned to the sheet, one an item; and one for all together; pressing one draws what it names. */
export function itemCards(state: State, doing: Doing): VNode | null {
  const { items } = state.run;
  if (items.length < 2) return null;
  const n_pieces = sumMade(state, items, piecesOf);
  const show = (item: string) => (): void => {
    doing.send({ kind: "shown", item });
    // Where the cards lie over the drawing, what was chosen is to be seen.
    doing.send({ kind: "laid-over", over: "none" });
  };
  return h(
    "ul",
    { class: "cards", "aria-label": text.show },
    items.map((one) => {
      const is_shown = itemsShown(state).length === 1 && itemsShown(state)[0] === one;
      return h(
        "li",
        { key: one.item },
        h(
          "button",
          { type: "button", class: "pinned", "aria-pressed": String(is_shown), on: { click: show(one.item) } },
          pictureOf(state.pictures[one.item]),
          h("span", { class: "name" }, nameOf(state, one)),
          one.cut === null ? null : h("span", { class: "big" }, text.pieces(one.cut.pieces.length)),
        ),
      );
    }),
    h(
      "li",
      { key: ALL },
      h(
        "button",
        { type: "button", class: "pinned", "aria-pressed": String(state.look.shown === ALL), on: { click: show(ALL) } },
        h("span", { class: "name" }, text.all),
        n_pieces === 0 ? null : h("span", { class: "big" }, text.pieces(n_pieces)),
      ),
    ),
  );
}

/** Cards of plans to choose instead of the item's own: fewer pieces, fewer supports, less to fill and sand or less of it through detail. */
export function planCards(state: State, doing: Doing): VNode | null {
  const items = itemsShown(state);
  const only = items.length === 1 ? items[0] : undefined;
  const on = only === undefined || state.run.phase !== "finished" ? null : markable(state, only);
  const others = state.run.others.filter((other) => other.item === only?.item);
  if (on === null || others.length === 0) return null;
  const take = (other: OtherPlan) => (): void => doing.send({ kind: "settings-changed", key: on.key, settings: chosenPlan(on, other.cut) });
  return h(
    "div",
    { class: "plans", key: "plans" },
    h("h2", {}, text.others),
    h(
      "ul",
      {},
      others.map((other) =>
        h(
          "li",
          { key: other.id },
          h(
            "button",
            { type: "button", class: "pinned", on: { click: take(other) } },
            pictureOf(state.pictures[other.id]),
            h("span", { class: "big" }, text.pieces(other.n_pieces)),
            h("span", {}, text.other_time(other.cost_min)),
            h("span", {}, text.other_detail(other.through_detail_mm)),
            h("span", { class: other.n_held === 0 ? undefined : "held" }, text.other_held(other.n_held)),
          ),
        ),
      ),
    ),
  );
}

/** A canvas of its own for every picture: its key is the picture's, so a new picture is a new canvas. */
function pictureOf(image: ImageData | undefined): VNode | null {
  if (image === undefined) return null;
  return h("canvas", {
    key: keyOf(image),
    class: "picture",
    width: image.width,
    height: image.height,
    "aria-hidden": "true",
    // Kept in memory: a picture put onto the graphics would make this thread wait for them.
    own: (canvas) => (canvas as HTMLCanvasElement).getContext("2d", { willReadFrequently: true })?.putImageData(image, 0, 0),
  });
}

const keys = new WeakMap<ImageData, string>();
let n_pictures = 0;

function keyOf(image: ImageData): string {
  const known = keys.get(image);
  if (known !== undefined) return known;
  n_pictures += 1;
  keys.set(image, `picture-${n_pictures}`);
  return `picture-${n_pictures}`;
}
