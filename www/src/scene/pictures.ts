/**
 * Small pictures of items, for their cards: each item alone, from where the drawing is first seen.
 */
import { OrthographicCamera, Scene, type WebGLRenderer, WebGLRenderTarget } from "three";
import { aim, inkCover, twoPictures } from "./aim.ts";
import { FIRST_EYE, fitted } from "./camera.ts";
import type { Built } from "./item.ts";
import type { Inks } from "./messages.ts";

/** Size on a card in CSS pixels; drawn twice as fine. */
export const PICTURE = { width: 72, height: 48 };
const FINE = 2;

export type TakePicture = (item: Built, inks: Inks) => ImageData;

export function createPictures(renderer: WebGLRenderer): TakePicture {
  const [w, h] = [PICTURE.width * FINE, PICTURE.height * FINE];
  const pictures = twoPictures(2 * w, 2 * h);
  const result = new WebGLRenderTarget(w, h, { depthBuffer: false });
  const camera = new OrthographicCamera();
  const scene = new Scene();
  const cover = inkCover();

  return (item, inks) => {
    const points = item.reach(0);
    const frame = { left: 4, top: 4, right: w - 4, bottom: h - 4 };
    const eye = fitted(FIRST_EYE, points, frame);
    const far_mm = aim(camera, { eye, frame, width: w, height: h }, points);
    item.set({ pull: 0, marked: null, inks, hatch_px: 1 });
    scene.clear();
    item.meshes.forEach((mesh) => scene.add(mesh));
    renderer.setRenderTarget(pictures);
    renderer.setClearColor(0x000000, 0);
    renderer.clear();
    renderer.render(scene, camera);
    cover.set({ from: pictures, scale: 2, ratio: FINE, steep: far_mm * eye.px_per_mm, ink: inks.ink });
    renderer.setRenderTarget(result);
    renderer.clear();
    renderer.render(cover.scene, camera);
    const rows = new Uint8Array(w * h * 4);
    renderer.readRenderTargetPixels(result, 0, 0, w, h, rows);
    renderer.setRenderTarget(null);
    return upright(rows, w, h);
  };
}

/** Graphics count rows from below and mix colours with their cover; pictures of a page do neither. */
function upright(rows: Uint8Array, width: number, height: number): ImageData {
  const image = new ImageData(width, height);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const [from, to] = [4 * ((height - 1 - y) * width + x), 4 * (y * width + x)];
      const cover = rows[from + 3]!;
      for (let k = 0; k < 3; k += 1) image.data[to + k] = cover === 0 ? 0 : Math.min(255, Math.round((rows[from + k]! * 255) / cover));
      image.data[to + 3] = cover;
    }
  }
  return image;
}
