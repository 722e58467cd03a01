/**
 * The page's side of the drawing: starts it in a worker where the browser can draw there, on this
 * thread otherwise, and hands over hands: mouse, touch, keys, wheel.
 * A worker that died says so as `failed`; who holds the drawing then begins another on a new canvas.
 * The drawing's script is a part beside the page's own (`parts.ts`), the same for both ways.
 *
 * Not here: what is drawn (`stage.ts`), balloons (`balloons.ts`).
 */
import { firstPaint } from "../first-paint.ts";
import { partText } from "../parts.ts";
import { reasonOf } from "../reason.ts";
import type { Frame, FromStage, HandedOut, Inks, ItemDrawn, ToStage } from "./messages.ts";

export interface Drawing {
  size(width: number, height: number, ratio: number, frame: Frame): void;
  inks(inks: Inks): void;
  /** All items there are, those shown first to last. Told again only where they changed. */
  items(shown: readonly ItemDrawn[], hidden: readonly ItemDrawn[]): void;
  pull(pull: number): void;
  mark(piece: string | null): void;
  /** Draws a seam heavily. */
  choose(seam: string | null): void;
  /** Lays a line round an item, or takes it away. */
  line(item: string, segments_mm: Float32Array<ArrayBuffer> | null): void;
  whole(): void;
  /** Flies to a place of an item and rings it, or takes the ring away. */
  fly(item: string, at_mm: readonly [number, number, number] | null): void;
  /** Asks for a small picture of what is not drawn. */
  picture(item: ItemDrawn): void;
  /** Chalk on an item: place and radius after place and radius. */
  chalk(item: string, dabs: Float32Array<ArrayBuffer>): void;
  /** Whether a hand on the drawing chalks it. */
  chalking(is_on: boolean): void;
  close(): void;
}

export interface Hears {
  hear(message: FromStage): void;
  /** Drawing goes on, but on the page's own thread. */
  onMainThread(): void;
}

export function startDrawing(canvas: HTMLCanvasElement, hears: Hears): Drawing {
  const told = new Map<string, ItemDrawn>();
  // `data-drawn` says whether all that was said is on the canvas: still, moving or waiting.
  let n_said = 0;
  const heard = (message: FromStage): void => {
    if (message.kind === "drawn") canvas.dataset["drawn"] = message.n_heard < n_said ? "waiting" : message.is_still ? "still" : "moving";
    hears.hear(message);
  };
  const { post, close } = queued(canDrawInWorker(canvas) ? inWorker(canvas, heard) : onThisThread(canvas, heard, hears), heard);
  const say = (message: ToStage): void => {
    // Pointing changes nothing that is drawn, so it is not counted; the stage does the same.
    if (message.kind !== "pointed" && message.kind !== "pressed" && message.kind !== "stroked") {
      n_said += 1;
      canvas.dataset["drawn"] = "waiting";
    }
    post(message);
  };
  // Counted like any other message: both ways of starting have sent it.
  n_said += 1;

  let is_chalking = false;
  const stopHands = hands(canvas, say, () => is_chalking);
  return {
    size: (width, height, ratio, frame) => say({ kind: "sized", width, height, ratio, frame }),
    inks: (inks) => say({ kind: "inks", inks }),
    items(shown, hidden) {
      const all = [...shown, ...hidden];
      for (const item of all) {
        if (told.get(item.id) === item) continue;
        told.set(item.id, item);
        say({ kind: "item", item });
      }
      for (const id of [...told.keys()]) if (!all.some((item) => item.id === id)) told.delete(id);
      say({ kind: "shown", ids: shown.map((item) => item.id), keep: all.map((item) => item.id) });
    },
    pull: (pull) => say({ kind: "pulled", pull }),
    mark: (piece) => say({ kind: "marked", piece }),
    choose: (seam) => say({ kind: "chosen", seam }),
    line: (item, segments_mm) => say({ kind: "lined", item, segments_mm }),
    whole: () => say({ kind: "whole" }),
    fly: (item, at_mm) => say({ kind: "flown", item, at_mm }),
    picture: (item) => say({ kind: "picture-of", item }),
    chalk: (item, dabs) => say({ kind: "chalked", item, dabs }),
    chalking(is_on) {
      is_chalking = is_on;
      canvas.dataset["hand"] = is_on ? "chalk" : "free";
    },
    close() {
      stopHands();
      close();
    },
  };
}

