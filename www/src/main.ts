/** Starts the page: the sheet at once, the planner once that is on the screen. */
import "./style/page.css";
import { firstPaint } from "./first-paint.ts";
import { part, partText } from "./parts.ts";
import { openPlanner } from "./planner/spawn.ts";
import { startPage } from "./views/page.ts";

const root = document.getElementById("page");
if (root !== null) {
  const planner = firstPaint().then(() => openPlanner());
  void startPage(root, { planner, demo: () => part("demo.seam.json"), notices: () => partText("notices.txt") });
}

// The folder works without a network after one visit; the single file needs nothing for it.
const is_folder = document.getElementById("part-planner.wasm") === null && location.protocol.startsWith("http");
if (is_folder && "serviceWorker" in navigator) void navigator.serviceWorker.register("service-worker.js");
