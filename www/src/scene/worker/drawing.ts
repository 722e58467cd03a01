/**
 * The drawing as a script of its own, the part `drawing.js`: all that knows the graphics library.
 *
 * How: in a worker it hands messages on to the stage and back. On the page's own thread it only
 * hands out the stage, by a name that `host.ts` takes.
 */
import type { FromStage, HandedOut, ToStage } from "../messages.ts";
import { createStage } from "../stage.ts";

if ("document" in globalThis) (globalThis as HandedOut).seamwrightStage = createStage;
else {
  const stage = createStage((message: FromStage) => postMessage(message));
  onmessage = (event: MessageEvent<ToStage>) => stage(event.data);
}
