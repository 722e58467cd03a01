/** One costume open in two tabs of a real browser: neither overwrites the other, and both are told apart. */
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { addModels, bar, canLook, launch, openLeaf } from "./look.ts";
import { visit } from "./site.ts";

const MINUTE = 60_000;
/** After a change before it is surely kept. */
const KEPT_MS = 5000;

if (!canLook) console.log("skipped: two tabs in a browser: no chromium or no target/seamwright.html");

describe.runIf(canLook)("a costume in two tabs", () => {
  let browser: Browser;
  beforeAll(async () => void (browser = await launch()));
  afterAll(() => browser.close());

  it("stays two costumes once both are changed", { timeout: 3 * MINUTE }, async () => {
    const { context, page: first, problems } = await visit(browser, "?searchers=1");
    const add = async (page: typeof first, bed: string): Promise<void> => {
      await openLeaf(page, "Beds");
      await page.getByRole("button", { name: `Add a bed of ${bed}` }).click();
    };
    const beds = (page: typeof first): Promise<string> => page.locator(".bed h2").allTextContents().then((all) => all.join(" | "));
    await addModels(first, [bar()]);
    await first.waitForTimeout(KEPT_MS);
    const second = await context.newPage();
    await second.goto(first.url());
    await openLeaf(second, "Costume");
    await second.getByRole("heading", { name: "bar.stl" }).waitFor();
    await add(first, "180");
    await first.waitForTimeout(KEPT_MS);
    await add(second, "300");
    await second.getByText("open in another tab too").waitFor({ timeout: MINUTE });
    // Each finds its own again.
    for (const [page, own, other] of [[first, "180", "300"], [second, "300", "180"]] as const) {
      await page.waitForTimeout(KEPT_MS);
      await page.reload();
      await openLeaf(page, "Beds");
      await page.locator(".bed").nth(1).waitFor();
      expect(await beds(page)).toContain(own);
      expect(await beds(page)).not.toContain(other);
      await openLeaf(page, "Costume");
      await page.getByRole("heading", { name: "bar.stl" }).waitFor();
    }
    expect(problems).toEqual([]);
    await context.close();
  });
});
