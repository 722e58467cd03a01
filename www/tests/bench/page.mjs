// Seconds of the page in a real browser: first content, first plans, files of one, two and three million triangles.
//
// Opens target/seamwright.html from the disk in a fresh browser each time, median of RUNS. CPU is the
// time of the whole browser, all its processes, beside wall time. Prints lines for a person, or as JSON
// with `--json`; asserts nothing. Needs Linux (CPU time is read from /proc) and the page built.
import { existsSync, readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { ADDRESS, chooser, once, TARGET } from "./browser.mjs";

const RUNS = Number(process.argv[2] ?? 5);
const AS_JSON = process.argv.includes("--json");
const TICKS_A_SECOND = 100; // sysconf(_SC_CLK_TCK) on Linux, from memory

/** CPU seconds of all processes below this one: the browser's. */
function cpuSeconds() {
  const all = new Map();
  for (const pid of readdirSync("/proc").filter((name) => /^\d+$/.test(name))) {
    try {
      const fields = readFileSync(`/proc/${pid}/stat`, "utf8").replace(/^.*\) /, "").split(" ");
      // After the name: state, parent ... user and system time, then those of ended children.
      all.set(Number(pid), { parent: Number(fields[1]), ticks: fields.slice(11, 15).reduce((sum, n) => sum + Number(n), 0) });
    } catch { /* ended meanwhile */ }
  }
  const isBelow = (pid) => all.has(pid) && (all.get(pid).parent === process.pid || isBelow(all.get(pid).parent));
  return [...all].filter(([pid]) => isBelow(pid)).reduce((sum, [, one]) => sum + one.ticks, 0) / TICKS_A_SECOND;
}

/** A ball with waves on it: `2 m (n - 1)` triangles of 50 bytes. */
function ballFile(n, m) {
  const file = join(TARGET, `ball-${n}-${m}.stl`);
  if (existsSync(file)) return file;
  const at = (i, k) => {
    const [a, b] = [(Math.PI * i) / n, (2 * Math.PI * (k % m)) / m];
    const r = i === 0 || i === n ? 150 : 150 + 6 * Math.sin(7 * a) * Math.cos(9 * b);
    return [r * Math.sin(a) * Math.cos(b), r * Math.sin(a) * Math.sin(b), r * Math.cos(a)];
  };
  const pole = (i) => [0, 0, i === 0 ? 150 : -150];
  const corner = (i, k) => (i === 0 || i === n ? pole(i) : at(i, k));
  const bytes = Buffer.alloc(84 + 50 * 2 * m * (n - 1));
  bytes.writeUInt32LE(2 * m * (n - 1), 80);
  let t = 0;
  const write = (corners) => {
    corners.flat().forEach((value, x) => bytes.writeFloatLE(value, 84 + 50 * t + 12 + 4 * x));
    t++;
  };
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < m; k++) {
      const [a, b, c, d] = [corner(i, k), corner(i + 1, k), corner(i + 1, k + 1), corner(i, k + 1)];
      if (i < n - 1) write([a, b, c]);
      if (i > 0) write([a, c, d]);
    }
  }
  writeFileSync(file, bytes);
  return file;
}

/** Notes when each worker first said what: "keeper item-plan", "drawing drawn". */
const NOTES = () => {
  const Plain = window.Worker;
  window.notes = {};
  window.tasks = [];
  new PerformanceObserver((list) => list.getEntries().forEach((task) => window.tasks.push(task.duration))).observe({ type: "longtask" });
  window.Worker = class extends Plain {
    constructor(address, options) {
      super(address, options);
      this.addEventListener("message", ({ data }) => {
        if (data?.kind === "drawn" && data.n_triangles === 0) return;
        const name = data?.kind === "news" ? data.news.kind : data?.kind;
        // The demo's items have some 50,000 triangles, a large file's stand-in three times that.
        if (data?.n_triangles > 100_000) window.notes["drawing large"] ??= performance.now();
        if (name !== undefined) window.notes[`${options?.name ?? "drawing"} ${name}`] ??= performance.now();
      });
    }
  };
};

const noted = (page, name) => page.waitForFunction((one) => window.notes[one], name, { timeout: 300_000, polling: 20 });

/** A row: what was measured, what may be asked of it, and CPU seconds where they say something. */
const row = (name, unit, asked, value, cpu_s = null) => ({ name, unit, asked, value, cpu_s });

