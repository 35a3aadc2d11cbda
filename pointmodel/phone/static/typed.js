/* What is typed on a keypad without signs or blanks, as the texts that the program reads. */

/** A figure with a comma or a point; null where there is none or it is no number. */
function figure(form, name) {
  const text = form.get(name).trim().replace(",", ".");
  return /^\d+(\.\d*)?$|^\.\d+$/.test(text) ? text : null;
}

/** `12r 5u`: how far the tube was moved. */
export function nudge(form) {
  const across = figure(form, "across"), along = figure(form, "along");
  if (across === null || along === null) { return null; }
  return `${across}${form.get("side")[0]} ${along}${form.get("height")[0]}`;
}

/** `205 12.4, 41 33`: azimuth and altitude; minutes may be left out. */
export function place(form, which) {
  const az = angle(form, `${which}_az`), alt = angle(form, `${which}_alt`);
  return az && alt ? `${az}, ${alt}` : null;
}

/** Latitude and longitude with a sign: north and east are positive. */
export function site(form) {
  const latitude = figure(form, "latitude"), longitude = figure(form, "longitude");
  if (latitude === null || longitude === null) { return null; }
  return {
    latitude: form.get("north") === "south" ? `-${latitude}` : latitude,
    longitude: form.get("east") === "west" ? `-${longitude}` : longitude,
  };
}

function angle(form, name) {
  const degrees = figure(form, name);
  if (degrees === null || !form.get(`${name}_minutes`).trim()) { return degrees; }
  const minutes = figure(form, `${name}_minutes`);
  return minutes === null ? null : `${degrees} ${minutes}`;
}
