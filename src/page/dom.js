/**
 * Elements without markup: a text from a file is only ever a text.
 *
 * @module
 */

/** @typedef {Node | string | null | undefined | false | Child[]} Child */

/**
 * An element with its properties (`on…` is an event, `class` and what has a hyphen an attribute) and what is in it.
 * @param {string} tag
 * @param {Record<string, any>} [properties]
 * @param {...Child} children
 * @returns {HTMLElement}
 */
export function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(properties)) {
    if (key.startsWith("on")) {
      element.addEventListener(key.slice(2), value);
    } else if (key === "class" || key === "for" || key.includes("-")) {
      element.setAttribute(key, value);
    } else if (value !== undefined) {
      /** @type {any} */ (element)[key] = value;
    }
  }
  /** @type {(Node | string)[]} */
  const shown = /** @type {any[]} */ (children).flat(Infinity).filter((child) => child instanceof Node || typeof child === "string");
  element.append(...shown);
  return element;
}

/** @param {string} svg As the engine draws it. @returns {Node} */
export function picture(svg) {
  return document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
}

/** Hands the person a file. @param {string} name @param {string} text */
export function save(name, text) {
  const address = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  const link = h("a", { href: address, download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
