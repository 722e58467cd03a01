/**
 * Builds the page: `npm run build` writes the static folder `target/page/` and the single file
 * `target/seamwright.html` in one go, from the same script.
 *
 * Workers are inlined and started from a blob in both: a worker loaded from its own address does
 * not get the page's Content-Security-Policy. Names in the folder are relative, so it works from any place.
 */
import { defineConfig } from "vite";
import { outputs } from "./build/outputs.ts";

export default defineConfig({
  base: "./",
  publicDir: false,
  worker: { format: "iife" },
  build: {
    outDir: "../target/page",
    emptyOutDir: true,
    target: "es2022",
    modulePreload: false,
    cssCodeSplit: false,
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 2000,
  },
  plugins: [outputs()],
  // Two files at a time: half of its time a page waits for a worker, a picture or the disk.
  test: { include: ["src/**/*.test.ts", "tests/**/*.test.ts"], maxWorkers: 2 },
} as Parameters<typeof defineConfig>[0]);
