/* Small hands: finding, showing and filling parts of the page. Data become text, never markup. */

export function byId(id) {
  return document.getElementById(id);
}

/** Put words somewhere, and let them be seen; without words the place is hidden. */
export function show(id, words) {
  const place = byId(id);
  if (place.textContent !== words) { place.textContent = words; }
  place.hidden = !words;
}

export function hide(id) {
  byId(id).hidden = true;
}

/** A new element with a class and words. */
export function made(name, words = "", className = "") {
  const one = document.createElement(name);
  one.textContent = words;
  if (className) { one.className = className; }
  return one;
}

/** A button in an entry of a list; `more` stands below its words. */
export function listed(words, more, pressed) {
  const button = made("button", "", "");
  button.type = "button";
  button.append(made("b", words));
  if (more) { button.append(made("span", more)); }
  button.addEventListener("click", pressed);
  const entry = document.createElement("li");
  entry.append(button);
  return entry;
}
