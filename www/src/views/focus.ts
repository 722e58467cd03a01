/**
 * Where the focus goes when what had it is covered or taken away, so that whoever has only the keyboard
 * goes on where the eye does.
 */
import type { Look } from "../state/state.ts";

type Over = Look["over"];

const PANELS: Record<Exclude<Over, "none">, string> = { leaf: ".searching", parts: "#parts", notices: ".notices-sheet" };

/** What can have the focus, of what views make. */
const FOCUSABLE = "button, input, select, [tabindex]";

/** To be called before the sheet is drawn; what it gives, afterwards, with what lies over the drawing. */
export function followingFocus(): () => (over: Over) => void {
  let shown: Over = "none";
  let came_from: Element | null = null;
  return () => {
    const focused = document.activeElement;
    const around = ancestorsOf(focused);
    // Asked before drawing: what is taken away with the panel's news stands in no panel any more.
    const was_inside = focused === null || focused === document.body || focused.closest(Object.values(PANELS).join()) !== null;
    return (over) => {
      if (over !== shown) {
        if (over !== "none") {
          came_from ??= focused;
          focus(document.querySelector(`${PANELS[over]} :is(${FOCUSABLE})`));
        } else {
          // A tab that was pressed meanwhile keeps the focus.
          if (was_inside) focus(standingFor(came_from, shown));
          came_from = null;
        }
        shown = over;
      }
      if (focused !== null && !focused.isConnected && document.activeElement === document.body) focusFirstIn(around);
    };
  };
}

/** What had the focus before a panel was opened; where it is drawn anew since, what opens that panel now. */
function standingFor(came_from: Element | null, panel: Over): Element | null {
  const is_there = came_from !== null && came_from !== document.body && came_from.isConnected;
  return is_there ? came_from : document.querySelector(`[data-opens=${panel}]`);
}

/** The next that is left round what was taken away. */
function focusFirstIn(around: readonly Element[]): void {
  for (const element of around.filter((one) => one.isConnected)) {
    for (const there of [element, ...element.querySelectorAll(FOCUSABLE)]) {
      focus(there);
      if (document.activeElement === there) return;
    }
  }
}

/** From the nearest outwards; taken before drawing, since what is taken away no longer knows. */
function ancestorsOf(element: Element | null): Element[] {
  const around: Element[] = [];
  for (let one = element?.parentElement ?? null; one !== null && one !== document.body; one = one.parentElement) around.push(one);
  return around;
}

function focus(element: Element | null): void {
  if (element instanceof HTMLElement) element.focus();
}
