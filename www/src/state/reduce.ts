/**
 * How the state changes: one function from a state and an action to the next state.
 *
 * A decision action puts the decisions before it on the past and forgets the future; an action that
 * changes nothing leaves the state object as it is, so views see no change either.
 * Pure: no clock, no chance, no bytes. Not here: what the planner's news do (`news.ts`).
 */
import type { Bed, ItemSettings } from "../planner/protocol.ts";
import type { Action, DecisionAction } from "./actions.ts";
import { chosenNow } from "./marks.ts";
import { hear } from "./news.ts";
import { ALL, NO_RUN, type Decisions, type ItemFound, type Look, type ModelDecision, type Run, type State } from "./state.ts";

/** Steps back that are kept; far more than a day of planning makes. */
const LONGEST_PAST = 500;

export function reduce(state: State, action: Action): State {
  switch (action.kind) {
    case "undo":
      return step(state, state.past, state.future, "undo");
    case "redo":
      return step(state, state.future, state.past, "redo");
    case "restored":
      return {
        ...state,
        decisions: action.decisions,
        past: action.past,
        future: action.future,
        look: { ...state.look, scheme: action.scheme },
      };
    case "run-started": {
      // What was left out goes at once; the rest stays until the new run tells of it.
      const items = state.run.items.filter((item) => state.decisions.models.some((model) => model.key === item.key));
      const finished = items.length === 0 ? null : state.run.finished;
      return lookAt({ ...state, run: { ...NO_RUN, number: action.run, phase: "reading", items, finished } });
    }
    case "run-emptied":
      // Number 0 is no run's: what the planner still tells of the last one is not heard.
      return { ...state, run: NO_RUN, look: { ...state.look, shown: null, marked: null, chosen: null } };
    case "news": {
      const run = hear(state.run, action.news, action.run);
      if (run === state.run) return state;
      const chosen = chosenNow(state.run.items, run.items, state.look.chosen);
      // What is moved is moved through the plan that was drawn.
      const cutOf = (items: readonly ItemFound[]): unknown => items.find((one) => one.item === state.moving?.item)?.cut;
      const moving = cutOf(run.items) === cutOf(state.run.items) ? state.moving : null;
      return look(lookAt({ ...state, run, moving }), { chosen });
    }
    case "stopped":
      return state.run.phase === "paused" ? phase(state, "paused", "ending") : phase(state, "searching", "ending");
    case "leaf-opened":
      return { ...look(state, { leaf: action.leaf, over: "none", chalk: null, spot: null }), file: action.leaf === "costume" ? state.file : null, said: null };
    case "scheme-chosen":
      return look(state, { scheme: action.scheme });
    case "shown":
      return look(state, { shown: action.item, chosen: null, spot: null });
    case "pulled":
      return look(state, { pull: Math.min(1, Math.max(0, action.pull)) });
    case "marked":
      return look(state, { marked: action.piece });
    case "chosen":
      return { ...look(state, { chosen: action.id, ...(action.id === null ? {} : { chalk: null }) }), moving: null };
    case "chalk-taken":
      return look(state, { chalk: action.chalk });
    case "moving":
      return { ...state, moving: action.moving };
    case "moved":
      return state.moving === null ? state : { ...state, moving: { ...state.moving, ...action.to } };
    case "probed":
      return state.moving === null ? state : { ...state, moving: { ...state.moving, probed: action.probed } };
    case "laid-over":
      return look(state, { over: action.over });
    case "pictured":
      return { ...state, pictures: { ...state.pictures, [action.item]: action.image } };
    case "demo-coming":
      return { ...state, is_demo_coming: action.is_coming };
    case "drawing-fell":
      return { ...state, drawing_falls: state.drawing_falls + 1 };
    case "notices-opened":
      return { ...state, notices: action.text, look: { ...state.look, over: "notices" } };
    case "file-looked":
      return look({ ...state, file: action.file }, { spot: null });
    case "file-drawn":
      return state.file === null || state.file.is_drawn === action.is_drawn ? state : look({ ...state, file: { ...state.file, is_drawn: action.is_drawn } }, { spot: null });
    case "flown":
      return look(state, { spot: action.spot });
    case "kept":
      return { ...state, kept: action.kept };
    case "said":
      return { ...state, said: { text: action.text, warns: action.warns } };
    case "said-read":
      return state.said === null ? state : { ...state, said: null };
    case "taking":
      return { ...state, taking: action.what };
    default:
      return decide(state, action);
  }
}

