/**
 * The whole sheet as a function of the state: border, drawing, the open leaf, tabs, title block.
 *
 * Every element of the page is described here or in a view called from here.
 */
import { itemsShown, LEAVES, type State } from "../state/state.ts";
import { words } from "../words/words.ts";
import { bedsLeaf } from "./beds.ts";
import { card } from "./card.ts";
import { costumeLeaf } from "./costume.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { loadsLeaf } from "./lay.ts";
import { itemCards, planCards, searching, seamsLeaf } from "./seams.ts";
import { word } from "./parts.ts";
import { titleBlock } from "./title.ts";

/** Below this width the sheet folds; as in `style/phone.css`. */
const FOLDS_BELOW_PX = 1100;

export interface SheetSize {
  width: number;
  height: number;
  /** Drawn as blueprint. */
  is_dark: boolean;
}

export function sheet(state: State, doing: Doing, size: SheetSize): VNode {
  const { leaf, over } = state.look;
  const has_drawing = leaf === "seams" || leaf === "costume";
  const opened = card(state, doing);
  return h(
    "div",
    { class: "sheet", "data-leaf": leaf, "data-over": over, "data-chosen": opened !== null, "data-moving": opened !== null && state.moving !== null, "data-empty": state.decisions.models.length === 0 },
    border(size),
    h(
      "main",
      {},
      drawing(state, doing, has_drawing),
      h(
        "div",
        { class: "left", key: "left" },
        h("section", { class: `leaf leaf-${leaf}`, key: leaf, tabindex: "0", "aria-label": words.leaves[leaf] }, openLeaf(state, doing)),
        leaf === "seams" && state.decisions.models.length > 0 ? searchingSection(state, doing) : null,
        h("div", { class: "free", key: "free" }),
        opened,
        leaf === "seams" && state.run.items.some((one) => one.cut !== null) ? pull(state, doing) : null,
      ),
    ),
    // Always there: assistive tools tell what comes into a status, not a status that comes.
    h("div", { class: "saying", role: "status" }, state.said === null ? null : saidBox(state.said, doing)),
    over === "notices" && state.notices !== null ? notices(state.notices, doing) : null,
    foot(state, doing, size),
    titleBlock(state, doing),
  );
}

function saidBox({ text, warns }: NonNullable<State["said"]>, doing: Doing): VNode {
  const read = word(words.page.read, () => doing.send({ kind: "said-read" }));
  return h("div", { class: "said" }, h("p", { class: warns ? "warning" : undefined }, text), h("p", {}, read));
}

function searchingSection(state: State, doing: Doing): VNode {
  return h(
    "section",
    { class: "searching", key: "searching", "aria-label": words.seams.how },
    searching(state, doing),
    h("div", { class: "pins" }, itemCards(state, doing), planCards(state, doing)),
    h("p", { class: "phone-only doable" }, word(words.page.close, () => doing.send({ kind: "laid-over", over: "none" }))),
  );
}

function openLeaf(state: State, doing: Doing): VNode[] {
  switch (state.look.leaf) {
    case "costume":
      return costumeLeaf(state, doing);
    case "beds":
      return bedsLeaf(state, doing);
    case "seams":
      return seamsLeaf(state, doing);
    case "loads":
      return loadsLeaf(state, doing);
    case "wearer":
    case "sheet":
      return [h("h1", {}, words.leaves[state.look.leaf]), h("p", { class: "lead" }, words.later[state.look.leaf])];
  }
}

function drawing(state: State, doing: Doing, is_shown: boolean): VNode {
  return h(
    "div",
    { class: "drawing", key: "drawing", hidden: !is_shown || state.run.items.length === 0 },
    h("canvas", {
      id: "drawing",
      key: `canvas-${state.drawing_falls}`,
      tabindex: "0",
      role: "img",
      "aria-label": words.drawing.name,
      "aria-describedby": "drawing-how",
      own: (canvas) => doing.ownCanvas(canvas as HTMLCanvasElement),
    }),
    h("svg", { class: "balloons", "aria-hidden": "true", own: (overlay) => doing.ownBalloons(overlay as SVGSVGElement) }),
    h("p", { id: "drawing-how", class: "unseen" }, words.drawing.how),
  );
}

/** How far pieces move with the slider at its end, for the figure under it. */
function farthest_mm(state: State): number {
  return Math.max(0, ...itemsShown(state).flatMap((one) => one.cut?.pieces ?? []).map((piece) => Math.hypot(...piece.pull_mm)));
}

