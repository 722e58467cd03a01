/**
 * The drawing's worker: hands messages on to the stage and back. Knows nothing else.
 */
import type { ToStage } from "../messages.ts";
import { createStage } from "../stage.ts";

const stage = createStage((message) => postMessage(message));
onmessage = (event: MessageEvent<ToStage>) => stage(event.data);
