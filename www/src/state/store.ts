/**
 * Holds the state, changes it through `reduce` and tells who watches.
 *
 * An action sent from within a watcher waits until the one before is told to all, so that every
 * watcher sees states in the same order.
 */
import type { Action } from "./actions.ts";
import { reduce } from "./reduce.ts";
import type { State } from "./state.ts";

export interface Store {
  get(): State;
  send(action: Action): void;
  /** Calls `hear` now and whenever what `select` gives is another value (`===`). Gives the way to stop. */
  watch<T>(select: (state: State) => T, hear: (value: T, state: State) => void): () => void;
}

export function createStore(first: State): Store {
  let state = first;
  const watchers = new Set<() => void>();
  const waiting: Action[] = [];
  let is_telling = false;

  function send(action: Action): void {
    waiting.push(action);
    if (is_telling) return;
    is_telling = true;
    try {
      for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) {
        const before = state;
        state = reduce(state, next);
        if (state !== before) for (const tell of [...watchers]) tell();
      }
    } finally {
      is_telling = false;
    }
  }

  function watch<T>(select: (state: State) => T, hear: (value: T, state: State) => void): () => void {
    let value = select(state);
    const tell = (): void => {
      const now = select(state);
      if (now === value) return;
      value = now;
      hear(now, state);
    };
    watchers.add(tell);
    hear(value, state);
    return () => watchers.delete(tell);
  }

  return { get: () => state, send, watch };
}
