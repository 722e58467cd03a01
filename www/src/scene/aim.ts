/**
 * Points the camera of the graphics where the eye looks, and lays ink over the two pictures.
 *
 * Shared by the drawing (`stage.ts`) and the small pictures on cards (`pictures.ts`).
 */
import { BufferAttribute, BufferGeometry, DepthTexture, Mesh, NearestFilter, type OrthographicCamera, Scene, UnsignedIntType, WebGLRenderTarget } from "three";
import { axesOf, type Eye, middle, type Vec } from "./camera.ts";
import { give, inked } from "./materials.ts";
import type { Frame } from "./messages.ts";

export interface Seen {
  eye: Eye;
  frame: Frame;
  width: number;
  height: number;
}

/** Sets the camera; gives the depth in mm that its range covers. */
export function aim(camera: OrthographicCamera, { eye, frame, width, height }: Seen, points_mm: readonly Vec[]): number {
  const { right, up, back } = axesOf(eye);
  const [x, y, z] = eye.centre_mm;
  let reach = 1;
  for (const p of points_mm) reach = Math.max(reach, Math.hypot(p[0] - x, p[1] - y, p[2] - z));
  // A little more than the farthest point known, which may miss the farthest there is by 2 %.
  reach *= 1.1;
  const [cx, cy] = middle(frame);
  const k = eye.px_per_mm;
  camera.left = -cx / k;
  camera.right = (width - cx) / k;
  camera.top = cy / k;
  camera.bottom = (cy - height) / k;
  camera.near = 0;
  camera.far = 2 * reach;
  camera.updateProjectionMatrix();
  const at = [x + reach * back[0], y + reach * back[1], z + reach * back[2]] as const;
  camera.matrix.set(right[0], up[0], back[0], at[0], right[1], up[1], back[1], at[1], right[2], up[2], back[2], at[2], 0, 0, 0, 1);
  camera.matrixWorld.copy(camera.matrix);
  camera.matrixWorldInverse.copy(camera.matrix).invert();
  camera.matrixAutoUpdate = false;
  camera.matrixWorldAutoUpdate = false;
  return camera.far;
}

export interface Inking {
  from: WebGLRenderTarget;
  /** Pixels a side of `from` that go into one. */
  scale: number;
  ratio: number;
  /** Depth range in pixels. */
  steep: number;
  ink: string;
}

/** A scene that covers everything and lays the ink. */
export function inkCover(): { scene: Scene; set: (inking: Inking) => void } {
  const material = inked();
  const cover = new Mesh(new BufferGeometry().setAttribute("position", new BufferAttribute(new Float32Array([-1, -1, 0, 3, -1, 0, -1, 3, 0]), 3)), material);
  cover.frustumCulled = false;
  return {
    scene: new Scene().add(cover),
    set({ from, scale, ratio, steep, ink }) {
      give(material, {
        colours: from.textures[0],
        facts: from.textures[1],
        depths: from.depthTexture,
        size: [from.width, from.height],
        fine: scale,
        reach: 0.5 * scale * Math.max(1, ratio),
        steep,
        ink,
      });
    },
  };
}

/** The two pictures, cloth and facts, with their depth. */
export function twoPictures(width: number, height: number): WebGLRenderTarget {
  const depth = new DepthTexture(width, height, UnsignedIntType);
  return new WebGLRenderTarget(width, height, { count: 2, depthTexture: depth, minFilter: NearestFilter, magFilter: NearestFilter, generateMipmaps: false });
}
