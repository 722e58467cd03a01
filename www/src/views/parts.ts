/**
 * The small things every leaf is written with: words that can be pressed, numbers to type, choices.
 *
 * Words with a stitched underline are what can be done here; there are no other controls.
 */
import { words } from "../words/words.ts";
import type { Doing } from "./doing.ts";
import { type Child, h, type VNode } from "./dom.ts";

/**
 * A word that does something. One that is off can still have the focus: a browser takes it from what is
 * disabled, and whoever goes by keyboard would begin at the top again. What `opens` a panel gets the focus back
 * when that is closed (`focus.ts`).
 */
export function word(label: string, press: () => void, more: { off?: boolean; pressed?: boolean; title?: string; label?: string; opens?: string } = {}): VNode {
  return h(
    "button",
    {
      type: "button",
      class: "word",
      "aria-disabled": more.off === true ? "true" : undefined,
      "aria-pressed": more.pressed === undefined ? undefined : String(more.pressed),
      "aria-label": more.label,
      title: more.title,
      "data-opens": more.opens,
      on: { click: () => (more.off === true ? undefined : press()) },
    },
    label,
  );
}

export interface NumberAsked {
  label: string;
  unit?: string;
  value: number | undefined;
  least?: number;
  most?: number;
  whole?: boolean;
  /** Said to those who do not see where the field stands. */
  said?: string;
  change: (value: number) => void;
  /** What an empty field means; without it a number is asked for. */
  empty?: () => void;
}

/**
 * A number to type, taken when the field is left or Enter is pressed. What is none, or out of range,
 * stays as it was typed, with what is asked for beside it.
 */
export function number(asked: NumberAsked): VNode {
  const take = (event: Event): void => {
    const input = event.target as HTMLInputElement;
    const is_empty = input.value.trim() === "";
    const value = is_empty ? NaN : Number(input.value.replace(",", "."));
    const is_possible = Number.isFinite(value) && value >= (asked.least ?? -Infinity) && value <= (asked.most ?? Infinity) && (asked.whole !== true || Number.isInteger(value));
    input.setAttribute("aria-invalid", String(!is_possible && !(is_empty && asked.empty !== undefined)));
    if (is_possible) asked.change(value);
    else if (is_empty) asked.empty?.();
  };
  return h(
    "label",
    { class: "asked", "data-asked": words.page.asked(asked.least, asked.most, asked.whole ?? false) },
    h("span", {}, asked.label),
    h("input", {
      type: "text",
      inputmode: asked.whole === true ? "numeric" : "decimal",
      autocomplete: "off",
      "aria-label": asked.said,
      value: asked.value === undefined ? "" : String(asked.value),
      on: { change: take },
    }),
    asked.unit === undefined ? null : h("span", { class: "unit" }, asked.unit),
  );
}

/** One of several, as words in a row. */
export function choice<T extends string>(
  name: string,
  label: string,
  options: readonly { value: T; label: string }[],
  chosen: T | null,
  choose: (value: T) => void,
): VNode {
  return h(
    "fieldset",
    { class: "choice" },
    h("legend", {}, label),
    options.map((option) =>
      h(
        "label",
        { key: option.value, class: "choosable" },
        h("input", {
          type: "radio",
          name,
          value: option.value,
          checked: option.value === chosen,
          on: { change: () => choose(option.value) },
        }),
        h("span", {}, option.label),
      ),
    ),
  );
}

export function tick(label: string, checked: boolean, change: (checked: boolean) => void): VNode {
  return h(
    "label",
    { class: "choosable" },
    h("input", {
      type: "checkbox",
      checked,
      on: { change: (event) => change((event.target as HTMLInputElement).checked) },
    }),
    h("span", {}, label),
  );
}

export function select<T extends string>(
  label: string,
  options: readonly { value: T; label: string }[],
  chosen: T,
  choose: (value: T) => void,
): VNode {
  return h(
    "label",
    { class: "asked" },
    h("span", {}, label),
    h(
      "select",
      { value: chosen, on: { change: (event) => choose((event.target as HTMLSelectElement).value as T) } },
      options.map((option) => h("option", { key: option.value, value: option.value, selected: option.value === chosen }, option.label)),
    ),
  );
}

/** A sentence in the warning ink; the mark before it says so without colour. */
export function warning(...sentence: Child[]): VNode {
  return h("p", { class: "warning" }, ...sentence);
}

/** A number in its circle. */
export function balloon(number: number, is_marked: boolean): VNode {
  return h("span", { class: is_marked ? "balloon marked" : "balloon" }, String(number));
}

/** What marks a piece everywhere while the pointer or the focus is on the element. */
export function marking(doing: Doing, piece: string): { focus: () => void; blur: () => void; click: () => void; pointerenter: () => void; pointerleave: () => void } {
  const mark = (id: string | null) => (): void => doing.send({ kind: "marked", piece: id });
  const [on, off] = [mark(piece), mark(null)];
  return { focus: on, blur: off, click: on, pointerenter: on, pointerleave: off };
}
