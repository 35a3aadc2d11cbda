/* Which way is up in your eyepiece: where one looks in, then three taps, with a press of the right key
   and of the up key between them. The star moves against the tube, so they show how the eyepiece is
   turned, and whether it is a mirror. The working out is the laptop's. */

import { Pad } from "/eyepiece.js";
import { byId, hide, show } from "/parts.js";

const STEPS = [
  (star) => `1 of 3. Send the telescope to ${star}. Tap where it stands now.`,
  () => press("2 of 3. Press the controller’s key for right", "left"),
  () => press("3 of 3. Now press the key for up", "down"),
];

function press(key, other) {
  return `${key}, until the star has crossed half of the circle’s width. Would it leave the circle?`
    + ` Then press ${other}. Tap where it stands now.`;
}

export class WhichWayIsUp {
  /** `star()` names the star in hand; `ask(message)` brings the taps to the laptop and returns why it
      does not take them, or ""; `found()` hears that it did. */
  constructor({ star, ask, found }) {
    this._star = star;
    this._ask = ask;
    this._found = found;
    this._side = null;
    this._taps = [];
    this._pad = new Pad(byId("turn-pad"), (x, y) => this._tapped(x, y));
    document.querySelectorAll("[data-side]").forEach((button) => {
      button.addEventListener("click", () => { this._side = button.dataset.side; this._draw(); });
    });
    byId("turn-again").addEventListener("click", () => this.begin());
    byId("turn-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this._finish();
    });
  }

  /** Ask from the first question on. */
  begin() {
    this._side = null;
    this.beginTaps();
  }

  /** Ask for the three taps again. */
  beginTaps() {
    this._taps = [];
    byId("turn-form").reset();
    this._draw();
  }

  _tapped(x, y) {
    if (this._taps.length < STEPS.length) {
      this._taps.push([x, y]);
      this._draw();
    }
  }

  _draw() {
    const taps = this._taps.length, isAsked = this._side === null;
    const isTapping = !isAsked && taps < STEPS.length;
    hide("turn-wrong");
    byId("turn-side").hidden = !isAsked;
    show("turn-step", isTapping ? STEPS[taps](this._star() || "a star") : "");
    byId("turn-pad").hidden = !isTapping;
    byId("turn-form").hidden = taps < STEPS.length;
    byId("turn-again").hidden = isAsked;
    byId("turn-star").hidden = !isTapping || taps > 0;
    this._pad.mark(this._taps.map(([x, y], k) => ({ x, y, text: String(k + 1) })));
  }

  async _finish() {
    const [first, second, third] = this._taps;
    const form = new FormData(byId("turn-form"));
    const refused = await this._ask({
      side: this._side,
      target: this._star() || undefined,
      right: { before: first, after: second, went: form.get("first") },
      up: { before: second, after: third, went: form.get("then") },
    });
    if (!refused) { this._found(); return; }
    show("turn-wrong", refused);
  }
}
