/** A searcher: runs one task at a time in slices, sends what it found. Knows no worker, only messages. */
import { Searcher } from "../gen/planner.js";
import type { Died, FromSearcher, Post, ToSearcher } from "../messages.ts";
import { Gate, SLICE_MS } from "./slices.ts";
import { deathOf } from "./death.ts";

/** Said while at work, so that a searcher that hangs can be told from a busy one. */
const ALIVE_MS = 1000;

export function searcher(post: Post<FromSearcher | Died>): (message: ToSearcher) => void {
  const own = new Searcher();
  const gate = new Gate();
  /** Counts tasks, so that a dropped one ends. */
  let current = 0;

  async function work(message: Extract<ToSearcher, { kind: "task" }>): Promise<void> {
    const mine = ++current;
    if (!own.start(JSON.stringify(message.task))) throw new Error("a task came before its item");
    let said = performance.now();
    for (;;) {
      const begin = performance.now();
      let done = false;
      while (!done && performance.now() - begin < SLICE_MS) done = own.step();
      if (done) break;
      await gate.pass();
      if (mine !== current) return;
      if (performance.now() - said > ALIVE_MS) {
        post({ kind: "alive" });
        said = performance.now();
      }
    }
    const result = own.result();
    const cuts = own.cuts() as Float64Array<ArrayBuffer>;
    const found = result === undefined ? null : { result: JSON.parse(result), cuts };
    post({ kind: "found", run: message.run, at: message.at, found });
  }

  const died = (error: unknown): void => post({ kind: "died", text: deathOf(error) });

  return (message) => {
    try {
      if (message.kind === "pause") gate.close();
      else if (message.kind === "go-on") gate.open();
      else if (message.kind === "drop") {
        current++;
        gate.open();
      } else if (message.kind === "item") {
        own.takeItem(message.item, message.bytes, JSON.stringify(message.asked));
        post({ kind: "alive" });
      } else if (message.kind === "probe") {
        const note = own.probe(JSON.stringify(message.asked));
        const probed = note === undefined ? null : { ...JSON.parse(note), segments_mm: own.probedLine() as Float32Array<ArrayBuffer> };
        post({ kind: "probed", id: message.id, probed });
      } else work(message).catch(died);
    } catch (error) {
      died(error);
    }
  };
}
