/**
 * Costume leaf: the models, how each is made, and what is in doubt about their files.
 */
import type { ItemSettings } from "../planner/protocol.ts";
import { ROLES, type Unit, UPS } from "../planner/records.ts";
import { isMarked } from "../state/marks.ts";
import type { ItemFound, ModelDecision, Run, State } from "../state/state.ts";
import { megabytes } from "../words/figures.ts";
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { type Child, h, type VNode } from "./dom.ts";
import { fileReport, flawsOf, mending, simplifying, uniting } from "./flaws.ts";
import { choice, number, select, tick, warning, word } from "./parts.ts";

/** Units asked about; the core reads some more, which no one means by a bare number. */
const ASKED_UNITS = ["mm", "cm", "dm", "m", "inch"] as const satisfies readonly Unit[];

export function costumeLeaf(state: State, doing: Doing): VNode[] {
  const { models } = state.decisions;
  const text = words.costume;
  return [
    h("h1", {}, state.decisions.costume || text.heading),
    models.length === 0 ? h("p", { class: "lead" }, text.empty) : null,
    state.decisions.is_demo ? h("p", { class: "lead" }, words.demo.lead) : null,
    h("p", { class: "quiet" }, text.formats),
    h(
      "p",
      { class: "doable" },
      word(models.length === 0 ? text.choose : text.add, doing.chooseModels),
      word(text.open, doing.chooseProject),
      models.length === 0 ? null : word(words.take.save, doing.saveProject, { off: state.run.phase !== "finished" || state.taking !== "none" }),
      models.length === 0 ? null : word(text.clear, doing.clear),
    ),
    models.length === 0 || state.run.phase === "finished" ? null : h("p", { class: "quiet small" }, words.take.after_plan),
    failuresOf(state, null),
    h("div", { class: "items" }, models.map((model) => modelCard(state, doing, model))),
    models.length === 0 ? null : h("p", { class: "quiet" }, words.take.safe),
  ].filter((node): node is VNode => node !== null);
}

function failuresOf(state: State, key: string | null): VNode | null {
  const failures = state.run.failures.filter((failure) => failure.key === key);
  return failures.length === 0 ? null : h("div", {}, failures.map((failure) => failureSaid(state, failure)));
}

/** Which model, where, why, and what then. */
export function failureSaid(state: State, { key, text }: Run["failures"][number]): VNode {
  const name = state.decisions.models.find((one) => one.key === key)?.name;
  if (name === undefined) return warning(words.seams.failed, " ", text, ".");
  // The planner begins with the name, as the program on the command line does.
  const where_and_why = text.startsWith(`${name}: `) ? text.slice(name.length + 2) : text;
  return warning(words.seams.model_failed(name), " ", where_and_why, ". ", words.seams.model_failed_then);
}

export const modelCardId = (key: string): string => `model-${key}`;

function modelCard(state: State, doing: Doing, model: ModelDecision): VNode {
  const text = words.costume;
  const found = state.run.items.filter((item) => item.key === model.key);
  const first = found[0];
  const is_reading = state.run.reading.includes(model.key);
  // Of what failed, what was found before is not so any more.
  const fails = state.run.failures.some((failure) => failure.key === model.key);
  const set = (settings: Partial<ItemSettings>): void => doing.send({ kind: "settings-changed", key: model.key, settings });
  return h(
    "section",
    { key: model.key, id: modelCardId(model.key), class: "card", tabindex: "-1", "aria-label": text.settings(model.name) },
    h("h2", {}, model.name),
    h("p", { class: "quiet" }, whatIsKnown(state, first, model, is_reading), is_reading ? " " : null, is_reading ? word(words.seams.give_up, doing.giveUp, { label: text.stop_reading(model.name) }) : null),
    failuresOf(state, model.key),
    first === undefined ? null : doubts(first, model, set),
    first === undefined || fails ? null : flawsOf(state, doing, first),
    mending(state, model, first, set),
    uniting(model, first, set),
    simplifying(state, model, first, set),
    h(
      "div",
      { class: "fields" },
      select(text.role, [{ value: "", label: text.no_role }, ...ROLES.map((role) => ({ value: role as string, label: role as string }))], model.settings.role ?? "", (role) => set({ role: role === "" ? undefined : role })),
      sizing(model, set),
      number({ label: text.copies, value: model.settings.copies ?? 1, least: 1, most: 99, whole: true, change: (copies) => set({ copies: copies === 1 ? undefined : copies }), empty: () => set({ copies: undefined }) }),
    ),
    h(
      "div",
      { class: "fields" },
      tick(text.pair, model.settings.pair ?? false, (pair) => set({ pair: pair ? true : undefined })),
      marksOf(model, set),
      word(text.remove_short, () => doing.send({ kind: "model-removed", key: model.key }), { label: text.remove(model.name) }),
    ),
    is_reading ? null : fileReport(state, doing, model, first),
  );
}

