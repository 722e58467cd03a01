/**
 * The planner as the page sees it: one keeper, some searchers, a finder, runs numbered from 1.
 *
 * How: the keeper reads and cuts first plans; each round's tasks go to whichever searcher is free;
 * when all results are there the keeper merges them. Nothing depends on who ran what or when, so
 * with an effort fixed the plan is the same whatever the number of searchers.
 * A worker that dies or hangs is replaced and told of; a searcher's task runs again, a keeper's run
 * begins again from the models, which this side keeps.
 * Not here: the DOM, how workers are started (`spawn.ts`), what the pointer is on (`finding.ts`).
 */
import { startFinding } from "./finding.ts";
import { Lane, type Spawn } from "./lane.ts";
import type { Answer, Found, FromKeeper, FromSearcher, Model, Probed, Question, ToKeeper, ToSearcher } from "./messages.ts";
import type { FileLook, JobOptions, ModelFile, News, Planner } from "./protocol.ts";
import type { Asked, TaskNote } from "./records.ts";

export interface PlannerOptions {
  /** Searchers; keeper and finder come on top. */
  searchers: number;
  /** Silence of a searcher or finder at work, in ms, that counts as hanging. */
  hangMs: number;
  /** Rounds of search for plans that do not say themselves; null leaves it to their seconds. */
  effort: number | null;
}

/** A step of finishing a very large item is one long call; a searcher says it lives every second. */
const KEEPER_HANG_MS = 300_000;
/** A keeper that does not begin at once is in a long step of a plan nobody wants any more. */
const BEGIN_MS = 300;
/** A task that felled so many workers is left out. */
const MOST_FALLS = 3;

/** One run: what was asked, and what of it is at work. */
interface Run {
  models: Model[];
  asked: Asked;
  seconds: number | null;
  solids: Map<number, Uint8Array<ArrayBuffer>>;
  tasks: TaskNote[];
  waiting: number[];
  results: (Found | undefined)[];
  stopping: boolean;
  finishing: boolean;
  over: boolean;
  paused: boolean;
  /** Milliseconds of search used up to `since`, and when the clock last started. */
  used: number;
  since: number;
}

interface Seeker {
  lane: Lane<ToSearcher, FromSearcher>;
  /** Position of the task at work, if one is. */
  at: number | null;
}

