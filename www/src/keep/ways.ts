/**
 * How much of the way back and forth is kept with a costume: all of it, until models that only undo
 * or redo would bring back grow too large for a browser's storage.
 */
import type { Decisions } from "../state/state.ts";

/** Bytes of models kept beside those of the costume as it is now; browsers grant some GB in all. */
export const MOST_BYTES = 500e6;

interface Ways {
  past: readonly Decisions[];
  future: readonly Decisions[];
}

/** Steps nearest to `now` stay; the way back is served before the way forth. A model counts once. */
export function waysWithin(now: Decisions, { past, future }: Ways, most_bytes: number): Ways {
  const counted = new Set(now.models.map((model) => model.key));
  let n_bytes = 0;
  // Both ways have their nearest step last.
  const nearest = (way: readonly Decisions[]): readonly Decisions[] => {
    let n_kept = 0;
    for (const step of way.toReversed()) {
      for (const model of step.models) {
        if (counted.has(model.key)) continue;
        counted.add(model.key);
        n_bytes += model.n_bytes;
      }
      if (n_bytes > most_bytes) break;
      n_kept += 1;
    }
    return n_kept === way.length ? way : way.slice(way.length - n_kept);
  };
  return { past: nearest(past), future: nearest(future) };
}
