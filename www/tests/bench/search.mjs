// Seconds of the page's search in a real browser: projects with a fixed effort, two searchers.
//
// node search.mjs PROJECT...; prints a list as JSON, one entry a project: seconds from choosing the file to the
// finished, audited plan, pieces of the best plan with seconds as it got better, and planes looked at. Asserts
// nothing. Needs the page built.
import { join } from "node:path";
import { chromium } from "playwright-core";

const address = `file://${join(import.meta.dirname, "../../../target/seamwright.html")}?searchers=2`;

/** Notes when the keeper said what. */
const NOTES = () => {
  const Plain = window.Worker;
  window.said = [];
  window.Worker = class extends Plain {
    constructor(address, options) {
      super(address, options);
      this.addEventListener("message", ({ data }) => {
        const own = data?.kind === "news" ? data.news : data;
        if (options?.name === "keeper") window.said.push({ at: performance.now(), kind: own?.kind, pieces: own?.pieces?.length ?? own?.plan?.pieces?.length });
      });
    }
  };
};

async function searched(project) {
  const browser = await chromium.launch({ executablePath: process.env.SEAMWRIGHT_CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--no-first-run", "--disable-background-networking", "--use-gl=angle", "--use-angle=swiftshader"] });
  try {
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 800 } })).newPage();
    await page.addInitScript(NOTES);
    await page.goto(address);
    // The demo's own news would be taken for the project's.
    await page.waitForFunction(() => window.said.some(({ kind }) => kind === "item-plan"), null, { timeout: 60_000, polling: 20 });
    await page.locator(".tabs button", { hasText: "Costume" }).click();
    const chooser = page.waitForEvent("filechooser");
    await page.locator(".leaf .word").first().click();
    const chosen = await chooser;
    const start = await page.evaluate(() => {
      window.said = [];
      return performance.now();
    });
    await chosen.setFiles(project);
    await page.waitForFunction(() => window.said.some(({ kind }) => kind === "finished"), null, { timeout: 600_000, polling: 50 });
    const said = await page.evaluate(() => window.said);
    return said.map(({ at, kind, pieces }) => ({ s: (at - start) / 1000, kind, pieces }));
  } finally {
    await browser.close();
  }
}

const all = [];
for (const project of process.argv.slice(2)) all.push(await searched(project));
console.log(JSON.stringify(all));
