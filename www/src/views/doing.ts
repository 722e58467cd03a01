/**
 * What views may ask of the page beside sending actions: things that touch files, the planner or the
 * drawing. `main.ts` gives the real ones.
 */
import type { Action } from "../state/actions.ts";

export interface Doing {
  send(action: Action): void;
  chooseModels(): void;
  addFiles(files: readonly File[]): void;
  pause(): void;
  goOn(): void;
  stop(): void;
  /** Ends reading, or what comes after the search, at once. */
  giveUp(): void;
  /** Plans anew with what is decided now. */
  again(): void;
  takeZip(): void;
  saveProject(): void;
  chooseProject(): void;
  clear(): void;
  /** Opens the Costume leaf where this model stands on it. */
  showModel(key: string): void;
  /** Looks into the file of a model, as it is. */
  lookInto(key: string): void;
  /** Opens the licences of what the page is made with. */
  showNotices(): void;
  /** The canvas of the drawing and the overlay for balloons, once they stand in the document. */
  ownCanvas(canvas: HTMLCanvasElement): void;
  ownBalloons(overlay: SVGSVGElement): void;
  showWhole(): void;
}
