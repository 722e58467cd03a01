/**
 * The finder's lane: what a ray into the drawing meets, asked of a worker that does nothing else.
 *
 * How: the worker starts with the first question and is told what is drawn only as questions need
 * it, so a page on which nobody points pays nothing. One that dies or hangs is replaced and asked
 * again. Not here: where the pointer is (`scene/`).
 */
import { Lane, type Spawn } from "./lane.ts";
import type { DrawnPart, FromFinder, ToFinder } from "./messages.ts";
import type { Drawn } from "./protocol.ts";
import type { Met, Ray } from "./records.ts";

/** A question that felled so many finders in a row is answered with nothing. */
const MOST_FALLS = 3;

interface Asking {
  ray: Ray;
  drawn: readonly Drawn[];
  done: (met: Met | null) => void;
  n_falls: number;
}

export interface Finding {
  find(ray: Ray, drawn: readonly Drawn[]): Promise<Met | null>;
  close(): void;
}

export function startFinding(spawn: Spawn, hangMs: number, replaced: (why: string) => void): Finding {
  let lane: Lane<ToFinder, FromFinder> | null = null;
  let questions = 0;
  const asking = new Map<number, Asking>();
  /** What the worker at work was told of. */
  const told = new Map<string, Drawn>();

  function ask(id: number, { ray, drawn }: Asking): void {
    lane ??= new Lane(spawn, "finder", hangMs, heard, lost);
    const wanted = drawn.filter((one) => ray.starts.some(({ item }) => item === one.id));
    const forget = [...told.keys()].filter((item) => !wanted.some((one) => one.id === item));
    const fresh = wanted.filter((one) => told.get(one.id) !== one);
    forget.forEach((item) => told.delete(item));
    fresh.forEach((one) => told.set(one.id, one));
    lane.busy = true;
    lane.post({ kind: "find", id, ray, forget, fresh: fresh.map((one) => ({ item: one.id, parts: one.parts.map(partOf) })) });
  }

  function heard(message: FromFinder): void {
    if (message.kind === "found") {
      asking.get(message.id)?.done(message.met);
      asking.delete(message.id);
    }
    if (lane !== null) lane.busy = asking.size > 0;
  }

  function lost(why: string): void {
    told.clear();
    replaced(why);
    for (const [id, one] of asking) {
      one.n_falls += 1;
      if (one.n_falls < MOST_FALLS) ask(id, one);
      else {
        asking.delete(id);
        one.done(null);
        // The next question begins with a worker of its own.
        lane?.end();
        lane = null;
      }
    }
    if (lane !== null) lane.busy = asking.size > 0;
  }

  return {
    find(ray, drawn) {
      return new Promise((done) => {
        const id = ++questions;
        const one = { ray, drawn, done, n_falls: 0 };
        asking.set(id, one);
        ask(id, one);
      });
    },
    close() {
      lane?.end();
      for (const { done } of asking.values()) done(null);
      asking.clear();
    },
  };
}

/** Only what a ray needs: the rest would be copied in vain. */
const partOf = ({ id, number, pull_mm, points_mm, triangles }: Drawn["parts"][number]): DrawnPart => ({
  piece: number === 0 ? null : id,
  pull_mm,
  points_mm,
  triangles,
});
