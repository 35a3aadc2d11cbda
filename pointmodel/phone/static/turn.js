/* Which way is up in your eyepiece: three taps, with a press of the right key and of the up key
   between them. The star moves against the tube, so they show how the eyepiece is turned, and whether
   it is a mirror. The working out is the laptop's. */

import { Pad } from "/eyepiece.js";
import { byId, show, hide } from "/parts.js";

const STEPS = [
  "1 of 3. Send the telescope to a star. Tap where it stands now.",
  "2 of 3. Press the key for right, until the star has moved by about half the circle’s radius. Tap where it stands now.",
  "3 of 3. Now press the key for up, as far again. Tap where it stands now.",
];

export class WhichWayIsUp {
  /** `ask(message)` brings the taps to the laptop and returns its answer. */
  constructor(ask, found) {
    this._ask = ask;
    this._found = found;
    this._taps = [];
    this._pad = new Pad(byId("turn-pad"), (x, y) => this._tapped(x, y));
    byId("turn-again").addEventListener("click", () => this.begin());
    byId("turn-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this._finish();
    });
  }

  /** Ask from the first tap on. */
  begin() {
    this._taps = [];
    byId("turn-form").reset();
    hide("turn-wrong");
    this._draw();
  }

  _tapped(x, y) {
    if (this._taps.length < STEPS.length) {
      this._taps.push([x, y]);
      this._draw();
    }
  }

  _draw() {
    const isDone = this._taps.length === STEPS.length;
    byId("turn-step").textContent = isDone ? "" : STEPS[this._taps.length];
    byId("turn-pad").hidden = isDone;
    byId("turn-form").hidden = !isDone;
    this._pad.mark(this._taps.map(([x, y], k) => ({ x, y, text: String(k + 1) })));
  }

  async _finish() {
    const [first, second, third] = this._taps;
    const form = new FormData(byId("turn-form"));
    const refused = await this._ask({
      right: { before: first, after: second, went: form.get("first") },
      up: { before: second, after: third, went: form.get("then") },
    });
    if (refused) { show("turn-wrong", refused); } else { this._found(); }
  }
}
