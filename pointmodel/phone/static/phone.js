/* The one screen of the person at the telescope.

   A touch becomes an entry of the queue (queue.js) before anything is sent; talk.js brings entries to
   the laptop and its state back; what is shown follows from that state and from what still waits.
   Nothing is worked out here: which star, what fits and what to do are the laptop's words. */

import { Pad } from "/eyepiece.js";
import { byId, hide, listed, made, show } from "/parts.js";
import { Queue } from "/queue.js";
import { Stars } from "/stars.js";
import { Talk, TroubleError } from "/talk.js";
import { place, nudge, site } from "/typed.js";
import { WhichWayIsUp } from "/turn.js";

const QUIET_MS = 1000; // a second touch so soon is a slip of the glove
const STATE = "pointmodel-state", ASKED = "pointmodel-asked"; // keys of sessionStorage
const SOON_MS = 600; // an answer is usually there by then
const MARKED_MS = 4000; // so long a tap stays drawn
const LONG = 140; // letters, from which they are set smaller
const LONGEST_NAME = 60; // letters, as the laptop takes them
const TROUBLE = {
  away: "The laptop cannot be reached. Go on: all is kept here.",
  old: "This link is old. Scan the new code on the laptop.",
  busy: "The laptop did not take that. It is tried again.",
};
const NOTHING_TYPED = "Nothing is typed yet.";
const FORGETFUL = "This phone cannot store anything. Keep this page open until all is sent.";

const queue = new Queue();
const talk = new Talk(queue, { state: takeState, answers: takeAnswers, trouble: takeTrouble });
const stars = new Stars(() => starChosen());
const pad = new Pad(byId("pad"), (x, y) => tapped(x, y));
const turn = new WhichWayIsUp({
  star: currentStar, ask: (message) => asked("/eyepiece", message), found: () => goOn(),
});

let state = null;
let said = null; // {told, alarm, isRefused}: the line that matters
let fields = { right: 0, up: 0 }; // by which the tube was moved on
let heldEntry = null; // waits for the controller's place to be typed
let lastEntered = ""; // the id of the entry made last
let lastEntryMs = -QUIET_MS;
let lastSeen = ""; // the log's last line, as it was shown
let isAnswered = false; // what the state says of the last line was just said of an entry of ours
let doubtSeen = "";
let offered = null; // how the eyepiece may stand instead, as it was shown
let unmarked = 0; // the timer of the drawn tap
let isTurnWaiting = false; // another star is chosen to show which way is up
const askedFor = new Set(remembered(ASKED) || []); // dialogs that have opened by themselves

/* ---- what the laptop says ---- */

function takeState(fresh) {
  state = fresh;
  remember(STATE, { token: location.hash.slice(1), state });
  stars.take(state);
  const last = state.last ? JSON.stringify(state.last) : "";
  if (last !== lastSeen) {
    lastSeen = last;
    if (!isAnswered) { said = state.last || { told: "", alarm: false }; }
  }
  isAnswered = false;
  draw();
  askWhatIsNotKnown();
}

function takeAnswers(answers) {
  for (const one of answers) {
    const told = one.refused || one.told;
    if (told) {
      said = { told, alarm: Boolean(one.alarm || one.refused), isRefused: Boolean(one.refused) };
      isAnswered = true;
    }
  }
}

function takeTrouble(kind) {
  show("trouble", kind ? TROUBLE[kind] : "");
  draw();
}

/* ---- what is entered ---- */

/** Keep an entry and send it; where no answer is there soon, say `late`. */
function enter(entry, late = `${what(entry)}: kept on this phone, not yet on the laptop.`) {
  const item = queue.add(entry);
  lastEntered = item.id;
  talk.wake();
  draw();
  setTimeout(() => {
    const isWaiting = queue.waiting().some((one) => one.id === item.id);
    if (isWaiting && lastEntered === item.id) { said = { told: late, alarm: false }; }
    draw();
  }, SOON_MS + 50);
}

/** What has waited for longer than an answer usually takes. */
function overdue() {
  return queue.waiting().filter((item) => Date.now() - item.at > SOON_MS);
}

function currentStar() {
  const waiting = queue.waiting().map((item) => item.entry.target).filter(Boolean);
  // a longer one, typed at the laptop, would be none of the page's messages and hold up the rest
  return stars.current(waiting)?.slice(0, LONGEST_NAME);
}

/** Keep a pair of the star in hand; the next star follows. */
function enterPair(entry) {
  const target = currentStar();
  if (performance.now() - lastEntryMs < QUIET_MS) { return; }
  if (!target) { open("stars"); return; }
  lastEntryMs = performance.now();
  enter({ target, ...entry });
  stars.done(target);
  fields = { right: 0, up: 0 };
  closeAll();
  draw();
}

