/**
 * Takes the focus to what is laid over the drawing, and back when it is closed, so that whoever has
 * only the keyboard goes on where the eye does.
 */
import type { Look } from "../state/state.ts";

type Over = Look["over"];

const PANELS: Record<Exclude<Over, "none">, string> = { leaf: ".searching", parts: "#parts", notices: ".notices-sheet" };

/** To be called whenever the sheet was drawn, with what had the focus before. */
export function followingOver(): (over: Over, focused: Element | null) => void {
  let shown: Over = "none";
  let came_from: Element | null = null;
  return (over, focused) => {
    if (over === shown) return;
    shown = over;
    if (over !== "none") {
      came_from ??= focused;
      focus(document.querySelector(`${PANELS[over]} :is(button, input, [tabindex])`));
      return;
    }
    // A tab that was pressed meanwhile keeps the focus.
    const was_inside = focused === null || focused === document.body || focused.closest(Object.values(PANELS).join()) !== null;
    if (was_inside) focus(came_from);
    came_from = null;
  };
}

function focus(element: Element | null): void {
  if (element instanceof HTMLElement) element.focus();
}
