/**
 * Lets the drawing follow the state, and the state what hands do on the drawing: what is under the pointer,
 * pressed, chalked over, or cut where a seam is moved.
 *
 * Not here: what is drawn (`scene/`), what the page does beside it (`page.ts`).
 */
import type { ChalkDab, Planner, Ray, Vec3 } from "../planner/protocol.ts";
import { roomFor } from "../scene/balloons.ts";
import { startDrawing } from "../scene/host.ts";
import type { Anchor, Frame } from "../scene/messages.ts";
import { pointing } from "../scene/pointing.ts";
import { chalked, chalkOn, drawnChalk, stroke, stroked } from "../state/chalk.ts";
import { isOriginal, only, seamAt } from "../state/marks.ts";
import { type Moving, planeNow } from "../state/moving.ts";
import { fileItem, fileOf, itemsShown, type State } from "../state/state.ts";
import type { Store } from "../state/store.ts";
import { words } from "../words/words.ts";
import { drawBalloons } from "./balloons.ts";
import { drawnItems, drawnOther, inksOfPage } from "./drawn.ts";
import { type Ends, knobs } from "./knobs.ts";

/** A drawing that falls more often than this falls for a reason that another start will not cure. */
const MOST_FALLS = 3;

export function ownDrawing(store: Store, canvas: HTMLCanvasElement, overlay: () => SVGSVGElement | null, planner: Promise<Planner>): ReturnType<typeof startDrawing> {
  let anchors: readonly Anchor[] = [];
  let box: Frame | null = null;
  let spot: readonly [number, number] | null = null;
  let ends: Ends | null = null;
  let frame: Frame = { left: 0, top: 0, right: 0, bottom: 0 };
  const mark = (piece: string | null): void => store.send({ kind: "marked", piece });
  const balloons = (): void => {
    const there = overlay();
    const { look, moving } = store.get();
    const over = moving === null || ends === null ? [] : knobs(moving, ends, (to) => store.send({ kind: "moved", to }));
    if (there !== null) drawBalloons(there, { anchors, box, frame, is_narrow: isNarrow(canvas), marked: look.marked, mark, spot, over });
  };
  let under: string | null = null;
  const point = pointing(
    async (ray: Ray) => (await planner).find(ray, drawnItems(store.get()).shown),
    (met) => {
      const now = met?.piece ?? null;
      // A pointer that rests or leaves takes back only its own mark, not that of a key or a balloon.
      if (now !== under && (now !== null || store.get().look.marked === under)) mark(now);
      under = now;
    },
  );
  /** What was pressed on the drawing gets its card: a seam where one is near, else the piece. */
  const choose = async (ray: Ray, near_mm: number): Promise<void> => {
    if (store.get().look.leaf !== "seams") return;
    const met = await (await planner).find(ray, drawnItems(store.get()).shown).catch(() => null);
    const item = itemsShown(store.get()).find((one) => one.item === met?.item);
    const id = met === null || item === undefined ? null : (seamAt(item, met.at_mm, near_mm) ?? met.piece ?? null);
    store.send({ kind: "chosen", id: id === store.get().look.chosen ? null : id });
  };
  const tellChosen = (): void => {
    const { chosen, marked, chalk } = store.get().look;
    drawing.choose(chosen);
    // Hatching would hide the chalk.
    drawing.mark(chalk !== null ? null : (marked ?? chosen));
  };
  // What a plane makes where it is now: one question at a time, then the newest.
  const probe = pointing(
    async (moving: Moving) => (await planner).probe(moving.key, { before: [...moving.before], at_mm: moving.at_mm, plane: planeNow(moving), ...only(moving) }),
    (probed) => store.send({ kind: "probed", probed }),
  );
  /** The stroke that is being laid, and what it is laid on. */
  let laying: { item: string; places: readonly Vec3[] } | null = null;
  let laid: Promise<void> = Promise.resolve();
  const layChalk = (ray: Ray, is_end: boolean): void => {
    // One place after the other, in the order they were drawn over.
    laid = laid.then(async () => {
      const state = store.get();
      const { chalk } = state.look;
      const met = await (await planner).find(ray, drawnItems(state).shown).catch(() => null);
      const item = itemsShown(state).find((one) => one.item === (laying?.item ?? met?.item));
      if (chalk === null || item === undefined || !isOriginal(state, item)) return;
      if (met?.item === item.item) laying = { item: item.item, places: stroke(laying?.places ?? [], met.at_mm, chalk) };
      if (laying === null) return;
      const now = stroked(chalkOn(state, item), laying.places, chalk);
      drawing.chalk(item.item, drawnChalk(now));
      if (!is_end) return;
      laying = null;
      const change = chalked(state, item, now);
      if (change !== null) store.send({ kind: "settings-changed", ...change });
    });
  };
  let was_ready = false;
  const drawing = startDrawing(canvas, {
    hear(message) {
      if (message.kind === "anchors") {
        ({ anchors, box, spot } = message);
        balloons();
      } else if (message.kind === "ends") {
        ends = message.ends === null ? null : { ends: message.ends, axes: message.axes };
        balloons();
      } else if (message.kind === "picture") store.send({ kind: "pictured", item: message.item, image: message.image });
      else if (message.kind === "aimed") point(message.ray);
      else if (message.kind === "stroked") layChalk(message.ray, message.is_end);
      else if (message.kind === "pressed") void choose(message.ray, message.near_mm);
      else if (message.kind === "ready") was_ready = true;
      else if (message.kind === "failed") {
        const is_begun_anew = was_ready && store.get().drawing_falls < MOST_FALLS;
        store.send({ kind: "said", text: is_begun_anew ? words.drawing.fell : words.drawing.failed, warns: !is_begun_anew });
        if (is_begun_anew) store.send({ kind: "drawing-fell" });
      }
    },
    onMainThread: () => store.send({ kind: "said", text: words.drawing.main_thread, warns: false }),
  });

  let last = "";
  const measure = (): void => {
    const around = canvas.getBoundingClientRect();
    const free = document.querySelector(".free")?.getBoundingClientRect();
    if (free === undefined || around.width < 2 || around.height < 2) return;
    frame = { left: free.left - around.left, top: free.top - around.top, right: free.right - around.left, bottom: free.bottom - around.top };
    const n_balloons = itemsShown(store.get()).reduce((sum, one) => sum + (one.cut?.pieces.length ?? 0), 0);
    const { aside, above } = roomFor(n_balloons, isNarrow(canvas));
    const inside = { left: frame.left + aside, top: frame.top + above, right: frame.right - aside, bottom: frame.bottom - above };
    const told = JSON.stringify([around.width, around.height, devicePixelRatio, inside]);
    if (told === last) return;
    last = told;
    drawing.size(Math.round(around.width), Math.round(around.height), devicePixelRatio, inside);
  };
  const sizes = new ResizeObserver(measure);
  queueMicrotask(() => {
    sizes.observe(canvas);
    const free = document.querySelector(".free");
    if (free != null) sizes.observe(free);
  });
  const ink = (): void => drawing.inks(inksOfPage());
  const pictured = new WeakSet<object>();
  const told_chalk = new Map<string, readonly ChalkDab[]>();
  const tellChalk = (state: State): void => {
    for (const item of state.run.items) {
      const chalk = chalkOn(state, item);
      if (told_chalk.get(item.item) === chalk || (chalk.length === 0 && (told_chalk.get(item.item)?.length ?? 0) === 0)) continue;
      told_chalk.set(item.item, chalk);
      drawing.chalk(item.item, drawnChalk(chalk));
    }
  };
  const tellItems = (state: State): void => {
    const { shown, hidden } = drawnItems(state);
    drawing.items(shown, hidden);
    tellChalk(state);
    measure();
  };
  const twoFramesLater = (then: () => void): void => void requestAnimationFrame(() => requestAnimationFrame(then));
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const inkSoon = (): void => twoFramesLater(ink);
  dark.addEventListener("change", inkSoon);
  const stops = [
    // The scheme is on the document one frame after it is in the state, and so is the leaf.
    store.watch((state) => state.look.scheme, inkSoon),
    store.watch((state) => state.look.leaf, (_, state) => {
      tellItems(state);
      twoFramesLater(measure);
    }),
    store.watch((state) => state.run.items, (_, state) => tellItems(state)),
    store.watch((state) => state.look.shown, (_, state) => tellItems(state)),
    store.watch((state) => fileOf(state)?.is_drawn ?? false, (_, state) => tellItems(state)),
    store.watch((state) => state.look.spot, (to, state) => {
      const file = fileOf(state);
      const on_file = file?.is_drawn === true && state.run.items.some((one) => one.item === to?.item && one.key === file.key);
      drawing.fly(on_file && file !== null ? fileItem(file) : (to?.item ?? ""), to?.at_mm ?? null);
    }),
    store.watch((state) => state.look.pull, (pull) => drawing.pull(pull)),
    store.watch((state) => state.look.marked, () => {
      tellChosen();
      balloons();
    }),
    store.watch((state) => placeOf(state.moving), (_, { moving }) => {
      if (moving !== null) probe(moving);
      balloons();
    }),
    store.watch((state) => state.moving?.probed, (probed, { moving }) => drawing.line(moving?.item ?? "", probed?.segments_mm ?? null)),
    store.watch((state) => state.run.others, (others) => {
      for (const other of others.filter((one) => !pictured.has(one))) {
        pictured.add(other);
        drawing.picture(drawnOther(other));
      }
    }),
    store.watch((state) => state.decisions.models, (_, state) => tellChalk(state)),
    store.watch((state) => state.look.chalk !== null, (is_on) => {
      drawing.chalking(is_on);
      tellChosen();
      twoFramesLater(measure);
    }),
    store.watch((state) => state.look.chosen, () => {
      tellChosen();
      twoFramesLater(measure);
    }),
  ];
  ink();
  return {
    ...drawing,
    close() {
      stops.forEach((stop) => stop());
      dark.removeEventListener("change", inkSoon);
      sizes.disconnect();
      drawing.close();
    },
  };
}

/** Changes when the plane does. */
const placeOf = (moving: Moving | null): string => (moving === null ? "" : JSON.stringify([moving.item, moving.seam, moving.at_mm, planeNow(moving)]));

const isNarrow = (canvas: HTMLCanvasElement): boolean => canvas.clientWidth < 700;
