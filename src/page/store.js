/**
 * What is entered, kept in the browser at each entry, so that a reload, a crash or an empty battery loses nothing.
 *
 * @module
 */

/** @typedef {import("./record.js").Entry} Entry */
/**
 * What is kept.
 * @typedef {object} Kept
 * @property {number} revision Counts up with each change.
 * @property {Entry[]} entries
 * @property {Entry[]} undone What was taken back, the last first.
 * @property {string[]} ticked What is ticked off of the preparation.
 * @property {number} planAt How many entries there were when the plan that is followed was made.
 */

/** Another tab has written since this one read. */
export class ElsewhereError extends Error {}

/** Keeps one record, under a name. */
export class Store {
  /** @type {string} */
  #key;
  /** @type {Storage | null} */
  #storage;
  /** The revision that was read or written last. */
  #revision = 0;

  /**
   * @param {string} key
   * @param {Storage | null} storage None where the browser has none for this page.
   */
  constructor(key, storage) {
    this.#key = key;
    this.#storage = storage;
  }

  /** Whether anything is kept at all. */
  get works() {
    return this.#storage !== null;
  }

  /** @returns {Kept | null} */
  read() {
    const kept = this.#stored();
    this.#revision = kept?.revision ?? 0;
    return kept;
  }

  /**
   * Keeps it. What another tab has written meanwhile is not written over.
   * @param {Omit<Kept, "revision">} kept
   * @throws {ElsewhereError}
   * @throws {DOMException} where the browser has no more room.
   */
  write(kept) {
    if (!this.#storage) {
      return;
    }
    if ((this.#stored()?.revision ?? 0) !== this.#revision) {
      throw new ElsewhereError();
    }
    this.#storage.setItem(this.#key, JSON.stringify({ ...kept, revision: this.#revision + 1 }));
    this.#revision += 1;
  }

  /** Whether a change of the storage is one of this record, by another tab. @param {StorageEvent} event */
  isOwn(event) {
    return event.key === this.#key && event.storageArea === this.#storage;
  }

  /** @returns {Kept | null} */
  #stored() {
    const text = this.#storage?.getItem(this.#key);
    return text ? JSON.parse(text) : null;
  }
}
