/**
 * Parts list and title block, bottom right of the sheet: what lies before the maker, whose it is, when
 * it was kept, and the one dark field: the next real step.
 */
import type { PieceShape } from "../planner/protocol.ts";
import type { Leaf, State } from "../state/state.ts";
import { itemsShown, nameOf, sumMade } from "../state/state.ts";
import { bedBare, count, figure, percent, sizeBare } from "../words/figures.ts";
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { balloon, marking, word } from "./parts.ts";

export function titleBlock(state: State, doing: Doing): VNode {
  const { leaf } = state.look;
  const kept_at = state.kept.at ?? words.title.keeping;
  // Beside the ways back and forth there is no room for it.
  const can_step = state.past.length + state.future.length > 0;
  const list = leaf === "loads" ? loadsList(state, doing) : leaf === "seams" ? partsList(state, doing) : null;
  return h(
    "aside",
    { class: "title-block", "aria-label": words.page.title_block },
    list === null
      ? null
      : h(
          "div",
          { key: "parts", class: "parts", id: "parts" },
          h("div", { class: "parts-scroll", tabindex: "0", role: "region", "aria-label": leaf === "loads" ? words.loads.list : words.parts.heading }, list),
          h("p", { class: "phone-only doable" }, word(words.page.close, () => doing.send({ kind: "laid-over", over: "none" }))),
        ),
    h(
      "div",
      { key: "block", class: "block" },
      h("div", { class: "block-leaf" }, h("span", { class: "leaf-name" }, words.leaves[leaf]), " ", h("span", {}, leafOf(state))),
      h(
        "div",
        { class: "block-costume" },
        h(
          "label",
          {},
          h("span", { class: "tiny" }, words.title.costume),
          h("input", {
            type: "text",
            autocomplete: "off",
            maxlength: "60",
            placeholder: words.costume.name_hint,
            value: state.decisions.costume,
            on: { change: (event) => doing.send({ kind: "costume-named", name: (event.target as HTMLInputElement).value.trim() }) },
          }),
        ),
      ),
      h("div", { class: "block-bed" }, h("span", { class: "tiny" }, words.title.bed), h("span", {}, bedOf(state))),
      h(
        "div",
        { class: "block-kept" },
        h("span", { class: "tiny" }, state.kept.problem === null ? words.title.kept : words.title.not_kept, can_step ? ` ${kept_at}` : null),
        h(
          "span",
          { class: "kept" },
          can_step ? null : h("span", {}, kept_at),
          state.past.length === 0 ? null : word(words.page.undo_steps(state.past.length), () => doing.send({ kind: "undo" }), { title: words.page.undo }),
          state.future.length === 0 ? null : word(words.page.redo, () => doing.send({ kind: "redo" })),
        ),
      ),
      darkStep(state, doing),
    ),
  );
}

function leafOf(state: State): string {
  const items = itemsShown(state);
  const { finished } = state.run;
  if (state.look.leaf === "loads") return finished === null ? "" : words.loads.sum(finished.plan.loads.length);
  if (state.look.leaf === "beds") return state.decisions.beds.length === 1 ? "" : words.title.beds(state.decisions.beds.length);
  const only = items.length === 1 ? items[0] : undefined;
  if (only !== undefined) return words.title.of(nameOf(state, only));
  return items.length === 0 ? "" : count(sumMade(state, items, () => 1), "item", "items");
}

function bedOf(state: State): string {
  const { beds } = state.decisions;
  const first = beds[0];
  return beds.length === 1 && first !== undefined ? bedBare(first) : words.title.beds(beds.length);
}

interface Step {
  label: string;
  press: (() => void) | null;
}

function darkStep(state: State, doing: Doing): VNode {
  const step = nextStep(state, doing);
  return h(
    "button",
    { type: "button", class: "step", "aria-disabled": step.press === null ? "true" : undefined, on: { click: () => step.press?.() } },
    h("span", {}, step.label),
  );
}

function nextStep(state: State, doing: Doing): Step {
  const { run, look, decisions } = state;
  const open = (leaf: Leaf) => (): void => doing.send({ kind: "leaf-opened", leaf });
  if (state.is_demo_coming && look.leaf === "seams") return { label: words.step.wait, press: null };
  if (decisions.models.length === 0) return { label: words.step.choose, press: doing.chooseModels };
  if (state.taking !== "none") return { label: words.step.taking, press: null };
  const failure = run.phase === "idle" ? run.failures[0] : undefined;
  const at_fault = decisions.models.find((model) => model.key === failure?.key);
  if (look.leaf === "costume" && at_fault !== undefined) return { label: words.costume.remove(at_fault.name), press: () => doing.send({ kind: "model-removed", key: at_fault.key }) };
  if (look.leaf !== "seams" && look.leaf !== "loads") return { label: words.step.to_seams, press: open("seams") };
  switch (run.phase) {
    case "idle":
      if (failure === undefined) return { label: words.seams.again, press: doing.again };
      // Without a model at fault the beds are what can be changed.
      return at_fault === undefined ? { label: words.step.to_beds, press: open("beds") } : { label: words.step.to_model, press: () => doing.showModel(at_fault.key) };
    case "reading":
      return { label: words.step.wait, press: null };
    case "searching":
    case "paused":
      return { label: words.step.stop, press: doing.stop };
    case "ending":
      return { label: words.step.finishing, press: null };
    case "finished":
      return { label: look.leaf === "loads" ? words.step.take_loads : words.step.take, press: doing.takeZip };
  }
}