function tapped(x, y) {
  if (!state) { return; }
  if (isTyped()) { open("typing"); return; }
  if (!state.eyepiece.known) { open("eyepiece"); return; }
  const tap = { kind: "tap", x, y, fields_right: fields.right, fields_up: fields.up };
  pad.mark([{ x, y }]);
  clearTimeout(unmarked);
  unmarked = setTimeout(() => pad.mark([]), MARKED_MS);
  enterSeen(tap);
}

/** Whether the log holds what the mount reads, which only its controller tells. */
function isTyped() {
  return Boolean(state) && state.second === "centred";
}

/** Keep what was seen; a log of the controller's places asks for that one first. */
function enterSeen(entry) {
  if (isTyped()) { open("typing"); return; }
  if (!state.commanded) { enterPair(entry); return; }
  heldEntry = entry;
  open("before");
}

function movedAField(right, up) {
  fields = { right: fields.right + right, up: fields.up + up };
  draw();
}

/** The star stands in the middle, where the go-to ended or where the tube was moved on to. */
function centred() {
  if (!fields.right && !fields.up) { return { kind: "centred" }; }
  const [across, along] = [fields.right, fields.up].map((count) => count * state.field_arcmin);
  const text = `${Math.abs(across)}${across < 0 ? "l" : "r"} ${Math.abs(along)}${along < 0 ? "d" : "u"}`;
  return { kind: "nudge", text };
}

function undo(item) {
  const waiting = queue.waiting().find((one) => one.id === item.id);
  if (waiting && !waiting.tried) {
    queue.remove(item.id);
    lastEntered = "";
    said = { told: `Taken back: ${item.name}. It was never sent.`, alarm: false };
  } else {
    const byLine = { line: item.line, what: item.name.slice(0, LONGEST_NAME) };
    const which = item.id ? { entry_id: item.id } : byLine;
    enter({ kind: "undo", ...which }, `Taken back: ${item.name}. The laptop is told later.`);
  }
  pad.mark([]);
  if (stars.isUp(item.name)) { stars.choose(item.name); } else { starChosen(); }
}

/* ---- what is shown ---- */

function draw() {
  const waiting = overdue();
  show("unsent", waiting.length ? `${waiting.length} not sent yet` : "");
  drawOthers();
  if (!state) { return; }
  const pairs = state.pairs === 1 ? "1 pair" : `${state.pairs} pairs`;
  show("pairs", `${pairs} in ${state.log}.`);
  drawStar();
  drawSaid();
  show("sun", state.sun || "");
  byId("done-button").classList.toggle("first", state.may_stop);
  pad.label(`${state.field_known ? "" : "taken as "}${state.field_arcmin}′ across`);
}

function drawOthers() {
  const others = state ? queue.ofOtherLogs() : 0;
  const told = [queue.isForgetful ? FORGETFUL : "", ...(state ? state.notices : [])];
  if (others) { told.push(`${others} of another log wait on this phone for its link.`); }
  show("notices", told.filter(Boolean).join(" "));
}

function drawStar() {
  const star = currentStar();
  show("star", star || "Which star?");
  show("way", star ? stars.place(star) : "Press “Another star”.");
  const moved = [fieldWords(fields.right, "right", "left"), fieldWords(fields.up, "up", "down")];
  show("fields-label", moved.filter(Boolean).join(", ") || "Tube moved by a field:");
}

function fieldWords(count, positive, negative) {
  const size = Math.abs(count);
  return size ? `${size} ${size === 1 ? "field" : "fields"} ${count > 0 ? positive : negative}` : "";
}

function drawSaid() {
  if (said) { show("told", said.told); } else if (state.sun) { show("told", ""); } // the same caution
  byId("told").classList.toggle("long", byId("told").textContent.length > LONG);
  const isAlarm = Boolean(said && said.alarm);
  byId("said").classList.toggle("alarm", isAlarm);
  byId("undo-button").classList.toggle("wanted", isAlarm && !said.isRefused);
  show("known", [state.known, state.may_stop ? state.headline : ""].filter(Boolean).join(" "));
  const star = currentStar();
  const isNext = state.next && (state.next.star === star || !state.next.star);
  show("next", isNext ? state.next.text : star && stars.way(star));
  seeWhetherCut();
}

/** What does not fit above the eyepiece can be opened. */
function seeWhetherCut() {
  hide("whole");
  byId("whole").hidden = byId("said").scrollHeight <= byId("said").clientHeight;
}