export function startPlanner(spawn: Spawn, options: PlannerOptions): Planner {
  let heard: (news: News, run: number) => void = () => {};
  let number = 0;
  let run: Run | null = null;
  let begun = 0;
  /** Whether the keeper at work has said that it hears. */
  let isBorn = false;
  let keeperFalls = 0;
  let questions = 0;
  let clock: ReturnType<typeof setTimeout> | undefined;
  const falls = new Map<number, number>();
  const probing = new Map<number, (probed: Probed | null) => void>();
  const asked = new Map<number, { done: (answer: Answer) => void; fail: (error: Error) => void }>();

  const tell = (news: News): void => heard(news, number);
  const keeper = new Lane<ToKeeper, FromKeeper>(spawn, "keeper", KEEPER_HANG_MS, fromKeeper, keeperLost);
  const seekers: Seeker[] = Array.from({ length: Math.max(1, options.searchers) }, () => {
    const seeker = { at: null } as unknown as Seeker;
    seeker.lane = new Lane(spawn, "searcher", options.hangMs, (m) => fromSearcher(seeker, m), (why) => searcherLost(seeker, why));
    return seeker;
  });
  const finding = startFinding(spawn, options.hangMs, (why) =>
    tell({ kind: "worker-replaced", text: `The finder of pieces stopped (${why}) and another took its place.` }),
  );

  function begin(): void {
    if (run === null) return;
    const mine = number;
    keeper.busy = true;
    keeper.post({ kind: "begin", run: mine, asked: run.asked, models: run.models });
    if (isBorn) setTimeout(() => hurry(mine), BEGIN_MS);
  }

  /** A keeper in the midst of a long step for an older run is cancelled by ending it. */
  function hurry(mine: number): void {
    if (mine !== number || begun === mine || run === null) return;
    refuseQuestions("a new plan was begun");
    isBorn = false;
    keeper.replace();
    begin();
  }

  function fromKeeper(message: FromKeeper): void {
    if (message.kind === "born") {
      isBorn = true;
      return;
    }
    if (message.kind === "answer" || message.kind === "refused") {
      const waiting = asked.get(message.id);
      asked.delete(message.id);
      if (message.kind === "answer") waiting?.done(message.answer);
      else waiting?.fail(new Error(message.text));
      return;
    }
    if (message.run !== number || run === null) return;
    if (message.kind === "begun") begun = message.run;
    else if (message.kind === "solid") {
      run.solids.set(message.item, message.bytes);
      for (const { lane } of seekers) lane.post({ kind: "item", run: number, item: message.item, asked: run.asked, bytes: message.bytes });
    } else if (message.kind === "ready") ready(run, message.tasks);
    else {
      const { news } = message;
      if (news.kind === "finished" || news.kind === "not-planned" || (news.kind === "failed" && news.goes_on !== true)) end(run);
      if (news.kind === "finished") keeperFalls = 0;
      tell(news);
    }
  }

  /** Every item has a plan: the next round, or the end. */
  function ready(own: Run, tasks: TaskNote[]): void {
    keeper.busy = false;
    if (tasks.length === 0 || own.stopping) return finish(own);
    own.tasks = tasks;
    own.results = tasks.map(() => undefined);
    own.waiting = tasks.map((_, at) => at);
    falls.clear();
    if (!own.paused) deal(own);
  }

  /** Gives waiting tasks to free searchers. */
  function deal(own: Run): void {
    if (own.finishing || own.over) return;
    for (const seeker of seekers) {
      if (seeker.at !== null) continue;
      const at = own.waiting.shift();
      if (at === undefined) return;
      const task = own.tasks[at];
      if (task === undefined) return;
      seeker.at = at;
      seeker.lane.busy = true;
      seeker.lane.post({ kind: "task", run: number, at, task });
    }
  }

  function fromSearcher(seeker: Seeker, message: FromSearcher): void {
    if (message.kind === "probed") {
      probing.get(message.id)?.(message.probed);
      probing.delete(message.id);
    }
    if (message.kind !== "found" || run === null || message.run !== number || seeker.at !== message.at) return;
    seeker.at = null;
    seeker.lane.busy = false;
    result(run, message.at, message.found);
  }

  function result(own: Run, at: number, found: Found): void {
    own.results[at] = found;
    if (own.finishing || own.over) return;
    if (own.results.every((one) => one !== undefined)) {
      keeper.busy = true;
      keeper.post({ kind: "results", run: number, results: own.results as Found[] });
    } else if (!own.paused) deal(own);
  }

  function searcherLost(seeker: Seeker, why: string): void {
    const at = seeker.at;
    seeker.at = null;
    answerProbes();
    if (run === null) return;
    if (run.over) {
      // It may still be asked what a plane would make.
      for (const [item, bytes] of run.solids) seeker.lane.post({ kind: "item", run: number, item, asked: run.asked, bytes });
      return;
    }
    for (const [item, bytes] of run.solids) seeker.lane.post({ kind: "item", run: number, item, asked: run.asked, bytes });
    tell({ kind: "worker-replaced", text: `A searcher stopped (${why}) and another took its place.` });
    if (at === null || run.finishing) return;
    const n = (falls.get(at) ?? 0) + 1;
    falls.set(at, n);
    if (n >= MOST_FALLS) return result(run, at, null);
    run.waiting.unshift(at);
    if (!run.paused) deal(run);
  }

  /** What nobody will answer any more is answered with nothing. */
  function answerProbes(): void {
    for (const done of probing.values()) done(null);
    probing.clear();
  }

  function keeperLost(why: string): void {
    isBorn = false;
    refuseQuestions(why);
    if (run === null || run.over) return;
    dropTasks();
    if (++keeperFalls >= MOST_FALLS) {
      end(run);
      tell({ kind: "failed", key: null, text: `the planner stopped ${keeperFalls} times (${why})` });
      return;
    }
    tell({ kind: "worker-replaced", text: `The planner stopped (${why}) and was started again.` });
    Object.assign(run, { solids: new Map(), tasks: [], waiting: [], results: [], finishing: false });
    begin();
  }

  function finish(own: Run): void {
    if (own.finishing) return;
    own.finishing = true;
    clearTimeout(clock);
    dropTasks();
    if (own.paused) goOn();
    keeper.busy = true;
    keeper.post({ kind: "finish", run: number });
  }

  function dropTasks(): void {
    for (const seeker of seekers) {
      if (seeker.at !== null) seeker.lane.post({ kind: "drop" });
      seeker.at = null;
      seeker.lane.busy = false;
    }
  }

  function end(own: Run): void {
    own.over = true;
    keeper.busy = false;
    clearTimeout(clock);
    dropTasks();
  }

  function refuseQuestions(why: string): void {
    for (const { fail } of asked.values()) fail(new Error(why));
    asked.clear();
  }

  /** Ends the search when its seconds, pauses left out, are over. */
  function startClock(own: Run): void {
    own.since = performance.now();
    if (own.seconds === null) return;
    clock = setTimeout(() => stop(), Math.max(0, own.seconds * 1000 - own.used));
  }

  function stop(): void {
    if (run === null || run.over || run.stopping) return;
    run.stopping = true;
    // Before the first plan the keeper says `ready` when it is there; in a merge, soon.
    const atKeeper = run.tasks.length === 0 || run.results.every((one) => one !== undefined);
    if (atKeeper) {
      if (run.paused) goOn();
    } else finish(run);
  }

  function giveUp(): void {
    if (run === null || run.over) return;
    end(run);
    if (run.paused) for (const { lane } of seekers) lane.post({ kind: "go-on" });
    run.paused = false;
    // It may be in the midst of a long call, which nothing else ends.
    refuseQuestions("it was stopped");
    isBorn = false;
    keeper.replace();
    tell({ kind: "given-up" });
  }

  function pause(): void {
    if (run === null || run.over || run.paused || run.finishing) return;
    run.paused = true;
    run.used += performance.now() - run.since;
    clearTimeout(clock);
    keeper.post({ kind: "pause" });
    keeper.busy = false;
    for (const { lane } of seekers) {
      lane.post({ kind: "pause" });
      lane.busy = false;
    }
    tell({ kind: "paused" });
  }

  function goOn(): void {
    if (run === null || !run.paused) return;
    const own = run;
    own.paused = false;
    keeper.post({ kind: "go-on" });
    for (const { lane, at } of seekers) {
      lane.post({ kind: "go-on" });
      lane.busy = at !== null;
    }
    if (!own.finishing) startClock(own);
    tell({ kind: "going-on" });
    deal(own);
  }

  function ask<Kind extends Answer>(question: Question): Promise<Kind> {
    const id = ++questions;
    return new Promise((done, fail) => {
      asked.set(id, { done: done as (answer: Answer) => void, fail });
      keeper.post({ kind: "ask", id, question });
    });
  }

  return {
    effort: options.effort,
    listen: (hear) => (heard = hear),
    plan(models: ModelFile[], job: JobOptions): number {
      clearTimeout(clock);
      dropTasks();
      answerProbes();
      if (run?.paused) for (const { lane } of seekers) lane.post({ kind: "go-on" });
      keeperFalls = 0;
      number++;
      const { beds, prefer, seed } = job;
      const effort = job.effort ?? options.effort;
      const asking: Asked = effort === null ? { beds, prefer, seed } : { beds, prefer, seed, effort };
      run = {
        models, asked: asking, seconds: effort === null ? job.seconds : null,
        solids: new Map(), tasks: [], waiting: [], results: [],
        stopping: false, finishing: false, over: false, paused: false, used: 0, since: 0,
      };
      startClock(run);
      begin();
      return number;
    },
    pause,
    goOn,
    stop,
    giveUp,
    find: finding.find,
    probe(key, asking) {
      const item = run?.models.findIndex((model) => model.key === key) ?? -1;
      const [seeker] = seekers;
      if (run === null || seeker === undefined || !run.solids.has(item)) return Promise.resolve(null);
      const id = ++questions;
      return new Promise((done) => {
        probing.set(id, done);
        seeker.lane.post({ kind: "probe", id, asked: { item, ...asking } });
      });
    },
    look(key) {
      const model = run?.models.find((one) => one.key === key);
      if (model === undefined) return Promise.reject(new Error("its file is not read yet"));
      return ask<FileLook>({ what: "look", name: model.name, settings: model.settings, bytes: model.bytes });
    },
    zip: () => ask<Uint8Array<ArrayBuffer>>({ what: "zip" }),
    project: () => ask<Uint8Array<ArrayBuffer>>({ what: "project" }),
    async openProject(bytes) {
      const answer = await ask<Extract<Answer, { opened: unknown }>>({ what: "open", bytes });
      const { beds, prefer, seed, effort } = answer.opened.asked;
      const models = answer.opened.models.map(({ name, settings }, k): ModelFile => ({
        key: `opened-${number}-${questions}-${k}`, name, settings, bytes: answer.bytes[k] ?? new Uint8Array(),
      }));
      return { models, options: { beds, prefer: prefer as JobOptions["prefer"], seed, effort: effort ?? null, seconds: null } };
    },
    close() {
      clearTimeout(clock);
      refuseQuestions("the planner was closed");
      answerProbes();
      keeper.end();
      finding.close();
      for (const { lane } of seekers) lane.end();
      run = null;
    },
  };
}
