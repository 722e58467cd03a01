// Seconds of the page's search in a real browser: projects with a fixed effort, two searchers.
//
// node search.mjs PROJECT...; prints a list as JSON, one entry a project: seconds from choosing the file to the
// finished, audited plan, and pieces of the best plan as it got better. Asserts nothing. Needs the page built.
import { ADDRESS, chooser, once } from "./browser.mjs";

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

const searched = (project) =>
  once(NOTES, async (page) => {
    await page.goto(`${ADDRESS}?searchers=2`);
    // The demo's own news would be taken for the project's.
    await page.waitForFunction(() => window.said.some(({ kind }) => kind === "item-plan"), null, { timeout: 60_000, polling: 20 });
    const chosen = await chooser(page);
    const start = await page.evaluate(() => {
      window.said = [];
      return performance.now();
    });
    await chosen.setFiles(project);
    await page.waitForFunction(() => window.said.some(({ kind }) => kind === "finished"), null, { timeout: 600_000, polling: 50 });
    const said = await page.evaluate(() => window.said);
    return said.map(({ at, kind, pieces }) => ({ s: (at - start) / 1000, kind, pieces }));
  });

const all = [];
for (const project of process.argv.slice(2)) all.push(await searched(project));
console.log(JSON.stringify(all));
