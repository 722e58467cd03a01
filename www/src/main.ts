/** Starts the page. */
import type { Planner } from "./planner/protocol.ts";

export type { Planner };
document.querySelector("main")?.append("Seamwright");