interface Way {
  post: (message: ToStage) => void;
  close: () => void;
}

const canDrawInWorker = (canvas: HTMLCanvasElement): boolean => typeof OffscreenCanvas === "function" && typeof canvas.transferControlToOffscreen === "function";

/** A way that takes messages before it is open, and says them then. */
function queued(opening: Promise<Way>, heard: (message: FromStage) => void): Way {
  let way: Way | null = null;
  let is_closed = false;
  const waiting: ToStage[] = [];
  opening.then(
    (open) => {
      if (is_closed) return open.close();
      way = open;
      waiting.forEach(open.post);
    },
    (problem: unknown) => {
      if (!is_closed) heard({ kind: "failed", text: reasonOf(problem) });
    },
  );
  return {
    post: (message) => (way === null ? void waiting.push(message) : way.post(message)),
    close() {
      is_closed = true;
      way?.close();
    },
  };
}

/** Address of the drawing's script; a drawing begun anew starts from the same. */
let address: Promise<string> | null = null;

async function inWorker(canvas: HTMLCanvasElement, heard: (message: FromStage) => void): Promise<Way> {
  const offscreen = canvas.transferControlToOffscreen();
  address ??= partText("drawing.js").then((text) => URL.createObjectURL(new Blob([text], { type: "text/javascript" })));
  const worker = new Worker(await address, { name: "drawing" });
  worker.onmessage = (event: MessageEvent<FromStage>) => heard(event.data);
  worker.onerror = (event) => heard({ kind: "failed", text: event.message });
  // Setting up the drawing keeps slow graphics busy for seconds; the sheet itself is shown first.
  await firstPaint();
  worker.postMessage({ kind: "start", canvas: offscreen } satisfies ToStage, [offscreen]);
  return { post: (message) => worker.postMessage(message), close: () => worker.terminate() };
}

/** The policy lets this one inline script in, by its hash (`build/outputs.ts`). */
async function onThisThread(canvas: HTMLCanvasElement, heard: (message: FromStage) => void, hears: Hears): Promise<Way> {
  const handed_out = globalThis as HandedOut;
  const script = document.createElement("script");
  script.textContent = await partText("drawing.js");
  await firstPaint();
  if (handed_out.seamwrightStage === undefined) document.head.append(script);
  if (handed_out.seamwrightStage === undefined) throw new Error("the browser does not run the drawing's script");
  hears.onMainThread();
  const stage = handed_out.seamwrightStage(heard);
  stage({ kind: "start", canvas });
  return { post: stage, close: () => undefined };
}

/** Pixels an arrow key turns or moves; a little less than a short drag. */
const KEY_PX = 24;
/** A finger that is lifted nearer than this to where it was laid has tapped. */
const TAP_PX = 8;

