/**
 * Last step of the build: the policy, the service worker and the single file.
 *
 * How: the folder gets a Content-Security-Policy for its own files and a service worker that keeps
 * them all, so that it opens again without a network. The single file holds script, style and the
 * parts (`parts.ts`) inside itself and may connect to nothing at all.
 * Parts are fetched by the folder and read from data blocks by the single file; which of the two it
 * is the script finds out by looking for the block (`src/parts.ts`). One part is a script of its own,
 * the drawing: it is built here, and runs in a worker or, let in by its hash, in the page.
 */
import { createHash } from "node:crypto";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { deflateRawSync } from "node:zlib";
import { build, type Plugin } from "vite";

/** Name in the folder, bytes. */
type Part = [string, Uint8Array];

/** Files beside the script that both outputs carry: name in the folder, where it is made. */
const PARTS: [string, string][] = [
  ["planner.wasm", "src/planner/gen/planner_bg.wasm"],
  ["demo.seam.json", "src/planner/gen/demo.seam.json"],
  ["notices.txt", "src/planner/gen/notices.txt"],
];

/** The part that is a script. It holds the graphics library, which the page's own script then does without. */
const DRAWING = { name: "drawing.js", from: "src/scene/worker/drawing.ts" };

const SINGLE_FILE = "../target/seamwright.html";

const sha256 = (text: string | Uint8Array): string => createHash("sha256").update(text).digest("base64");

/** `</script` and `<!--` would end or change a script that stands in the page. */
const inScript = (code: string): string => code.replace(/<\/(script)/gi, "<\\/$1").replace(/<!--/g, "<\\!--");

const policy = (rules: Record<string, string>): string =>
  `<meta http-equiv="Content-Security-Policy" content="${Object.entries(rules).map(([name, value]) => `${name} ${value}`).join("; ")}">`;

const NEVER = { "base-uri": "'none'", "form-action": "'none'", "object-src": "'none'", "frame-src": "'none'" };

const folderPolicy = (drawing: string): string =>
  policy({
    "default-src": "'none'",
    "script-src": `'self' 'sha256-${sha256(drawing)}' 'wasm-unsafe-eval'`,
    "style-src": "'self'",
    "worker-src": "blob: 'self'",
    "connect-src": "'self'",
    "img-src": "'self' data: blob:",
    "manifest-src": "'self'",
    ...NEVER,
  });

const singlePolicy = (script: string, drawing: string, style: string): string =>
  policy({
    "default-src": "'none'",
    "script-src": `'sha256-${sha256(script)}' 'sha256-${sha256(drawing)}' 'wasm-unsafe-eval'`,
    "style-src": style === "" ? "'none'" : `'sha256-${sha256(style)}'`,
    "worker-src": "blob:",
    "connect-src": "'none'",
    "img-src": "data: blob:",
    ...NEVER,
  });

/**
 * The policy first, since it holds only for what follows it; before it only the encoding, which must
 * stand within the first 1024 bytes. Replacers are functions, since code holds `$&`.
 */
const withHead = (html: string, lines: string): string => html.replace(/<meta charset="utf-8">\n/, (encoding) => `${encoding}${lines}\n`);

/** The service worker: keeps every file of this build, answers from there first. */
const serviceWorker = (files: string[], version: string): string => `// Keeps the page for use without a network; made by the build.
const NAME = "seamwright-${version}";
const FILES = ${JSON.stringify(files)};
self.addEventListener("install", (event) =>
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting())));
self.addEventListener("activate", (event) =>
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(names.filter((name) => name.startsWith("seamwright-") && name !== NAME).map((name) => caches.delete(name))))
    .then(() => self.clients.claim())));
self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET" || new URL(event.request.url).origin !== self.location.origin) return;
  event.respondWith(caches.open(NAME)
    .then((cache) => cache.match(event.request, { ignoreSearch: true }))
    .then((kept) => kept ?? fetch(event.request)));
});
`;

/** The drawing as one classic script: what it needs stands in it, and nothing is left behind but its name. */
async function drawingScript(): Promise<string> {
  const made = await build({
    configFile: false,
    logLevel: "warn",
    publicDir: false,
    build: {
      write: false,
      target: "es2022",
      chunkSizeWarningLimit: 2000,
      rolldownOptions: { input: DRAWING.from, output: { format: "iife" } },
    },
  });
  const files = [made].flat().flatMap((one) => ("output" in one ? one.output : []));
  const [script] = files;
  if (files.length !== 1 || script?.type !== "chunk") throw new Error(`one script is expected for the drawing, made: ${files.map((file) => file.fileName).join(", ")}`);
  return script.code;
}

export function outputs(): Plugin {
  let single = "";
  return {
    name: "seamwright-outputs",
    apply: "build",
    enforce: "post",
    async generateBundle(_options, bundle) {
      const page = bundle["index.html"];
      if (page?.type !== "asset") throw new Error("the build made no index.html");
      const html = String(page.source);
      const script = Object.values(bundle).find((file) => file.type === "chunk" && file.isEntry);
      if (script?.type !== "chunk") throw new Error("the build made no script");
      const extra = Object.keys(bundle).filter((name) => name !== script.fileName && /\.m?js$/.test(name));
      if (extra.length > 0) throw new Error(`one script is expected, also made: ${extra.join(", ")}`);
      const style = Object.values(bundle).find((file) => file.fileName.endsWith(".css"));
      const css = style?.type === "asset" ? String(style.source) : "";
      const drawing = await drawingScript();
      const made = PARTS.filter(([, from]) => existsSync(from)).map(([name, from]): Part => [name, readFileSync(from)]);
      const parts: Part[] = [...made, [DRAWING.name, new TextEncoder().encode(drawing)]];
      single = singleFile(html, inScript(script.code), drawing, css, parts);

      // The drawing is wanted as soon as the script is; asking early spares a way to the server.
      const early = `<link rel="preload" href="${DRAWING.name}" as="fetch" crossorigin>`;
      page.source = withHead(html, `${folderPolicy(drawing)}\n${early}`);
      for (const [fileName, source] of parts) this.emitFile({ type: "asset", fileName, source });
      const files = ["./", ...Object.keys(bundle), ...parts.map(([name]) => name)];
      const all = createHash("sha256");
      for (const name of Object.keys(bundle).sort()) {
        const file = bundle[name];
        if (file) all.update(name).update(file.type === "asset" ? file.source : file.code);
      }
      for (const [, bytes] of parts) all.update(bytes);
      const version = all.digest("hex").slice(0, 16);
      this.emitFile({ type: "asset", fileName: "service-worker.js", source: serviceWorker([...new Set(files)], version) });
    },
    closeBundle() {
      if (single !== "") writeFileSync(SINGLE_FILE, single);
    },
  };
}

/** Everything in one: style, parts and script stand in the page itself. */
function singleFile(html: string, code: string, drawing: string, css: string, parts: readonly Part[]): string {
  const tags = html
    .replace(/<script\b[^>]*\bsrc="[^"]*"[^>]*><\/script>/g, "")
    .replace(/<link\b[^>]*rel="(stylesheet|manifest|modulepreload)"[^>]*>/g, "");
  const blocks = parts.map(([name, bytes]) =>
    `<script type="application/octet-stream" id="part-${name}">${deflateRawSync(bytes, { level: 9 }).toString("base64")}</script>\n`);
  const styled = css === "" ? "" : `<style>${css}</style>\n`;
  return withHead(tags, `${singlePolicy(code, drawing, css)}\n${styled}`)
    .replace(/<\/body>/, () => `${blocks.join("")}<script type="module">${code}</script>\n</body>`);
}
