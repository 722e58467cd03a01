/**
 * What is wrong with a model's file, where, what was done about it, and how it is mended.
 *
 * Every flaw is listed with its places; a place is flown to. What the file holds is told beside what
 * is planned of it, and either can be drawn.
 */
import type { ItemSettings, NoticeRecord } from "../planner/protocol.ts";
import { type Mend, MENDS, type Step, STEPS } from "../planner/records.ts";
import { type FileLooked, fileOf, type ItemFound, type ModelDecision, type State } from "../state/state.ts";
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { h, type VNode } from "./dom.ts";
import { number, select, tick, word } from "./parts.ts";

/** What the planner found in the file; a guess that is asked about is told with the question. */
export function flawsOf(state: State, doing: Doing, { item, key, notices, units }: ItemFound): VNode | null {
  const is_asked = ({ text }: NoticeRecord): boolean => (units?.in_doubt === true && text === units.why) || (units?.up_in_doubt === true && text === units.up_why);
  const found = notices.filter((notice) => !is_asked(notice));
  if (found.length === 0) return null;
  const model = state.decisions.models.find((one) => one.key === key);
  const set = (settings: Partial<ItemSettings>): void => (model === undefined ? undefined : doing.send({ kind: "settings-changed", key: model.key, settings }));
  return h("ul", { class: "notices" }, found.map((notice) => h("li", {}, said(notice), " ", places(state, doing, item, notice), " ", model === undefined ? null : withoutIt(model, notice, set))));
}

function flawList(state: State, doing: Doing, item: string, found: readonly NoticeRecord[]): VNode {
  return h("ul", { class: "notices" }, found.map((notice) => h("li", {}, said(notice), " ", places(state, doing, item, notice))));
}

/** A step of mending is undone by itself. */
function withoutIt({ settings }: ModelDecision, { code, text }: NoticeRecord, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const step = STEPS.find((one) => code === `mended-${one}`);
  const left_out = settings.leave_out ?? [];
  // What is told may be of the plan before.
  if (step === undefined || left_out.includes(step)) return null;
  return word(words.flaws.without, () => set({ leave_out: [...left_out, step] }), { label: words.flaws.without_label(text) });
}

/** The steps that are left out, each to be done again. */
function leftOut({ settings }: ModelDecision, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const left_out = settings.leave_out ?? [];
  const steps = STEPS.filter((step) => left_out.includes(step));
  if (steps.length === 0) return null;
  const again = (step: Step): void => {
    const rest = left_out.filter((one) => one !== step);
    set({ leave_out: rest.length === 0 ? undefined : rest });
  };
  return h("ul", { class: "notices" }, steps.map((step) => h("li", {}, words.flaws.goes_without(step), " ", word(words.flaws.do_again, () => again(step), { label: words.flaws.do_again_label(step) }))));
}

/** A count before the sentence, where the sentence does not begin with one. */
function said({ count, text }: NoticeRecord): string {
  return count > 1 && !/^\d/.test(text) ? words.flaws.counted(count, text) : text;
}

function places({ look }: State, doing: Doing, item: string, { at_mm, text }: NoticeRecord): VNode | null {
  if (at_mm.length === 0) return null;
  const is_here = (place: readonly number[]): boolean => look.spot?.item === item && look.spot.at_mm.every((mm, axis) => mm === place[axis]);
  return h(
    "span",
    { class: "places" },
    at_mm.map((place, index) =>
      h(
        "button",
        {
          type: "button",
          class: "place",
          "aria-pressed": is_here(place) ? "true" : "false",
          "aria-label": words.flaws.show_place(index + 1, at_mm.length, text),
          on: { click: () => doing.send({ kind: "flown", spot: is_here(place) ? null : { item, at_mm: place } }) },
        },
        String(index + 1),
      ),
    ),
  );
}

const wasMended = (item: ItemFound | undefined): boolean => item?.notices.some(({ code }) => code === "mended" || code === "rebuilt") ?? false;

/** How the model is mended, where there is something to mend or the maker has said how. */
export function mending(state: State, model: ModelDecision, item: ItemFound | undefined, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const { mend, wall_mm, leave_out } = model.settings;
  const fails = state.run.failures.some((failure) => failure.key === model.key);
  if (mend === undefined && wall_mm === undefined && leave_out === undefined && !wasMended(item) && !fails) return null;
  const text = words.flaws;
  const chosen = MENDS.find((one) => one === mend) ?? "as-it-looks";
  const has_wall = chosen === "wall" || wall_mm !== undefined || (item?.notices.some(({ code }) => code === "mended-sheets") ?? false);
  const asked = h(
    "div",
    { class: "fields" },
    select<Mend>(text.mending, MENDS.map((one) => ({ value: one, label: text.mends[one] })), chosen, (one) => set({ mend: one === "as-it-looks" ? undefined : one })),
    has_wall ? number({ label: text.wall, said: text.wall_said, value: wall_mm ?? 2.4, unit: "mm", least: 0.2, most: 25, change: (typed) => set({ wall_mm: typed }), empty: () => set({ wall_mm: undefined }) }) : null,
  );
  return h("div", {}, leftOut(model, set), asked);
}

