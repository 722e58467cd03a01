/** The finder: holds what is drawn and says what a ray meets. Knows no worker, only messages. */
import { Finder } from "../gen/planner.js";
import type { Died, FromFinder, Post, ToFinder } from "../messages.ts";
import { deathOf } from "./death.ts";

export function finder(post: Post<FromFinder | Died>): (message: ToFinder) => void {
  const own = new Finder();

  return ({ id, ray, forget, fresh }) => {
    try {
      for (const item of forget) own.forget(item);
      for (const { item, parts } of fresh) {
        own.forget(item);
        for (const { piece, pull_mm, points_mm, triangles } of parts) own.take(item, piece, new Float64Array(pull_mm), points_mm, triangles);
        // A large item takes a while; this tells it from hanging.
        post({ kind: "alive" });
      }
      const met = own.find(JSON.stringify(ray));
      post({ kind: "found", id, met: met === undefined ? null : JSON.parse(met) });
    } catch (error) {
      post({ kind: "died", text: deathOf(error) });
    }
  };
}
