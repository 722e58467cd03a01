// A fresh browser for each figure, with the page opened from the disk.
//
// Started as a child of this process, so that a chosen file goes to the page by its path; through a server its bytes
// would be sent as text first.
import { join } from "node:path";
import { chromium } from "playwright-core";

export const TARGET = join(import.meta.dirname, "../../../target");
export const ADDRESS = `file://${join(TARGET, "seamwright.html")}`;

const ARGS = ["--no-sandbox", "--no-first-run", "--disable-background-networking", "--use-gl=angle", "--use-angle=swiftshader"];

/** What `measure` tells of a new page into which `notes` was put before all else. */
export async function once(notes, measure) {
  const browser = await chromium.launch({ executablePath: process.env.SEAMWRIGHT_CHROMIUM ?? "/usr/bin/chromium", args: ARGS });
  try {
    const page = await (await browser.newContext({ viewport: { width: 1280, height: 800 } })).newPage();
    await page.addInitScript(notes);
    return await measure(page);
  } finally {
    await browser.close();
  }
}

/** The dialog that asks for a file. */
export async function chooser(page) {
  await page.locator(".tabs button", { hasText: "Costume" }).click();
  const asked = page.waitForEvent("filechooser");
  await page.locator(".leaf .word").first().click();
  return await asked;
}
