/**
 * What the planner's news do to the run.
 *
 * News of an older run are dropped. Items of the run before whose models are still there stay in the
 * drawing until the new run tells of them, and those it never tells of go when it is finished.
 */
import type { News } from "../planner/protocol.ts";
import { withFollowers } from "./followers.ts";
import type { ItemFound, Run } from "./state.ts";

const UNKNOWN: Omit<ItemFound, "item"> = {
  key: null,
  name: "",
  size_mm: null,
  triangles: null,
  notices: [],
  units: null,
  shape: null,
  grid: null,
  cut: null,
  at_least: null,
};

export function hear(run: Run, news: News, number: number): Run {
  if (number !== run.number) return run;
  switch (news.kind) {
    case "reading":
      return { ...run, phase: "reading", reading: [...run.reading, news.key] };
    case "read": {
      const { key, name, size_mm, triangles, notices, units, shape } = news;
      const read = { key, name, size_mm, triangles, notices, units, shape };
      const before = run.items.find((one) => one.item === news.item);
      // The old cut stays in the drawing only while the item kept its size.
      const is_same = before?.size_mm?.every((mm, axis) => mm === size_mm[axis]) ?? false;
      const cut = is_same && before !== undefined ? before.cut : null;
      const reading = run.reading.filter((other) => other !== key);
      return { ...known(run, { ...UNKNOWN, item: news.item, ...read, cut }), reading };
    }
    case "grid":
      return changed(searching(run), news.item, { grid: { n_done: news.n_done, n_all: news.n_all } });
    case "item-plan": {
      const { pieces, seams, cuts, seam_mm, grid_pieces } = news;
      return changed(searching(run), news.item, { grid: null, cut: { pieces, seams, cuts, seam_mm, grid_pieces } });
    }
    case "round": {
      const { round, pieces, candidates, seconds, at_least } = news;
      const found = (one: ItemFound): ItemFound => ({ ...one, at_least: at_least.find((least) => least.item === one.item)?.pieces ?? one.at_least });
      return { ...searching(run), items: run.items.map(found), rounds: [...run.rounds, { round, pieces, candidates, seconds }] };
    }
    case "paused":
      return run.phase === "searching" ? { ...run, phase: "paused" } : run;
    case "going-on":
      return run.phase === "paused" ? { ...run, phase: "searching" } : run;
    case "stage":
      return { ...run, phase: "ending", stage: news.text };
    case "finished": {
      const { plan, lays, findings } = news;
      const made = withFollowers(run.items.filter((one) => run.fresh.includes(one.item)), plan, lays);
      const items = made.map((one) => ({ ...one, at_least: plan.bounds?.find((bound) => bound.item === one.item)?.pieces_at_least ?? null }));
      return { ...run, phase: "finished", stage: null, reading: [], items, finished: { plan, lays, findings } };
    }
    case "other-plan": {
      const { item, pieces, seams, cuts, seam_mm, grid_pieces, held, cost_min, detail_mm } = news;
      const id = `${item}*${run.others.length}`;
      return { ...run, others: [...run.others, { id, item, n_pieces: pieces.length, n_held: held, cost_min, through_detail_mm: detail_mm, cut: { pieces, seams, cuts, seam_mm, grid_pieces } }] };
    }
    case "failed": {
      const failures = [...run.failures, { key: news.key, text: news.text }];
      const reading = run.reading.filter((other) => other !== news.key);
      return { ...run, failures, reading, phase: news.goes_on === true ? run.phase : "idle", stage: null };
    }
    case "not-planned":
      return { ...run, reading: [], phase: "idle", stage: null };
    case "given-up":
      return { ...run, phase: "idle", stage: null, reading: [], items: run.items.map((one) => ({ ...one, grid: null })), is_given_up: true };
    case "worker-replaced":
      return { ...run, replaced: news.text };
  }
}

/** A pause is the maker's word; news that were under way do not end it. */
function searching(run: Run): Run {
  return run.phase === "paused" || run.phase === "ending" ? run : { ...run, phase: "searching" };
}

function known(run: Run, item: ItemFound): Run {
  const is_there = run.items.some((one) => one.item === item.item);
  const items = is_there ? run.items.map((one) => (one.item === item.item ? item : one)) : [...run.items, item];
  const fresh = run.fresh.includes(item.item) ? run.fresh : [...run.fresh, item.item];
  return { ...run, items, fresh };
}

function changed(run: Run, id: string, change: Partial<ItemFound>): Run {
  const before = run.items.find((one) => one.item === id) ?? { ...UNKNOWN, item: id, name: id };
  return known(run, { ...before, ...change });
}
