/* Talking with the laptop: one request at a time, unsent entries first and in order, else the state.

   After any failure the state is asked for before an entry is sent, since another session may
   answer under this address; entries go only to the log that they were made for. */

const POLL_MS = 2500;
const TIMEOUT_MS = 12000;
const AGAIN_MS = [1000, 2000, 4000, 8000, 15000];
const MOST_AT_ONCE = 20;
const OLDEST_S = 172800; // two days: the laptop takes no older entry

/** Why there is no answer: "away" (nobody there), "old" (the token is not taken), "busy". */
export class TroubleError extends Error {
  constructor(kind) {
    super(kind);
    this.kind = kind;
  }
}

export class Talk {
  /** `heard` has state(state), answers(answers) and trouble(kind or null). */
  constructor(queue, heard) {
    this._queue = queue;
    this._heard = heard;
    this._token = "";
    this._version = null; // of the state known; null: ask for all of it
    this._failures = 0;
    this._timer = 0;
    this._request = null; // what can be given up for something more urgent
    this._isBusy = false;
    this._isWanted = false;
  }

  /** Begin, or go on with another link. */
  open(token) {
    this._token = token;
    this._version = null;
    this.wake();
  }

  /** Send or ask at once. */
  wake() {
    this._failures = 0;
    if (this._isBusy) {
      this._isWanted = true;
      if (this._request) { this._request.abort(); }
      return;
    }
    clearTimeout(this._timer);
    this._turn();
  }

  /** Ask one thing outside the queue. Throws TroubleError. */
  async ask(path, message) {
    return await this._fetch(path, message);
  }

  async _turn() {
    this._isBusy = true;
    this._isWanted = false;
    try {
      if (this._version === null || !this._queue.waiting().length) {
        await this._look();
        this._isWell();
      }
      while (this._queue.waiting().length) {
        await this._send();
        this._isWell();
      }
    } catch (trouble) {
      this._tell(trouble);
    }
    this._isBusy = false;
    this._timer = setTimeout(() => this._turn(), this._isWanted ? 0 : this._pause());
  }

  _isWell() {
    this._failures = 0;
    this._heard.trouble(null);
  }

  _tell(trouble) {
    if (this._isWanted) { return; } // given up for something more urgent
    if (!(trouble instanceof TroubleError)) { console.error(trouble); }
    this._version = null;
    this._failures += 1;
    this._heard.trouble(trouble.kind || "busy");
  }

  _pause() {
    const slowest = AGAIN_MS.length - 1;
    if (this._failures) { return AGAIN_MS[Math.min(this._failures - 1, slowest)]; }
    return document.hidden ? AGAIN_MS[slowest] : POLL_MS;
  }

  async _look() {
    const since = this._version === null ? "" : `?since=${encodeURIComponent(this._version)}`;
    const state = await this._fetch(`/state${since}`);
    if (state) { this._take(state); }
  }

  async _send() {
    const items = this._queue.waiting().slice(0, MOST_AT_ONCE);
    this._queue.markTried(items);
    const entries = items.map((item) => ({ ...item.entry, age_s: ageS(item) }));
    const said = await this._fetch("/entries", { entries, log_key: this._queue.logKey });
    const answered = said.answers.filter((one) => one.kept !== null || one.refused !== null);
    answered.forEach((one) => this._queue.remove(one.id));
    this._heard.answers(said.answers);
    this._take(said.state);
    if (!answered.length) { throw new TroubleError("busy"); }
  }

  _take(state) {
    this._version = state.version;
    this._queue.use(state.log_key);
    this._heard.state(state);
  }

  async _fetch(path, message) {
    const request = new AbortController();
    const limit = setTimeout(() => request.abort(), TIMEOUT_MS);
    const asked = {
      headers: { Authorization: `Bearer ${this._token}` },
      cache: "no-store", credentials: "omit", referrerPolicy: "no-referrer", redirect: "error",
      signal: request.signal,
    };
    if (message) {
      asked.method = "POST";
      asked.headers["Content-Type"] = "application/json";
      asked.body = JSON.stringify(message);
    } else {
      this._request = request;
    }
    let answer, said;
    try {
      answer = await fetch(path, asked);
      said = answer.status === 200 ? await answer.json() : null;
    } catch (failed) {
      throw new TroubleError("away");
    } finally {
      clearTimeout(limit);
      this._request = null;
    }
    if (answer.status === 403) { throw new TroubleError("old"); }
    if (!answer.ok) { throw new TroubleError("busy"); }
    return said;
  }
}

/** How long ago an entry was made, seconds; a clock that was set back makes none of the future. */
function ageS(item) {
  return Math.min(Math.max(0, (Date.now() - item.at) / 1000), OLDEST_S);
}