function drawWords() {
  const shown = [...byId("said").children].filter((one) => !one.hidden && one.textContent);
  byId("all-words").replaceChildren(...shown.map((one) => made("p", one.textContent)));
}

function drawUndo() {
  const unsent = queue.waiting().filter((item) => item.entry.kind !== "undo").map((item) => ({
    id: item.id, name: what(item.entry), what: `${what(item.entry)}, not sent yet`,
  }));
  const sent = (state ? state.recent : []).map((one) => ({
    id: one.entry_id, line: one.line, name: one.what, what: `${one.what}, line ${one.line}`,
  }));
  const all = [...unsent.reverse(), ...sent];
  byId("undo-list").replaceChildren(...all.map((item) => listed(item.what, "", () => undo(item))));
  byId("nothing-to-undo").hidden = all.length > 0;
}

function what(entry) {
  if (entry.kind === "missing") { return `cannot find ${entry.target}`; }
  return entry.target || entry.event || entry.kind;
}

function drawAdvice() {
  if (!state) { return; }
  show("stop", state.may_stop && state.next ? state.next.text : "");
  const [headline, ...lines] = state.advice;
  show("headline", headline || "No advice yet: more stars are wanted.");
  byId("steps").replaceChildren(...lines.map((line) => made("p", line)));
}

function drawMore() {
  if (!state) { return; }
  show("log", `Log: ${state.log}.`);
}

/* ---- dialogs ---- */

const whenOpened = {
  stars: () => { byId("letters").value = ""; stars.list(); },
  words: drawWords, undo: drawUndo, done: drawAdvice, more: drawMore, eyepiece: () => turn.begin(),
  aligned: () => show("aligned-question", state.questions.stars || ""),
  presses: () => show("presses-question", state.questions.presses || ""),
  typing: () => { nameTheStar(); askWhatTheLogHolds(); }, before: nameTheStar,
};

function open(name) {
  closeAll();
  if (whenOpened[name]) { whenOpened[name](); }
  byId(name).showModal();
  byId(name).scrollTop = 0;
}

function closeAll() {
  document.querySelectorAll("dialog[open]").forEach((dialog) => dialog.close());
}

/** Close what is open; what is not known yet is asked next. */
function goOn() {
  closeAll();
  if (state) { askWhatIsNotKnown(); }
}

function starChosen() {
  closeAll();
  draw();
  if (!isTurnWaiting) { return; }
  isTurnWaiting = false;
  byId("eyepiece").showModal();
  turn.beginTaps();
}

function nameTheStar() {
  document.querySelectorAll(".typed-star").forEach((place) => {
    place.textContent = `Star: ${currentStar() || "none chosen yet"}`;
  });
}

/** A log holds how far the tube was moved, or both places; a new one may still hold either. */
function askWhatTheLogHolds() {
  byId("nudge-form").hidden = isTyped();
  byId("no-taps").hidden = !isTyped();
  byId("places-form").hidden = Boolean(state) && state.second === "nudge";
}

/** Site, field and eyepiece are asked for once, each where it is not known, then on request. */
function askWhatIsNotKnown() {
  if (document.querySelector("dialog[open]")) { return; }
  const unknown = [
    ["site", !state.site_known], ["field", !state.field_known && !isTyped()],
    ["aligned", state.questions.stars], ["presses", state.questions.presses],
    ["eyepiece", !state.eyepiece.known && !isTyped()],
  ].find(([name, isUnknown]) => isUnknown && !askedFor.has(name));
  if (unknown) {
    askedFor.add(unknown[0]);
    remember(ASKED, [...askedFor]);
    open(unknown[0]);
  } else if (state.eyepiece_doubt && state.eyepiece_doubt.text !== doubtSeen) {
    doubtSeen = state.eyepiece_doubt.text;
    offered = state.eyepiece_doubt.offer;
    show("doubt-text", doubtSeen);
    byId("doubt-yes").hidden = !offered;
    open("doubt");
  }
}

/** Tell what the controller was told; `told` is one answer by its key. */
async function answerOfController(dialog, told) {
  const refused = await asked("/controller", told);
  show(`${dialog}-wrong`, refused);
  if (!refused) { goOn(); }
}

/** Ask the laptop something that cannot wait in the queue; why not, or "" where it is done. */
async function asked(path, message) {
  try {
    const answer = await talk.ask(path, message);
    if (answer.refused) { return answer.refused; }
    said = { told: answer.told, alarm: false };
    isAnswered = true;
    takeState(answer.state);
    return "";
  } catch (trouble) {
    if (trouble instanceof TroubleError) { return TROUBLE[trouble.kind]; }
    throw trouble;
  }
}

