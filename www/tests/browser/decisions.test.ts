/**
 * What the maker decided in a real browser: kept through a reload with the way back and forth, kept
 * with a project, and followed by a new plan at once, whatever the planner was doing.
 */
import { existsSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, canLook, finished, launch, openLeaf, stopAndFinish, taken, takePlan } from "./look.ts";
import { visit } from "./site.ts";

const HELM = join(import.meta.dirname, "../../../demo-meshes/helm.3mf");
const MINUTE = 60_000;

if (!canLook) console.log("skipped: decisions in a browser: no chromium or no target/seamwright.html");

const plain = (text: string | null): string => (text ?? "").replaceAll("\u202f", " ");

/** What a worker of the page said, in the order it was heard. */
interface Heard {
  worker: number;
  role: string;
  kind: string;
  run?: number;
  news?: string;
}

/** Writes down what the page's workers say, as the page hears it. */
async function listenIn(context: BrowserContext): Promise<void> {
  await context.addInitScript(() => {
    const heard: unknown[] = [];
    let n_workers = 0;
    const Real = Worker;
    Object.assign(window, { heard });
    window.Worker = class extends Real {
      constructor(address: string | URL, options?: WorkerOptions) {
        super(address, options);
        const worker = (n_workers += 1);
        this.addEventListener("message", ({ data }) => heard.push({ worker, role: options?.name ?? "", kind: data.kind, run: data.run, news: data.news?.kind }));
      }
    };
  });
}

const heardFrom = async (page: Page, role: string): Promise<Heard[]> => {
  const all = await page.evaluate(() => (window as unknown as { heard: Heard[] }).heard);
  return all.filter((one) => one.role === role);
};

/**
 * Types another seed at the moment the page says that it measures seams, which may be over before a
 * test outside it has looked. Whether the next step could not be pressed then.
 */
const stepWhileMeasured = (page: Page): Promise<boolean> =>
  page.evaluate(
    () =>
      new Promise<boolean>((seen) => {
        const watch = new MutationObserver(() => {
          const step = document.querySelector<HTMLButtonElement>(".step")!;
          const seed = [...document.querySelectorAll("label")].find((label) => label.textContent === "seed")?.control as HTMLInputElement | undefined;
          if (seed === undefined || !document.body.innerText.includes("Measuring the seams")) return;
          watch.disconnect();
          seed.value = "2";
          seed.dispatchEvent(new Event("change", { bubbles: true }));
          seen(step.ariaDisabled === "true");
        });
        watch.observe(document.body, { subtree: true, childList: true, characterData: true });
      }),
  );

