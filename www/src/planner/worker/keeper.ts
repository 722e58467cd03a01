/**
 * The keeper: reads models, cuts first plans, merges rounds, finishes, answers questions.
 *
 * Every stage is a loop of slices; a newer `begin` ends the loops of the older run at their next
 * slice. Knows no worker, only messages.
 */
import { Keeper, lookAtFile, openProject } from "../gen/planner.js";
import type { Answer, Died, Found, FromKeeper, Post, Question, ToKeeper } from "../messages.ts";
import type { CutDrawn, News, PieceShape, SeamLine, Shape, Stage } from "../protocol.ts";
import type { InspectRecord, ItemPlanNote, OpenedProject, OtherNote, ReadItem, RoundNote, TaskNote, Winner } from "../records.ts";
import { reasonOf } from "../../reason.ts";
import { deathOf } from "./death.ts";
import { Gate, SLICE_MS } from "./slices.ts";

/** Thrown inside a loop whose run is over. */
const OVER = Symbol("over");

type Bytes = Uint8Array<ArrayBuffer>;
type ShapeArrays = [Float32Array<ArrayBuffer>, Uint32Array<ArrayBuffer>, Bytes];

export function keeper(post: Post<FromKeeper | Died>): (message: ToKeeper) => void {
  const gate = new Gate();
  let core: Keeper | null = null;
  let run = 0;
  let began = 0;
  let items: string[] = [];

  const seconds = (): number => (performance.now() - began) / 1000;
  const tell = (news: News, moved: Transferable[] = []): void => post({ kind: "news", run, news }, moved);

  /** Steps until `step` says it is done, in slices. */
  async function slices(mine: number, step: () => boolean): Promise<void> {
    for (let more = true; more; ) {
      const begin = performance.now();
      while (more && performance.now() - begin < SLICE_MS) more = step();
      await gate.pass();
      if (mine !== run) throw OVER;
    }
  }

  async function begin(message: Extract<ToKeeper, { kind: "begin" }>): Promise<void> {
    const mine = (run = message.run);
    gate.open();
    began = performance.now();
    items = [];
    post({ kind: "begun", run });
    const asked = JSON.stringify(message.asked);
    let key: string | null = null;
    let is_failed = false;
    try {
      if (core === null) core = new Keeper(asked);
      else core.beginAnew(asked);
      const own = core;
      for (const model of message.models) {
        key = model.key;
        tell({ kind: "reading", key });
        await gate.pass();
        if (mine !== run) throw OVER;
        let read: ReadItem;
        try {
          read = JSON.parse(own.add(model.key, model.name, JSON.stringify(model.settings), model.bytes));
        } catch (error) {
          if (error instanceof WebAssembly.RuntimeError) throw error;
          // Whoever gave ten files wants to know of all that are broken, not of one after another.
          is_failed = true;
          tell({ kind: "failed", key, text: reasonOf(error), goes_on: true });
          continue;
        }
        const at = items.push(read.item) - 1;
        const [shape, moved] = shapeOf(own.shape(at) as ShapeArrays);
        tell({ kind: "read", key, ...read, shape }, moved);
      }
      key = null;
      if (is_failed) {
        tell({ kind: "not-planned" });
        return;
      }
      own.clearShelf();
      for (let item = 0; own.beginGrid(seconds()); item++) {
        const id = items[item] ?? "";
        let said = 0;
        await slices(mine, () => {
          const progress = own.stepGrid();
          if (progress === undefined) return false;
          if (performance.now() - said > 100) {
            said = performance.now();
            tell({ kind: "grid", item: id, n_done: progress[0] ?? 0, n_all: progress[1] ?? 0 });
          }
          return true;
        });
        draw(own, item, true);
        // After it is seen: of a very fine item the copy that is searched in its place is made first.
        await gate.pass();
        if (mine !== run) throw OVER;
        const handed = own.itemBytes(item) as Bytes;
        post({ kind: "solid", run, item, bytes: handed }, [handed.buffer]);
      }
      ready(own);
    } catch (error) {
      failed(error, key);
    }
  }

  /** The next round is due, or none. */
  function ready(own: Keeper): void {
    const round: RoundNote = JSON.parse(own.round());
    const tasks: TaskNote[] = JSON.parse(own.tasks());
    tell({ kind: "round", round: round.round, pieces: round.pieces, at_least: round.at_least, candidates: round.candidates, seconds: seconds() });
    post({ kind: "ready", run, tasks });
  }

  async function results(mine: number, found: Found[]): Promise<void> {
    if (core === null || mine !== run) return;
    const own = core;
    const winners: Winner[] = JSON.parse(own.merge(JSON.stringify(found.map((one) => one?.result ?? null)), found.map((one) => one?.cuts ?? new Float64Array())));
    for (const { item, at } of winners) {
      own.replay(item, found[at]?.cuts ?? new Float64Array());
      await slices(mine, () => own.stepReplay());
    }
    own.endRound(seconds());
    ready(own);
    // After the next round's tasks are on their way.
    for (const { item } of winners) draw(own, item, false);
  }

  async function finish(mine: number): Promise<void> {
    if (core === null || mine !== run) return;
    const own = core;
    let stage: string | undefined = own.nextStage();
    let said = "";
    while (stage !== undefined) {
      if (stage !== said) tell({ kind: "stage", text: stage as Stage });
      said = stage;
      await gate.pass();
      if (mine !== run) throw OVER;
      stage = own.finish(seconds());
    }
    items.forEach((_, item) => draw(own, item, false));
    const plan = own.planJson();
    const finished = own.finished();
    if (plan === undefined || finished === undefined) throw new Error("there is no finished plan");
    tell({ kind: "finished", plan: JSON.parse(new TextDecoder().decode(plan)), ...JSON.parse(finished) });
    await drawOthers(mine, own);
  }

  /** Plans to choose beside the best are cut to be shown once there is nothing else to do. */
  async function drawOthers(mine: number, own: Keeper): Promise<void> {
    for (let item = 0; item < items.length; item += 1) {
      const others: OtherNote[] = JSON.parse(own.others(item));
      for (const [index, { held, cost_min, detail_mm }] of others.entries()) {
        if (!own.beginOther(item, index)) continue;
        await slices(mine, () => own.stepOther());
        const [cut, moved] = cutOf(own.otherDrawing() as unknown[] | undefined);
        if (cut !== null) tell({ kind: "other-plan", held, cost_min, detail_mm, ...cut }, moved);
      }
    }
  }

  function draw(own: Keeper, item: number, first: boolean): void {
    const [cut, moved] = cutOf(own.drawing(item) as unknown[] | undefined);
    if (cut !== null) tell({ kind: "item-plan", first, ...cut }, moved);
  }

  /** What is drawn of a plan of an item, and the buffers that move with it. */
  function cutOf(drawn: unknown[] | undefined): [CutDrawn | null, Transferable[]] {
    if (drawn === undefined) return [null, []];
    const note: ItemPlanNote = JSON.parse(drawn[0] as string);
    const moved: Transferable[] = [];
    const pieces = note.pieces.map((piece, k): PieceShape => {
      const arrays = drawn[1 + k] as ShapeArrays;
      const [shape, buffers] = shapeOf(arrays);
      moved.push(...buffers, arrays[2].buffer);
      return { ...piece, shape, skin: arrays[2] };
    });
    const seams = note.seams.map((seam, k): SeamLine => {
      const line_mm = drawn[1 + pieces.length + k] as Float32Array<ArrayBuffer>;
      moved.push(line_mm.buffer);
      return { ...seam, weight: seam.weight as 1 | 2 | 3, line_mm };
    });
    return [{ ...note, pieces, seams }, moved];
  }

  /** The planner's own sentences end the run; anything else ends this worker. */
  function failed(error: unknown, key: string | null): void {
    if (error === OVER) return;
    if (error instanceof WebAssembly.RuntimeError) {
      post({ kind: "died", text: deathOf(error) });
      return;
    }
    tell({ kind: "failed", key, text: reasonOf(error) });
  }

  function ask(question: Question): [Answer, Transferable[]] {
    if (question.what === "open") {
      const [note, ...bytes] = openProject(question.bytes) as [string, ...Bytes[]];
      return [{ opened: JSON.parse(note) as OpenedProject, bytes }, bytes.map((b) => b.buffer)];
    }
    if (question.what === "look") {
      const [report, arrays] = lookAtFile(question.name, JSON.stringify(question.settings), question.bytes) as [string, ShapeArrays];
      const [shape, moved] = shapeOf(arrays);
      return [{ report: JSON.parse(report) as InspectRecord, shape }, moved];
    }
    const bytes = (question.what === "zip" ? joined(core?.zip()) : core?.project()) as Bytes | undefined;
    if (bytes === undefined) throw new Error("there is no finished plan");
    return [bytes, [bytes.buffer]];
  }

  post({ kind: "born" });
  return (message) => {
    const caught = (error: unknown): void => failed(error, null);
    if (message.kind === "begin") void begin(message);
    else if (message.kind === "results") results(message.run, message.results).catch(caught);
    else if (message.kind === "finish") finish(message.run).catch(caught);
    else if (message.kind === "pause") gate.close();
    else if (message.kind === "go-on") gate.open();
    else {
      try {
        const [answer, moved] = ask(message.question);
        post({ kind: "answer", id: message.id, answer }, moved);
      } catch (error) {
        if (error instanceof WebAssembly.RuntimeError) caught(error);
        else post({ kind: "refused", id: message.id, text: reasonOf(error) });
      }
    }
  };
}

function joined(parts: Bytes[] | undefined): Bytes | undefined {
  if (parts === undefined) return undefined;
  const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

function shapeOf([points_mm, triangles]: ShapeArrays): [Shape, Transferable[]] {
  return [{ points_mm, triangles }, [points_mm.buffer, triangles.buffer]];
}
