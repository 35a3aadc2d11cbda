/* What was entered on this phone and is not yet known to be on the laptop's disk.

   Each entry has a key of localStorage of its own, so that two windows of one phone never write over
   each other. The key holds which log it is for (`log_key`): after a new link the entries
   still go to their log, and to no other. Where the phone refuses to store, entries live in memory. */

const PREFIX = "pointmodel-unsent/";

export class Queue {
  constructor() {
    this.logKey = null;
    this.isForgetful = false; // the phone refused to store: what is unsent dies with the page
    this._inMemory = new Map();
    this._lastAt = 0;
  }

  use(logKey) {
    this.logKey = logKey;
  }

  /** Keep an entry of now. It is stored before this returns; then it may be sent. */
  add(entry) {
    const id = newId();
    const at = Math.max(Date.now(), this._lastAt + 1); // entries of one moment stay in order
    this._lastAt = at;
    const item = { id, at, tried: false, entry: { id, ...entry } };
    this._store(item);
    return item;
  }

  /** Those of this log, oldest first. */
  waiting() {
    const found = new Map(this._inMemory);
    for (const key of storedKeys(this._prefix())) {
      const item = parsed(read(key));
      if (item) { found.set(item.id, item); }
    }
    return [...found.values()].sort((one, other) => one.at - other.at);
  }

  /** How many wait for another log than the one that this link opens. */
  ofOtherLogs() {
    return storedKeys(PREFIX).filter((key) => !key.startsWith(this._prefix())).length;
  }

  /** Say that entries are on their way: from now on nobody knows whether the laptop has them. */
  markTried(items) {
    for (const item of items) {
      if (!item.tried) { this._store({ ...item, tried: true }); }
    }
  }

  /** Forget an entry: the laptop has answered for it, or it was never on its way. */
  remove(id) {
    this._inMemory.delete(id);
    try { localStorage.removeItem(this._prefix() + id); } catch (refused) { return; }
  }

  _prefix() {
    return `${PREFIX}${this.logKey}/`;
  }

  _store(item) {
    try {
      localStorage.setItem(this._prefix() + item.id, JSON.stringify(item));
      this._inMemory.delete(item.id);
    } catch (refused) {
      this._inMemory.set(item.id, item);
      this.isForgetful = true;
    }
  }
}

/** Sixteen hexadecimal digits that no other entry will have; the first is a letter, so that no
    spreadsheet takes them for a number. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(8));
  bytes[0] = 0xa0 + 0x10 * (bytes[0] % 6) + (bytes[0] >> 4);
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function storedKeys(prefix) {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(prefix));
  } catch (refused) {
    return [];
  }
}

function read(key) {
  try { return localStorage.getItem(key); } catch (refused) { return null; }
}

function parsed(text) {
  try {
    const item = JSON.parse(text);
    return item && item.id && item.entry ? item : null;
  } catch (broken) {
    return null;
  }
}