/** Whether bodies that overlap become one solid, where there are some or the maker has said so. */
export function uniting(model: ModelDecision, item: ItemFound | undefined, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const unites = model.settings.unite ?? false;
  if (!unites && !(item?.notices.some(({ code }) => code === "bodies-meet") ?? false)) return null;
  return h("div", { class: "fields" }, tick(words.flaws.unite, unites, (unite) => set({ unite: unite ? true : undefined })));
}

/** Items of more triangles are worth simplifying: planning takes longer with them, and no print shows them. */
const MANY = 1_000_000;

/** To how many triangles it is simplified, where it has very many or the maker has said so. */
export function simplifying(state: State, model: ModelDecision, item: ItemFound | undefined, set: (settings: Partial<ItemSettings>) => void): VNode | null {
  const { simplify } = model.settings;
  const is_refused = state.run.failures.some(({ key, text }) => key === model.key && text.includes("simplified to fewer"));
  if (simplify === undefined && !is_refused && (item?.triangles ?? 0) < MANY) return null;
  const text = words.flaws;
  const field = number({ label: text.simplify, said: text.simplify_said, value: simplify, unit: text.triangles, least: 1000, most: 3_000_000, whole: true, change: (n) => set({ simplify: n }), empty: () => set({ simplify: undefined }) });
  return h("div", { class: "fields" }, field, simplify === undefined ? word(text.simplify_now, () => set({ simplify: MANY })) : null);
}

/** What the file holds, once asked for. */
export function fileReport(state: State, doing: Doing, model: ModelDecision, item: ItemFound | undefined): VNode {
  const file = fileOf(state, model.key);
  const text = words.flaws;
  if (file === null) return word(text.look, () => doing.lookInto(model.key), { label: text.look_into(model.name) });
  return h(
    "div",
    { class: "file" },
    h("h3", {}, text.heading),
    figuresOf(file, item),
    file.report.notices.length === 0 ? h("p", { class: "quiet" }, text.sound) : flawList(state, doing, item?.item ?? "", file.report.notices),
    item === undefined ? mendingTold(file) : null,
    h(
      "p",
      { class: "doable" },
      tick(text.draw_file, file.is_drawn, (is_drawn) => doing.send({ kind: "file-drawn", is_drawn })),
      word(text.put_away, () => doing.send({ kind: "file-looked", file: null })),
    ),
  );
}

/** What mending would do, where nothing is planned of the file. */
function mendingTold({ report }: FileLooked): VNode | null {
  const { mending } = report;
  if (mending === undefined) return null;
  if (mending.fails !== undefined) return h("p", {}, words.flaws.fails(mending.fails));
  return h("div", {}, h("p", {}, words.flaws.would), h("ul", { class: "notices" }, mending.steps.map((step) => h("li", {}, said(step)))));
}

/** The file beside what is planned of it. */
function figuresOf({ report }: FileLooked, item: ItemFound | undefined): VNode {
  const text = words.flaws;
  const { mending } = report;
  const rows: [string, string, string][] = [
    [text.triangles, text.n(report.triangles), text.n(item?.triangles ?? mending?.triangles ?? report.triangles)],
    [text.bodies, text.n(report.bodies), ""],
    [text.open_edges, text.n(report.open_edges), text.n(0)],
    [text.volume, text.cm3(report.volume_mm3), text.cm3(mending?.volume_mm3 ?? report.volume_mm3)],
  ];
  if (report.self_intersections !== undefined) rows.push([text.crossing, text.n(report.self_intersections), ""]);
  if (report.thinnest_wall_mm !== undefined) rows.push([text.thinnest, text.mm(report.thinnest_wall_mm), ""]);
  return h(
    "table",
    { class: "figures" },
    h("thead", {}, h("tr", {}, h("td", {}), h("th", { scope: "col" }, text.in_file), h("th", { scope: "col" }, text.as_planned))),
    h("tbody", {}, rows.map(([name, before, after]) => h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, before), h("td", {}, after)))),
  );
}