function pull(state: State, doing: Doing): VNode {
  const pull_mm = state.look.pull * farthest_mm(state);
  return h(
    "div",
    { class: "pull" },
    h(
      "label",
      {},
      h("span", {}, words.seams.pull),
      h("input", {
        type: "range",
        min: "0",
        max: "100",
        step: "1",
        value: String(Math.round(state.look.pull * 100)),
        "aria-valuetext": pull_mm === 0 ? words.seams.pull_together : words.seams.pull_said(pull_mm),
        on: { input: (event) => doing.send({ kind: "pulled", pull: Number((event.target as HTMLInputElement).value) / 100 }) },
      }),
    ),
    h("p", { class: "quiet small", "aria-hidden": "true" }, pull_mm === 0 ? words.seams.pull_together : words.seams.pull_said(pull_mm)),
    h("p", { class: "whole" }, word(words.drawing.whole, doing.showWhole)),
    h(
      "p",
      { class: "phone-only doable" },
      word(words.parts.open, () => doing.send({ kind: "laid-over", over: "parts" }), { opens: "parts" }),
      word(state.run.items.length < 2 ? words.seams.how : words.seams.items_and_how, () => doing.send({ kind: "laid-over", over: "leaf" }), { opens: "leaf" }),
    ),
  );
}

function notices(text: string, doing: Doing): VNode {
  return h(
    "section",
    { class: "notices-sheet", key: "notices", "aria-label": words.page.notices_heading },
    h("h2", {}, words.page.notices_heading),
    h("p", { class: "doable" }, word(words.page.close, () => doing.send({ kind: "laid-over", over: "none" }))),
    h("pre", { tabindex: "0" }, text),
  );
}

function foot(state: State, doing: Doing, size: SheetSize): VNode {
  return h(
    "div",
    { class: "foot" },
    h(
      "nav",
      { class: "tabs", "aria-label": words.page.leaves },
      LEAVES.map((leaf, index) => {
        const waits = leaf === "loads" && state.run.finished === null;
        return h(
          "button",
          { key: leaf, type: "button", "aria-current": leaf === state.look.leaf ? "page" : undefined, on: { click: () => doing.send({ kind: "leaf-opened", leaf }) } },
          h("span", { class: "tiny" }, waits ? `${index + 1} · ${words.page.after(LEAVES.indexOf("seams") + 1)}` : String(index + 1)),
          h("span", {}, words.leaves[leaf]),
        );
      }),
    ),
    h("p", { class: "scheme" }, word(size.is_dark ? words.page.paper : words.page.blueprint, () => doing.send({ kind: "scheme-chosen", scheme: size.is_dark ? "paper" : "blueprint" })), word(words.page.notices, doing.showNotices, { opens: "notices" })),
  );
}

/** Drawing border with zone marks: figures along the top and bottom, letters down the sides. */
function border({ width, height }: SheetSize): VNode {
  const is_narrow = width < FOLDS_BELOW_PX;
  const [outer, inner] = is_narrow ? [3.5, 12] : [10.5, 23];
  // Zones of about 160 px, an even number as ISO 5457 asks.
  const zones = (length: number): number => Math.max(2, Math.round(length / 160 / 2) * 2);
  const [n_across, n_down] = [zones(width), Math.max(2, Math.round(height / 160))];
  const marks: VNode[] = [];
  const middle = (outer + inner) / 2;
  for (let k = 0; k < n_across; k += 1) {
    const x = inner + ((k + 0.5) / n_across) * (width - 2 * inner);
    for (const y of [middle, height - middle]) marks.push(h("text", { x, y: y + 3.2, "text-anchor": "middle" }, String(k + 1)));
  }
  for (let k = 0; k < n_down; k += 1) {
    const y = inner + ((k + 0.5) / n_down) * (height - 2 * inner);
    for (const x of [middle, width - middle]) marks.push(h("text", { x, y: y + 3.2, "text-anchor": "middle" }, String.fromCharCode(65 + k)));
  }
  return h(
    "svg",
    { class: "border", width, height, viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true", key: "border" },
    h("rect", { class: "outer", x: outer, y: outer, width: Math.max(0, width - 2 * outer), height: Math.max(0, height - 2 * outer) }),
    h("rect", { class: "inner", x: inner, y: inner, width: Math.max(0, width - 2 * inner), height: Math.max(0, height - 2 * inner) }),
    marks,
  );
}