function partsList(state: State, doing: Doing): VNode | null {
  const items = itemsShown(state);
  const rows = items.flatMap((one) => one.cut?.pieces ?? []);
  if (rows.length === 0) return null;
  const is_final = state.run.phase === "finished";
  const plan = is_final ? state.run.finished?.plan : undefined;
  const text = words.parts;
  return h(
    "table",
    {},
    h("caption", { class: "unseen" }, text.heading),
    h(
      "thead",
      {},
      h("tr", {}, h("th", { scope: "col" }, text.piece), plan === undefined ? null : h("th", { scope: "col" }, text.load), h("th", { scope: "col", class: "figures" }, text.mm), plan === undefined ? null : h("th", { scope: "col" }, text.rests)),
    ),
    h("tbody", {}, rows.map((piece) => partsRow(state, doing, piece, plan?.pieces.find((one) => one.id === piece.id)))),
  );
}

function partsRow(state: State, doing: Doing, piece: PieceShape, made: { load: string; pose_kind: "face" | "stable" | "held" } | undefined): VNode {
  const is_chosen = state.look.chosen === piece.id;
  const is_marked = state.look.marked === piece.id || is_chosen;
  const { pointerenter, pointerleave, focus, blur } = marking(doing, piece.id);
  const click = (): void => {
    doing.send({ kind: "chosen", id: is_chosen ? null : piece.id });
    // Where the list lies over the drawing, the card is below it.
    if (state.look.over === "parts") doing.send({ kind: "laid-over", over: "none" });
  };
  const text = words.parts;
  return h(
    "tr",
    { key: piece.id, class: is_marked ? "marked" : "", on: { pointerenter, pointerleave } },
    h(
      "th",
      { scope: "row" },
      h(
        "button",
        { type: "button", class: "piece", "aria-pressed": String(is_chosen), on: { focus, blur, click } },
        balloon(piece.number, is_marked),
        " ",
        h("span", {}, piece.id),
      ),
    ),
    made === undefined ? null : h("td", {}, loadNumber(made.load)),
    h("td", { class: "figures" }, sizeBare(piece.size_mm), piece.fits ? null : h("span", { class: "unfit" }, ` ${text.unfit}`)),
    made === undefined ? null : h("td", { class: made.pose_kind === "held" ? "held" : "" }, text.rest[made.pose_kind]),
  );
}

/** `load-03` is 3 on the sheet. */
const loadNumber = (id: string): string => String(Number(id.replace(/^\D*/, "")) || id);

function loadsList(state: State, doing: Doing): VNode | null {
  const { finished } = state.run;
  if (finished === null) return null;
  const text = words.loads;
  const numbers = new Map(finished.lays.flatMap((lay) => lay.pieces.map((piece): [string, number] => [piece.id, piece.number])));
  const { marked } = state.look;
  return h(
    "table",
    {},
    h("caption", { class: "unseen" }, text.heading),
    h("thead", {}, h("tr", {}, h("th", { scope: "col" }, words.parts.load), h("th", { scope: "col" }, text.pieces), h("th", { scope: "col", class: "figures" }, text.used_head))),
    h(
      "tbody",
      {},
      finished.plan.loads.map((load) =>
        h(
          "tr",
          { key: load.id },
          h("th", { scope: "row" }, loadNumber(load.id)),
          h(
            "td",
            { class: "balloons" },
            load.pieces.map((id) =>
              h(
                "button",
                { key: id, type: "button", class: "piece", "aria-label": words.parts.balloon(numbers.get(id) ?? 0, id), "aria-pressed": String(id === marked), on: marking(doing, id) },
                balloon(numbers.get(id) ?? 0, id === marked),
              ),
            ),
          ),
          h("td", { class: "figures" }, percent(load.used_fraction)),
        ),
      ),
      h("tr", {}, h("th", { scope: "row", colspan: "2" }, text.total(finished.plan.totals.pieces, finished.plan.totals.loads)), h("td", { class: "figures" }, finished.plan.totals.held === 0 ? "" : `${figure(finished.plan.totals.held)} ${words.parts.rest.held}`)),
    ),
  );
}

