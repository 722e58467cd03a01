/**
 * A report of a fault of the program, to copy and send to whoever mends it.
 *
 * It holds what was asked of the planner and what fell, no model and no name of a file.
 */
import type { State } from "../state/state.ts";
import { words } from "../words/words.ts";
import { h, type VNode } from "./dom.ts";

/** How the planner's own end is told (`planner.ts`); other failures are about what was asked. */
const STOPPED = "the planner stopped";

/** The report, folded away; `null` where nothing fell. */
export function faultReport(state: State, agent = globalThis.navigator?.userAgent ?? ""): VNode | null {
  const { run } = state;
  const fell = [run.replaced, ...run.failures.filter((failure) => failure.key === null && failure.text.startsWith(STOPPED)).map((failure) => failure.text)].filter((text): text is string => text !== null);
  if (fell.length === 0) return null;
  const text = reportOf(state, fell, agent);
  return h(
    "details",
    { key: "report", class: "report" },
    h("summary", {}, words.report.heading),
    h("p", { class: "quiet" }, words.report.holds),
    h("textarea", { readonly: true, rows: 8, "aria-label": words.report.heading, value: text, on: { focus: (event) => (event.target as HTMLTextAreaElement).select() } }, text),
  );
}

function reportOf({ run, decisions }: State, fell: readonly string[], agent: string): string {
  const items = run.items.map((item) => `${item.triangles ?? "?"} triangles, ${item.size_mm?.map((mm) => mm.toFixed(1)).join(" x ") ?? "?"} mm`);
  const models = decisions.models.map((model) => `${model.name.replace(/^.*(\.[^.]*)$/, "$1")}, ${model.n_bytes} bytes, ${JSON.stringify(model.settings)}`);
  return [
    `Seamwright ${run.finished?.plan.made_with.program_version ?? ""}`.trim(),
    agent,
    ...fell,
    `phase ${run.phase}${run.stage === null ? "" : `, ${run.stage}`}, ${run.rounds.length} rounds`,
    `beds ${decisions.beds.map((bed) => bed.id).join(", ")}; prefer ${decisions.prefer}, seed ${decisions.seed}`,
    ...models.map((model) => `model ${model}`),
    ...items.map((item) => `item ${item}`),
  ].join("\n");
}