function hands(canvas: HTMLCanvasElement, say: (message: ToStage) => void, isChalking: () => boolean): () => void {
  const touching = new Map<number, { x: number; y: number }>();
  /** Where a finger was laid that may still tap; `null` once it has moved, or another came. */
  let tapping: { x: number; y: number } | null = null;
  /** The pointer that lays chalk; a second finger ends its stroke. */
  let stroking: number | null = null;
  const stop = new AbortController();
  const on = <K extends keyof HTMLElementEventMap>(name: K, hear: (event: HTMLElementEventMap[K]) => void, passive = true): void =>
    canvas.addEventListener(name, hear, { signal: stop.signal, passive });
  const place = (event: { clientX: number; clientY: number }): [number, number] => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  on("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    tapping = touching.size === 0 ? { x: event.clientX, y: event.clientY } : null;
    touching.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (stroking !== null) {
      stroking = null;
      say({ kind: "stroked", at: place(event), is_end: true });
    } else if (isChalking() && touching.size === 1 && event.button === 0 && !event.shiftKey) {
      stroking = event.pointerId;
      tapping = null;
      say({ kind: "stroked", at: place(event), is_end: false });
    }
  });
  on("pointermove", (event) => {
    if (event.pointerId === stroking) return say({ kind: "stroked", at: place(event), is_end: false });
    const before = touching.get(event.pointerId);
    if (before === undefined) {
      say({ kind: "pointed", at: place(event) });
      return;
    }
    const now = { x: event.clientX, y: event.clientY };
    if (tapping !== null && Math.hypot(now.x - tapping.x, now.y - tapping.y) > TAP_PX) tapping = null;
    const [across_px, down_px] = [now.x - before.x, now.y - before.y];
    const other = [...touching.entries()].find(([id]) => id !== event.pointerId)?.[1];
    touching.set(event.pointerId, now);
    if (other !== undefined) {
      // Two fingers: apart and together zooms, both the same way moves.
      const spread = (p: { x: number; y: number }): number => Math.hypot(p.x - other.x, p.y - other.y);
      const middle = place({ clientX: (now.x + other.x) / 2, clientY: (now.y + other.y) / 2 });
      say({ kind: "moved", across_px: across_px / 2, down_px: down_px / 2 });
      say({ kind: "zoomed", factor: spread(now) / Math.max(1, spread(before)), at: middle });
    } else if ((event.shiftKey && !isChalking()) || (event.buttons & 6) !== 0) say({ kind: "moved", across_px, down_px });
    else say({ kind: "turned", across_px, down_px });
  });
  const lift = (event: PointerEvent): void => void touching.delete(event.pointerId);
  on("pointerup", (event) => {
    lift(event);
    if (event.pointerId === stroking) {
      stroking = null;
      return say({ kind: "stroked", at: place(event), is_end: true });
    }
    // A mouse that turned the drawing points elsewhere now; a finger points only by tapping, and what
    // it tapped stays marked when it is gone.
    if (isMouse(event) || tapping !== null) say({ kind: "pointed", at: place(event) });
    if (tapping !== null && event.button === 0) say({ kind: "pressed", at: place(event) });
    tapping = null;
  });
  on("pointercancel", (event) => {
    lift(event);
    if (event.pointerId === stroking) {
      stroking = null;
      say({ kind: "stroked", at: place(event), is_end: true });
    }
  });
  on("pointerleave", (event) => {
    if (isMouse(event)) say({ kind: "pointed", at: null });
  });
  on("contextmenu", (event) => event.preventDefault(), false);
  on("dblclick", () => say({ kind: "whole" }));
  on(
    "wheel",
    (event) => {
      event.preventDefault();
      const by = event.deltaY * (event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1);
      say({ kind: "zoomed", factor: Math.exp(-0.0014 * by), at: place(event) });
    },
    false,
  );
  on(
    "keydown",
    (event) => {
      const message: ToStage | null = isChalking() && event.key === " " ? { kind: "stroked", at: null, is_end: true } : ofKey(event.key, event.shiftKey);
      if (message === null || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      say(message);
    },
    false,
  );
  return () => stop.abort();
}

const isMouse = (event: PointerEvent): boolean => event.pointerType === "mouse";

/** What a key does to the drawing. */
function ofKey(key: string, with_shift: boolean): ToStage | null {
  const ways: Record<string, readonly [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const way = ways[key];
  if (way !== undefined) return { kind: with_shift ? "moved" : "turned", across_px: way[0] * KEY_PX, down_px: way[1] * KEY_PX };
  if (key === "+" || key === "=") return { kind: "zoomed", factor: 1.2, at: null };
  if (key === "-" || key === "_") return { kind: "zoomed", factor: 1 / 1.2, at: null };
  if (key === "0" || key === "Home") return { kind: "whole" };
  return null;
}