function whatIsKnown(state: State, item: ItemFound | undefined, model: ModelDecision, is_reading: boolean): string {
  if (is_reading) return words.costume.reading(model.name);
  if (item?.size_mm == null || item.triangles === null) return megabytes(model.n_bytes);
  const known = words.costume.item(item.size_mm, item.triangles);
  const is_namesake = state.decisions.models.some((other) => other !== model && other.name === model.name);
  return is_namesake ? `${words.costume.called(item.item)} · ${known}` : known;
}

/** How much is marked, and the way to begin without. */
function marksOf({ settings: { marks } }: ModelDecision, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  if (marks === undefined || !isMarked(marks)) return null;
  const n = [marks.locked, marks.forbidden, marks.chalk, marks.printed].reduce((sum, some) => sum + (some?.length ?? 0), 0);
  return h("span", {}, h("span", { class: "quiet" }, words.marks.on_model(n)), " ", word(words.marks.remove_all, () => set({ marks: undefined })));
}

/** Units and up axis are asked only where the core is in doubt, or was before the maker answered. */
function doubts(item: ItemFound, model: ModelDecision, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const { units } = item;
  if (units === null) return null;
  const asked: Child[] = [];
  if (units.in_doubt || model.settings.units !== undefined) {
    asked.push(
      h("p", {}, words.costume.units_taken(units.guess, units.why)),
      choice(`units-${model.key}`, words.costume.units_doubt, ASKED_UNITS.map((unit) => ({ value: unit, label: unit })), (model.settings.units ?? units.guess) as (typeof ASKED_UNITS)[number], (unit) => set({ units: unit })),
    );
  }
  if (units.up_in_doubt || model.settings.up !== undefined) {
    asked.push(
      h("p", {}, words.costume.up_taken(units.up, units.up_why)),
      choice(`up-${model.key}`, words.costume.up_doubt, UPS.map((axis) => ({ value: axis, label: axis })), (model.settings.up ?? units.up) as (typeof UPS)[number], (up) => set({ up })),
    );
  }
  return asked.length === 0 ? null : h("div", { class: "doubt" }, asked);
}

type Sizing = "scale" | "height_mm" | "volume_cm3" | "none";

function sizing(model: ModelDecision, set: (settings: Partial<ItemSettings>) => void): VNode {
  const { settings } = model;
  const text = words.costume;
  const by: Sizing = settings.scale !== undefined ? "scale" : settings.height_mm !== undefined ? "height_mm" : settings.volume_cm3 !== undefined ? "volume_cm3" : "none";
  const value = settings.scale ?? settings.height_mm ?? settings.volume_cm3;
  const usual = { scale: 1, height_mm: 300, volume_cm3: 500 };
  const choose = (chosen: Sizing): void => set(chosen === "none" ? { scale: undefined } : { [chosen]: usual[chosen] });
  return h(
    "span",
    { class: "sizing" },
    select<Sizing>(text.size_by, [{ value: "none", label: text.as_drawn }, { value: "scale", label: text.by_scale }, { value: "height_mm", label: text.by_height }, { value: "volume_cm3", label: text.by_volume }], by, choose),
    by === "none" ? null : number({ label: text.value, value, least: 1e-6, change: (typed) => set({ [by]: typed }), empty: () => set({ scale: undefined }) }),
  );
}

