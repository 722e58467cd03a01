// Writes the mesh of the npm package `bunny` as OBJ: `node bunny.mjs FILE`. Test use only; Y is up.

import { writeFileSync } from "node:fs";
import bunny from "bunny";

const points = bunny.positions.map((p) => `v ${p.join(" ")}`);
const faces = bunny.cells.map((t) => `f ${t.map((i) => i + 1).join(" ")}`);
writeFileSync(process.argv[2], [...points, ...faces, ""].join("\n"));