function look(state: State, change: Partial<Look>): State {
  const names = Object.keys(change) as (keyof Look)[];
  if (names.every((name) => state.look[name] === change[name])) return state;
  return { ...state, look: { ...state.look, ...change } };
}

/** What is looked at must still be there. */
function lookAt(state: State): State {
  const { shown } = state.look;
  const is_there = shown === null || shown === ALL || state.run.items.some((one) => one.item === shown);
  return is_there ? state : look(state, { shown: null, marked: null, chosen: null });
}

function phase(state: State, from: Run["phase"], to: Run["phase"]): State {
  return state.run.phase === from ? { ...state, run: { ...state.run, phase: to } } : state;
}

function step(state: State, from: readonly Decisions[], onto: readonly Decisions[], way: "undo" | "redo"): State {
  const decisions = from.at(-1);
  if (decisions === undefined) return state;
  const rest = from.slice(0, -1);
  const grown = [...onto, state.decisions];
  const [past, future] = way === "undo" ? [rest, grown] : [grown, rest];
  return { ...state, decisions, past, future, said: null, moving: null };
}

function decide(state: State, action: DecisionAction): State {
  const decisions = decided(state.decisions, action);
  if (decisions === state.decisions) return state;
  const past = [...state.past, state.decisions].slice(-LONGEST_PAST);
  return { ...state, decisions, past, future: [], said: null, moving: null };
}

function decided(before: Decisions, action: DecisionAction): Decisions {
  switch (action.kind) {
    case "models-added":
      if (action.models.length === 0) return before;
      // The maker's own models take the place of the demo, with its name.
      if (before.is_demo) return { ...before, is_demo: false, costume: "", models: action.models };
      return { ...before, models: [...before.models, ...action.models] };
    case "model-removed":
      return { ...before, models: before.models.filter((model) => model.key !== action.key) };
    case "settings-changed":
      return { ...before, models: before.models.map((model) => (model.key === action.key ? set(model, action.settings) : model)) };
    case "costume-named":
      return action.name === before.costume ? before : { ...before, costume: action.name };
    case "bed-added":
      return { ...before, beds: [...before.beds, action.bed] };
    case "bed-changed":
      return { ...before, beds: before.beds.map((bed) => (bed.id === action.id ? action.bed : bed)) };
    case "bed-removed": {
      // A plan needs a bed: the last one stays.
      const beds: readonly Bed[] = before.beds.filter((bed) => bed.id !== action.id);
      return beds.length === 0 || beds.length === before.beds.length ? before : { ...before, beds };
    }
    case "beds-chosen":
      return action.beds.length === 0 ? before : { ...before, beds: action.beds };
    case "preferred":
      return action.prefer === before.prefer ? before : { ...before, prefer: action.prefer };
    case "seed-changed":
      return action.seed === before.seed ? before : { ...before, seed: action.seed };
    case "seconds-changed":
      return action.seconds === before.seconds ? before : { ...before, seconds: action.seconds };
    case "effort-freed":
      return before.effort === null ? before : { ...before, effort: null };
    case "project-opened":
      return action.decisions;
  }
}

/** Sizes exclude each other: a scale, a height or a volume says how large, never two of them. */
function set(model: ModelDecision, change: Partial<ItemSettings>): ModelDecision {
  const settings: ItemSettings = { ...model.settings };
  if ("scale" in change || "height_mm" in change || "volume_cm3" in change) {
    delete settings.scale;
    delete settings.height_mm;
    delete settings.volume_cm3;
  }
  Object.assign(settings, change);
  for (const name of Object.keys(settings) as (keyof ItemSettings)[]) {
    if (settings[name] === undefined) delete settings[name];
  }
  return { ...model, settings };
}
