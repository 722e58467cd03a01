/** Starts the page: the sheet at once, the planner as soon as it is compiled. */
import "./style/page.css";
import { part, partText } from "./parts.ts";
import { openPlanner } from "./planner/spawn.ts";
import { startPage } from "./views/page.ts";

const root = document.getElementById("page");
if (root !== null) {
  // The planner is unpacked once the sheet is on the screen.
  const planner = new Promise<void>((drawn) => setTimeout(drawn, 0)).then(() => openPlanner());
  void startPage(root, { planner, demo: () => part("demo.seam.json"), notices: () => partText("notices.txt") });
}

// The folder works without a network after one visit; the single file needs nothing for it.
const is_folder = document.getElementById("part-planner.wasm") === null && location.protocol.startsWith("http");
if (is_folder && "serviceWorker" in navigator) void navigator.serviceWorker.register("service-worker.js");