async function demo(page) {
  const before = cpuSeconds();
  await page.goto(ADDRESS);
  await page.locator("h1").waitFor();
  const paint = () => performance.getEntriesByType("paint").find((one) => one.name === "first-contentful-paint")?.startTime ?? 0;
  await page.waitForFunction(() => performance.getEntriesByName("first-contentful-paint").length > 0, null, { polling: 20 });
  const rows = [row("opened from disk: first content", "s", 1, (await page.evaluate(paint)) / 1000, cpuSeconds() - before)];
  const notes = [
    ["the drawing is set up", "drawing ready", null],
    ["first plan of an item of the demo", "keeper item-plan", 3],
    ["first item of the demo drawn", "drawing drawn", null],
    ["first plan of the whole demo", "keeper ready", 3],
  ];
  for (const [name, note, asked] of notes) {
    await noted(page, note);
    rows.push(row(name, "s", asked, (await page.evaluate((one) => window.notes[one], note)) / 1000, cpuSeconds() - before));
  }
  return rows;
}

/** Gives a file to the page; returns the page's clock and the CPU seconds then. */
async function choose(page, file) {
  await page.goto(`${ADDRESS}?searchers=1&effort=1`);
  // The demo's own news would be taken for the file's.
  await noted(page, "keeper finished");
  const chosen = await chooser(page);
  const start = await page.evaluate(() => {
    window.notes = {};
    window.tasks = [];
    return performance.now();
  });
  const before = cpuSeconds();
  await chosen.setFiles(file);
  return { start, before };
}

/** The page's own thread while an item is read, planned and drawn. */
async function responsive(page) {
  const { start } = await choose(page, ballFile(220, 456));
  await noted(page, "keeper finished");
  const planned = ((await page.evaluate(() => window.notes["keeper item-plan"])) - start) / 1000;
  // Tasks shorter than 50 ms are not told of: then this is 0.
  return [row("199,728 triangles: first plan", "s", 2, planned), row("199,728 triangles: longest task of the page's own thread", "s", 0.1, (await page.evaluate(() => Math.max(0, ...window.tasks))) / 1000)];
}

/** A large file until the plan is finished after one round: seconds, and memory of all workers. */
async function large(page, [n, m], asked) {
  const count = (2 * m * (n - 1)).toLocaleString("en");
  const { start, before } = await choose(page, ballFile(n, m));
  const rows = [];
  const notes = [
    ["stand-in drawn", "drawing large", asked.drawn_s],
    ["first plan", "keeper item-plan", asked.plan_s],
    ["finished after one round", "keeper finished", null],
  ];
  for (const [name, note, seconds] of notes) {
    await noted(page, note);
    rows.push(row(`${count} triangles: ${name}`, "s", seconds, ((await page.evaluate((one) => window.notes[one], note)) - start) / 1000, cpuSeconds() - before));
    const memory = await Promise.all(page.workers().map((one) => one.evaluate(() => (self.wasm?.memory.buffer.byteLength ?? 0) / 2 ** 20).catch(() => 0)));
    rows.push(row(`${count} triangles: wasm memory of all workers, ${name}`, "MiB", asked.memory_MiB, memory.reduce((sum, n) => sum + n, 0)));
  }
  return rows;
}

const MILLION = { drawn_s: 4, plan_s: 6, memory_MiB: 700 };
const TWO_MILLION = { drawn_s: null, plan_s: 8, memory_MiB: 1229 };
// What a browser takes at most (`crates/plan/src/limits.rs`).
const THREE_MILLION = { drawn_s: null, plan_s: null, memory_MiB: 2048 };
const million = (page) => large(page, [500, 1000], MILLION);
const twoMillion = (page) => large(page, [700, 1440], TWO_MILLION);
const threeMillion = (page) => large(page, [857, 1750], THREE_MILLION);

const median = (values) => values.sort((a, b) => a - b)[Math.floor(values.length / 2)];
const rows = [row("single file", "KiB", 3072, statSync(join(TARGET, "seamwright.html")).size / 1024)];
for (const measure of [demo, responsive, million, twoMillion, threeMillion]) {
  const all = [];
  for (let n = 0; n < RUNS; n++) all.push(await once(NOTES, measure));
  const of = (k, what) => median(all.map((one) => one[k][what]));
  rows.push(...all[0].map((one, k) => ({ ...one, value: of(k, "value"), cpu_s: one.cpu_s === null ? null : of(k, "cpu_s") })));
}
if (AS_JSON) console.log(JSON.stringify(rows));
else {
  console.log(`the page, median of ${RUNS}`.padEnd(76) + "asked".padStart(12) + "is".padStart(12) + "CPU s".padStart(9));
  for (const { name, unit, asked, value, cpu_s } of rows) {
    const figure = (n) => (n === null ? "" : `${unit === "s" ? n.toFixed(2) : Math.ceil(n)} ${unit}`);
    console.log(name.padEnd(76) + figure(asked).padStart(12) + figure(value).padStart(12) + (cpu_s?.toFixed(2) ?? "").padStart(9));
  }
}
