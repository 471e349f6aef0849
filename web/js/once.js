// An order of a person that the rig carries out once, however often it has to be sent.

import { ask } from "./link.js";

/** Sixteen random bytes; `crypto.randomUUID` is not there on plain HTTP. */
function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * One confirmed order. While no answer came, giving the same once more sends the same key, by which the rig knows it
 * again (`Idempotency-Key`, docs/rest.md): it may have been done the first time. Another order, and one that was
 * answered, gets a key of its own. Hold, resume and stop need none: done twice they are done once.
 */
export class Order {
  #key = null;
  #said = null;
  /** Whether it was sent and no answer came: it may have been done. */
  unheard = false;

  /** As `ask`, by POST. */
  async give(path, body, options) {
    const said = JSON.stringify([path, body]);
    if (said !== this.#said) [this.#key, this.#said] = [newKey(), said];
    try {
      const answer = await ask("POST", path, body, { ...options, key: this.#key });
      this.unheard = false;
      this.#said = null;
      return answer;
    } catch (refusal) {
      this.unheard = !refusal.answered;
      if (refusal.answered) this.#said = null;
      throw refusal;
    }
  }
}
