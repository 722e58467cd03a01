/**
 * Descriptions of elements, and the one function that makes the document match them.
 *
 * How: a view gives plain descriptions (`h`); `patch` compares them with those it was given before
 * for the same parent and touches only what changed, so focus, selection and half-typed numbers
 * stay. Children with a key keep their element when they move.
 * Safe: a description has text and attributes, never markup; there is no way to set inner HTML.
 * Not here: what is described (the other files of this folder).
 */

export type Child = VNode | string | number | null | undefined | false;
type Value = string | number | boolean | null | undefined;
type Hear = (event: Event) => void;

export interface Props {
  /** Attributes by name; `false`, `null` and absent are not there, `true` is an empty attribute. */
  [attribute: string]: Value | Record<string, Hear | undefined> | ((element: Element) => void) | undefined;
  key?: string | undefined;
  on?: Record<string, Hear | undefined> | undefined;
  /** Called once with the new element, whose children are then left to the caller. */
  own?: ((element: Element) => void) | undefined;
}

export interface VNode {
  tag: string;
  key: string | null;
  attributes: Record<string, Value>;
  on: Record<string, Hear>;
  own: ((element: Element) => void) | null;
  children: (VNode | string)[];
}

export function h(tag: string, props: Props = {}, ...children: (Child | readonly Child[])[]): VNode {
  const { key, on, own, ...rest } = props;
  const flat = children.flat() as Child[];
  const hears = Object.entries(on ?? {}).filter((entry): entry is [string, Hear] => entry[1] !== undefined);
  return {
    tag,
    key: key ?? null,
    attributes: rest as Record<string, Value>,
    on: Object.fromEntries(hears),
    own: own ?? null,
    children: flat
      .filter((child): child is VNode | string | number => child !== null && child !== undefined && child !== false)
      .map((child) => (typeof child === "number" ? String(child) : child)),
  };
}

const SVG = "http://www.w3.org/2000/svg";
const HTML = "http://www.w3.org/1999/xhtml";

interface Told {
  nodes: (VNode | string)[];
  dom: Node[];
}

const told = new WeakMap<Element, Told>();
const hearing = new WeakMap<Element, Record<string, Hear>>();

/** Makes the children of `parent` match `next`. */
export function patch(parent: Element, next: readonly (VNode | string)[]): void {
  const before = told.get(parent) ?? { nodes: [], dom: [] };
  const byKey = new Map<string, number>();
  before.nodes.forEach((node, index) => {
    if (typeof node !== "string" && node.key !== null) byKey.set(node.key, index);
  });
  const used = new Set<number>();
  let cursor = 0;
  const take = (node: VNode | string): number | null => {
    if (typeof node !== "string" && node.key !== null) {
      const at = byKey.get(node.key);
      return at !== undefined && !used.has(at) && isSame(before.nodes[at], node) ? at : null;
    }
    while (cursor < before.nodes.length && (used.has(cursor) || hasKey(before.nodes[cursor]))) cursor += 1;
    return cursor < before.nodes.length && isSame(before.nodes[cursor], node) ? cursor : null;
  };
  const dom = next.map((node) => {
    const at = take(node);
    if (at === null) return make(node, parent);
    used.add(at);
    const there = before.dom[at] as Node;
    update(there, before.nodes[at] as VNode | string, node);
    return there;
  });
  before.dom.forEach((there, index) => {
    if (!used.has(index)) there.parentNode?.removeChild(there);
  });
  let after: Node | null = null;
  for (let index = dom.length - 1; index >= 0; index -= 1) {
    const there = dom[index] as Node;
    if (there.parentNode !== parent || there.nextSibling !== after) parent.insertBefore(there, after);
    after = there;
  }
  told.set(parent, { nodes: [...next], dom });
}

const hasKey = (node: VNode | string | undefined): boolean => typeof node === "object" && node.key !== null;

function isSame(a: VNode | string | undefined, b: VNode | string): boolean {
  if (typeof a !== "object" || typeof b !== "object") return typeof a === typeof b;
  return a.tag === b.tag && a.key === b.key;
}

function make(node: VNode | string, parent: Element): Node {
  if (typeof node === "string") return document.createTextNode(node);
  const space = node.tag === "svg" || (parent.namespaceURI === SVG && parent.tagName !== "foreignObject") ? SVG : HTML;
  const element = document.createElementNS(space, node.tag);
  setAttributes(element, {}, node.attributes);
  listen(element, node.on);
  if (node.own !== null) node.own(element);
  else patch(element, node.children);
  // After the children: a select's value needs its options.
  setState(element, null, node);
  return element;
}

function update(there: Node, before: VNode | string, node: VNode | string): void {
  if (typeof node === "string") {
    if (before !== node) there.nodeValue = node;
    return;
  }
  const element = there as Element;
  const old = before as VNode;
  setAttributes(element, old.attributes, node.attributes);
  listen(element, node.on);
  if (node.own === null) patch(element, node.children);
  setState(element, old, node);
}

/** What an input holds is a property, not an attribute. */
const STATE = new Set(["value", "checked"]);

function setAttributes(element: Element, before: Record<string, Value>, next: Record<string, Value>): void {
  for (const name of Object.keys({ ...before, ...next })) {
    if (STATE.has(name) || before[name] === next[name]) continue;
    const value = next[name];
    if (value === undefined || value === null || value === false) element.removeAttribute(name);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
}

/** Sets what an input holds where the state changed, never what is just being typed. */
function setState(element: Element, before: VNode | null, node: VNode): void {
  const input = element as HTMLInputElement;
  const { value, checked } = node.attributes;
  if (value !== undefined && value !== null) {
    const is_news = before === null || before.attributes["value"] !== value;
    if (is_news) input.removeAttribute("aria-invalid");
    // What cannot be taken stays, so that it can be mended.
    const is_left = document.activeElement !== element && input.getAttribute("aria-invalid") !== "true";
    if ((is_news || is_left) && input.value !== String(value)) input.value = String(value);
  }
  if (typeof checked === "boolean" && input.checked !== checked) input.checked = checked;
}

/** One listener an event, which looks up what is to be called now. */
function listen(element: Element, on: Record<string, Hear>): void {
  const before = hearing.get(element);
  hearing.set(element, on);
  for (const name of Object.keys(on)) {
    if (before !== undefined && name in before) continue;
    element.addEventListener(name, (event) => hearing.get(element)?.[name]?.(event));
  }
}