describe.skipIf(!canLook)("what the maker decided", { timeout: 6 * MINUTE }, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  }, MINUTE);
  afterAll(() => browser?.close());

  it("can be undone, and after a reload done again", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1");
    await addModels(page, [bar()]);
    await openLeaf(page, "Beds");
    await page.getByRole("button", { name: "Add a bed of 180" }).click();
    await page.getByRole("button", { name: "Add a bed of 300" }).click();
    await expect.poll(() => page.locator(".bed").count(), { timeout: MINUTE }).toBe(3);
    await page.getByRole("button", { name: "3 undo" }).click();
    await expect.poll(() => page.locator(".bed").count(), { timeout: MINUTE }).toBe(2);
    // Kept a moment after the last change.
    await page.waitForTimeout(4000);
    await page.reload();
    await page.getByRole("button", { name: "2 undo" }).waitFor();
    await openLeaf(page, "Beds");
    expect(await page.locator(".bed").count()).toBe(2);
    await page.getByRole("button", { name: "Redo" }).click();
    await expect.poll(() => page.locator(".bed").count(), { timeout: MINUTE }).toBe(3);
    await expect.poll(() => page.getByRole("button", { name: "Redo" }).count(), { timeout: MINUTE }).toBe(0);
    // All the way back: to the demo, whose models were kept for this alone.
    for (const left of [3, 2, 1]) await page.getByRole("button", { name: `${left} undo` }).click();
    await openLeaf(page, "Costume");
    await page.getByRole("heading", { name: "helm.3mf" }).waitFor();
    expect(problems).toEqual([]);
    await context.close();
  });

  it("of a project that fixes its effort is planned with it, saved with it, and can be set free", async () => {
    // The address fixes the effort of what does not fix its own, and the project saved then holds it.
    const first = await visit(browser, "?searchers=1&effort=2");
    await addModels(first.page, [bar()]);
    await finished(first.page);
    await openLeaf(first.page, "Costume");
    const { bytes: project } = await taken(first.page, () => first.page.getByRole("button", { name: "Save the project" }).click());
    expect(JSON.parse(project.toString()).options.effort).toBe(2);
    await first.context.close();

    const { context, page, problems } = await visit(browser, "?searchers=1");
    await openLeaf(page, "Costume");
    const chooser = page.waitForEvent("filechooser");
    await page.getByRole("button", { name: "Open a project" }).click();
    await (await chooser).setFiles([{ name: "fixed.seam.json", mimeType: "application/json", buffer: project }]);
    await page.getByText(/The project is open/).waitFor();
    await finished(page);
    await page.getByText("fixes the work at 2 rounds").waitFor();
    expect(await page.getByLabel("search for").count()).toBe(0);
    const plan = await takePlan(page);
    expect(plan.made_with.effort).toBe(2);
    expect(plan.search.rounds).toBeLessThanOrEqual(2);
    await openLeaf(page, "Costume");
    const { bytes: again } = await taken(page, () => page.getByRole("button", { name: "Save the project" }).click());
    expect(JSON.parse(again.toString())).toEqual(JSON.parse(project.toString()));

    await openLeaf(page, "Seams");
    await page.getByRole("button", { name: "Search by time instead" }).click();
    await page.getByLabel("search for").waitFor();
    // The plan on the sheet stays there until the new one is begun, a moment later.
    await page.locator(".step", { hasText: "Take the pieces" }).waitFor({ state: "detached" });
    await stopAndFinish(page);
    expect((await takePlan(page)).made_with).not.toHaveProperty("effort");
    expect(problems).toEqual([]);
    await context.close();
  });

  it("counts mirrored sides and copies while it is searched as when the plan is there", async () => {
    const { context, page, problems } = await visit(browser, "?searchers=1&effort=100000");
    await addModels(page, [bar(), bar("second.stl")]);
    const card = page.locator(".card", { hasText: "second.stl" });
    await card.locator(".choosable", { hasText: "a pair" }).click();
    await card.getByLabel("copies").fill("2");
    await card.getByLabel("copies").press("Enter");
    // The plan is begun anew a moment after the last change, and a pause is of one plan.
    await page.waitForTimeout(1000);
    await openLeaf(page, "Seams");
    await page.getByText(/round \d+/).waitFor({ timeout: MINUTE });
    await page.getByRole("button", { name: "Pause" }).click();
    await page.getByText("The search rests").waitFor();
    // A round being merged may still be told.
    await page.waitForTimeout(500);
    const onCard = async (): Promise<number> => Number(/(\d+) pieces/.exec(plain(await page.locator(".pinned", { hasText: "all items" }).textContent()))?.[1]);
    const onCurve = async (): Promise<number> => Number(/(\d+)(?: pieces from the start| in )/.exec(plain(await page.locator(".curve").getAttribute("aria-label")))?.[1]);
    const while_searched = await onCard();
    expect(await onCurve()).toBe(while_searched);
    await page.locator(".pinned", { hasText: "all items" }).click();
    await page.locator(".counts", { hasText: `${while_searched} pieces` }).waitFor();
    await page.getByText("5 items").first().waitFor();
    await page.locator(".step", { hasText: "Stop and finish" }).click();
    await finished(page);
    expect(await page.locator(".pinned").count()).toBe(6);
    expect(await onCard()).toBe(while_searched);
    expect(await onCurve()).toBe(while_searched);
    await openLeaf(page, "Loads");
    await page.getByText(`${while_searched} pieces on `).waitFor();
    expect(problems).toEqual([]);
    await context.close();
  });

  it.skipIf(!existsSync(HELM))("is planned anew while a large plan is being finished, and nothing of that one is told after", async () => {
    const { context, page: first } = await visit(browser, "?searchers=1");
    await first.close();
    await listenIn(context);
    const page = await context.newPage();
    await page.goto(`${first.url()}`);
    await addModels(page, [{ name: "helm.3mf", mimeType: "model/3mf", buffer: readFileSync(HELM) }]);
    await openLeaf(page, "Seams");
    // On the plan of the demo before it the press would do nothing.
    await expect.poll(async () => (await heardFrom(page, "keeper")).some((one) => one.run === 2 && one.kind === "ready"), { timeout: 2 * MINUTE }).toBe(true);
    const is_disabled = stepWhileMeasured(page);
    await page.locator(".step", { hasText: "Stop and finish" }).click({ timeout: 2 * MINUTE });
    // There is nothing to take while the plan is not finished.
    expect(await is_disabled).toBe(true);
    await page.getByText("Measuring the seams").waitFor({ state: "detached", timeout: 2 * MINUTE });
    await stopAndFinish(page);
    const heard = await heardFrom(page, "keeper");
    const last = Math.max(...heard.map((one) => one.run ?? 0));
    const begun = heard.findIndex((one) => one.kind === "begun" && one.run === last);
    expect(heard.slice(0, begun).some((one) => one.run === last - 1 && one.news === "stage")).toBe(true);
    expect(heard.slice(begun).filter((one) => one.run !== undefined && one.run !== last)).toEqual([]);
    expect(heard.filter((one) => one.run === last - 1 && one.news === "finished")).toEqual([]);
    expect(heard.filter((one) => one.news === "worker-replaced")).toEqual([]);
    expect((await takePlan(page)).made_with.seed).toBe(2);
    await context.close();
  });

  it("is planned anew by another keeper where the first is in a step without end", async () => {
    const { context, page: first } = await visit(browser, "?searchers=1&effort=2");
    await first.close();
    await listenIn(context);
    const page = await context.newPage();
    await page.goto(`${first.url()}`);
    await addModels(page, [bar()]);
    await finished(page);
    const [keeper] = (await Promise.all(page.workers().map(async (one) => ((await one.evaluate(() => self.name)) === "keeper" ? one : null)))).filter((one) => one !== null);
    await keeper!.evaluate(() => void setTimeout(() => { for (;;); }));
    await page.getByLabel("seed").fill("2");
    await page.getByLabel("seed").press("Enter");
    await page.locator(".step", { hasText: "Take the pieces" }).waitFor({ state: "detached" });
    await finished(page);
    const heard = await heardFrom(page, "keeper");
    const keepers = [...new Set(heard.map((one) => one.worker))];
    expect(keepers).toHaveLength(2);
    const last = Math.max(...heard.map((one) => one.run ?? 0));
    expect(new Set(heard.filter((one) => one.run === last).map((one) => one.worker))).toEqual(new Set([keepers[1]]));
    // The maker asked for it: nothing is to be told of a worker that was lost.
    expect(await page.getByText("was started again").count()).toBe(0);
    expect((await takePlan(page)).made_with.seed).toBe(2);
    await context.close();
  });
});