/* ---- what is pressed ---- */

function onPress(selector, pressed) {
  document.querySelectorAll(selector).forEach((button) => {
    button.addEventListener("click", () => pressed(button));
  });
}

/** A form whose figures become words of the program; `send(words)` returns why not, or "". */
function onForm(id, wordsOf, send, nothing = "A figure is missing, or is no number.") {
  const wrong = id.replace(/(nudge|places)-form/, "typing-form").replace("form", "wrong");
  byId(id).addEventListener("submit", async (event) => {
    event.preventDefault();
    const words = wordsOf(new FormData(byId(id)));
    const refused = words ? await send(words) : nothing;
    show(wrong, refused || "");
    if (refused) { return; }
    byId(id).reset();
    if (byId(id).closest("dialog").open) { goOn(); }
  });
}

onPress("[data-open]", (button) => { // before it is known which log this is, nothing is entered
  if (state || button.dataset.open === "more") { open(button.dataset.open); }
});
onPress("[data-close]", () => { isTurnWaiting = false; goOn(); });
onPress("#turn-star", () => { open("stars"); isTurnWaiting = true; });
onPress("[data-event]", (button) => {
  enter({ kind: "event", event: button.dataset.event });
  closeAll();
});
onPress("#fields button", (button) => {
  movedAField(Number(button.dataset.right), Number(button.dataset.up));
});
onPress("#aligned [data-answer]", (button) => {
  answerOfController("aligned", { stars: button.dataset.answer });
});
onPress("#presses [data-answer]", (button) => {
  answerOfController("presses", { presses: button.dataset.answer });
});
onPress("#centred", () => { if (state) { pad.mark([]); enterSeen(centred()); } });
onPress("#missing", () => {
  const target = currentStar();
  if (!target) { return; }
  enter({ kind: "missing", target });
  stars.pass(target);
  draw();
});
onPress("#doubt-yes", async () => {
  show("doubt-text", await asked("/eyepiece", offered) || "");
  if (byId("doubt-text").hidden) { goOn(); }
});
onPress("#doubt-no", closeAll);
onPress("#field-unknown", goOn);

onForm("note-form", (form) => form.get("text").trim(), (text) => {
  enter({ kind: "note", text });
}, NOTHING_TYPED);
onForm("nudge-form", nudge, (text) => enterSeen({ kind: "nudge", text }));
onForm("places-form", (form) => {
  const commanded = place(form, "commanded"), centred = place(form, "centred");
  return commanded && centred && { commanded, centred };
}, (places) => enterPair({ kind: "places", ...places }));
onForm("before-form", (form) => place(form, "before"), (commanded) => {
  enterPair({ ...heldEntry, commanded });
});
onForm("site-form", site, (where) => asked("/site", where));
onForm("aligned-form", (form) => form.get("stars").trim(), (stars) => (
  asked("/controller", { stars })
), NOTHING_TYPED);
onForm("field-form", (form) => Number(form.get("field").replace(",", ".")), (field_arcmin) => (
  asked("/eyepiece", { field_arcmin })
));

/* ---- this phone's place: only where the browser allows it, and only when it is pressed ---- */

byId("here").hidden = !(window.isSecureContext && navigator.geolocation);
byId("here").addEventListener("click", () => {
  navigator.geolocation.getCurrentPosition(async ({ coords }) => {
    const where = { latitude: coords.latitude.toFixed(4), longitude: coords.longitude.toFixed(4) };
    const refused = await asked("/site", where);
    show("site-wrong", refused);
    if (!refused) { goOn(); }
  }, () => show("site-wrong", "This phone does not say where it is. Type it."));
});

/* ---- the link: its token stands behind # and goes nowhere else ---- */

function openLink() {
  const token = location.hash.slice(1);
  if (!token) { show("trouble", TROUBLE.old); return; }
  const known = remembered(STATE);
  if (known && known.token === token && !state) {
    queue.use(known.state.log_key);
    takeState(known.state);
  }
  talk.open(token);
}

/** What outlives a reload: the state of this link, so that a touch counts before the laptop has
    answered, and what was asked already. */
function remember(key, what) {
  try {
    sessionStorage.setItem(key, JSON.stringify(what));
  } catch (refused) {
    return;
  }
}

function remembered(key) {
  try {
    return JSON.parse(sessionStorage.getItem(key));
  } catch (refused) {
    return null;
  }
}

window.addEventListener("hashchange", openLink);
window.addEventListener("resize", seeWhetherCut);
window.addEventListener("online", () => talk.wake());
document.addEventListener("visibilitychange", () => { if (!document.hidden) { talk.wake(); } });
draw();
openLink();
