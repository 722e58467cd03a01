/**
 * Lets the planner follow the decisions: plans anew a moment after they change, hands its news to the
 * state, and turns the maker's words (pause, go on, stop) into calls.
 *
 * Not here: how planning is done (`planner/`), what news do to the state (`news.ts`).
 */
import type { Shelf } from "../keep/shelf.ts";
import type { ItemSettings, Planner } from "../planner/protocol.ts";
import { bedProblem } from "./beds.ts";
import { begunOf } from "./marks.ts";
import type { Decisions, ModelDecision } from "./state.ts";
import type { Store } from "./store.ts";

/** After a change; long enough to type two figures, short enough not to be waited for. */
const MOMENT_MS = 350;

export interface Planning {
  pause(): void;
  goOn(): void;
  stop(): void;
  giveUp(): void;
  again(): void;
  close(): void;
}

export function startPlanning(store: Store, planner: Planner, shelf: Shelf): Planning {
  planner.listen((news, run) => store.send({ kind: "news", news, run }));
  let timer: ReturnType<typeof setTimeout> | null = null;
  let planned: Decisions | null = null;

  function plan(): void {
    timer = null;
    const { decisions } = store.get();
    planned = decisions;
    const models = shelf.models(decisions.models.map((model) => ({ ...model, settings: begin(model) })));
    if (models.length === 0) {
      planner.giveUp();
      store.send({ kind: "run-emptied" });
      return;
    }
    const { prefer, seed, seconds, effort } = decisions;
    const run = planner.plan(models, { beds: [...decisions.beds], prefer, seed, effort, seconds });
    store.send({ kind: "run-started", run });
  }

  /** A search of fixed effort depends on nothing that was found before. */
  function begin({ key, settings }: ModelDecision): ItemSettings {
    const { run, decisions } = store.get();
    const item = run.items.find((one) => one.key === key);
    const begun = item === undefined || decisions.effort !== null || planner.effort !== null ? undefined : begunOf(item, settings.marks);
    return begun === undefined ? settings : { ...settings, begun };
  }

  function soon(wait_ms: number): void {
    if (timer !== null) clearTimeout(timer);
    timer = setTimeout(plan, wait_ms);
  }

  const stopWatching = store.watch(
    (state) => state.decisions,
    (decisions) => {
      if (planned !== null && isSameJob(planned, decisions)) return;
      // An impossible bed is told beside it; the plan before stays until it is put right.
      if (decisions.beds.some((bed) => bedProblem(bed) !== null)) return;
      soon(planned === null || planned.models.length === 0 ? 0 : MOMENT_MS);
    },
  );

  // The search rests while a seam is moved: a better plan would take it from under the hand.
  let rests = false;
  const stopResting = store.watch(
    (state) => state.moving !== null,
    (is_moving, { run }) => {
      if (is_moving === rests || (is_moving && run.phase !== "searching")) return;
      rests = is_moving;
      if (is_moving) planner.pause();
      else planner.goOn();
    },
  );

  return {
    pause: () => planner.pause(),
    goOn: () => planner.goOn(),
    stop() {
      planner.stop();
      store.send({ kind: "stopped" });
    },
    giveUp: () => planner.giveUp(),
    again: () => soon(0),
    close() {
      stopWatching();
      stopResting();
      if (timer !== null) clearTimeout(timer);
      planner.close();
    },
  };
}

/** Whether a plan for one is a plan for the other: the costume's name changes nothing. */
function isSameJob(a: Decisions, b: Decisions): boolean {
  return a.models === b.models && a.beds === b.beds && a.prefer === b.prefer && a.seed === b.seed && a.seconds === b.seconds && a.effort === b.effort;
}
