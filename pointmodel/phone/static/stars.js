/* Which star the telescope is sent to: the one chosen here, else the next best that is not done. */

import { byId, listed, show } from "/parts.js";

export class Stars {
  /** `changed()` hears that another star was chosen. */
  constructor(changed) {
    this._changed = changed;
    this._stars = [];
    this._next = null;
    this._entered = new Set(); // on this phone, since it was opened: not again without need
    this._chosen = null;
    this._passed = new Set(); // those that could not be found
    byId("letters").addEventListener("input", () => this.list());
    byId("letters").addEventListener("keydown", (event) => this._enter(event));
    byId("by-name").addEventListener("click", () => this.choose(typed()));
  }

  take(state) {
    this._stars = state.stars;
    this._next = state.next && state.next.star;
  }

  /** The name of the star in hand, "" for none; `waiting` are those tapped and not sent yet. */
  current(waiting) {
    if (this._chosen) { return this._chosen; }
    const isOpen = (name) => name && !waiting.includes(name) && !this._passed.has(name);
    const names = this._stars.map((star) => star.name);
    const fresh = names.filter((name) => !this._entered.has(name));
    return [this._next, ...fresh, ...names].find(isOpen) || "";
  }

  /** Where a star stands, in short; "" where that is not known. */
  place(name) {
    const star = this._named(name);
    return star ? place(star) : "";
  }

  /** How to find a star, in words. */
  way(name) {
    const star = this._named(name);
    return star ? `${star.name}: ${star.how_to_find}.` : "";
  }

  _named(name) {
    return this._stars.find((one) => one.name === name);
  }

  isUp(name) {
    return Boolean(this._named(name));
  }

  choose(name) {
    this._chosen = name || null;
    this._passed.delete(name);
    this._changed();
  }

  /** A star's pair is made: the next best again. */
  done(name) {
    this._entered.add(name);
    this._chosen = null;
  }

  pass(name) {
    this._passed.add(name);
    this._chosen = null;
  }

  /** Fill the list with the stars that have the letters typed. */
  list() {
    const letters = typed().toLowerCase();
    const found = this._stars.filter((star) => star.name.toLowerCase().includes(letters));
    found.sort((one, other) => begins(other, letters) - begins(one, letters));
    byId("star-list").replaceChildren(
      ...found.map((star) => listed(star.name, place(star), () => this.choose(star.name))),
    );
    byId("no-star").hidden = found.length > 0 || !letters;
    show("by-name", letters ? `Take the name as it stands: ${typed()}` : "");
  }

  _enter(event) {
    const first = document.querySelector("#star-list button");
    if (event.key !== "Enter") { return; }
    event.preventDefault(); // else the button that takes the focus is pressed, too
    if (first && typed()) { first.click(); }
  }
}

function typed() {
  return byId("letters").value.trim();
}

function begins(star, letters) {
  return star.name.toLowerCase().startsWith(letters) ? 1 : 0;
}

/** Where a star stands: direction, and height in fists at arm's length. */
function place(star) {
  return `${star.direction}, ${star.fists} up`;
}
