/* The drawn eyepiece: a circle as large as the field, with room to tap beyond its edge.

   Places are (x, y) in radii of the circle, x to the right and y up, as they are seen. A finger hides
   what it points at: while it lies on the pad a cross reaches to the pad's edges, and the place counts
   where the finger is lifted. Lifted outside the pad, nothing counts. */

const SVG = "http://www.w3.org/2000/svg";
const STEP = 0.05; // of an arrow key, radii

export class Pad {
  /** `tapped(x, y)` hears of a place that was meant. */
  constructor(host, tapped) {
    this._host = host;
    this._tapped = tapped;
    this._marks = []; // {x, y, text}
    this._label = "";
    this._aim = null; // where the finger or the cross of the keys is
    this._svg = host.appendChild(document.createElementNS(SVG, "svg"));
    this._svg.setAttribute("aria-hidden", "true");
    new ResizeObserver(() => this._draw()).observe(host);
    this._listen();
  }

  /** What stands below the middle: how wide the field is. */
  label(text) {
    if (text !== this._label) { this._label = text; this._draw(); }
  }

  /** Dots where stars were tapped. */
  mark(marks) {
    this._marks = marks;
    this._draw();
  }

  _listen() {
    const host = this._host;
    host.addEventListener("pointerdown", (event) => {
      if (!event.isPrimary || event.button > 0) { return; }
      host.setPointerCapture(event.pointerId);
      this._aimAt(this._place(event));
    });
    host.addEventListener("pointermove", (event) => {
      if (event.isPrimary && host.hasPointerCapture(event.pointerId)) { this._aimAt(this._place(event)); }
    });
    host.addEventListener("pointerup", (event) => {
      if (!event.isPrimary || !this._aim) { return; }
      const place = this._place(event);
      this._aimAt(null);
      if (this._isInside(event)) { this._tapped(place.x, place.y); }
    });
    host.addEventListener("pointercancel", () => this._aimAt(null));
    host.addEventListener("keydown", (event) => this._key(event));
    host.addEventListener("blur", () => this._aimAt(null));
  }

  _key(event) {
    const steps = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const step = steps[event.key];
    if (step) {
      const { x, y } = this._aim || { x: 0, y: 0 };
      this._aimAt({ x: x + STEP * step[0], y: y + STEP * step[1] });
    } else if (event.key === "Enter" && this._aim) {
      const { x, y } = this._aim;
      this._aimAt(null);
      this._tapped(round(x), round(y));
    } else {
      return;
    }
    event.preventDefault();
  }

  _aimAt(place) {
    this._aim = place;
    this._draw();
  }

  _size() {
    const width = this._host.clientWidth, height = this._host.clientHeight;
    return { width, height, radius: Math.max(1, Math.min(0.42 * height, 0.36 * width)) };
  }

  _place(event) {
    const box = this._host.getBoundingClientRect(), { radius } = this._size();
    return {
      x: round((event.clientX - box.left - box.width / 2) / radius),
      y: round(-(event.clientY - box.top - box.height / 2) / radius),
    };
  }

  _isInside(event) {
    const box = this._host.getBoundingClientRect();
    return event.clientX >= box.left && event.clientX <= box.right
      && event.clientY >= box.top && event.clientY <= box.bottom;
  }

  _draw() {
    const { width, height, radius } = this._size();
    this._svg.setAttribute("viewBox", `${-width / 2} ${-height / 2} ${width} ${height}`);
    const cut = 0.12 * radius;
    const lines = [
      drawn("circle", { class: "edge", r: radius }),
      drawn("circle", { class: "half", r: radius / 2 }),
      drawn("path", {
        class: "middle",
        d: `M${-cut} 0H${-cut / 3}M${cut / 3} 0H${cut}M0 ${-cut}V${-cut / 3}M0 ${cut / 3}V${cut}`,
      }),
    ];
    if (this._label) { lines.push(drawn("text", { y: 0.8 * radius }, this._label)); }
    for (const { x, y, text } of this._marks) {
      lines.push(drawn("circle", { class: "mark", cx: x * radius, cy: -y * radius, r: 7 }));
      if (text) { lines.push(drawn("text", { x: x * radius + 18, y: -y * radius + 6 }, text)); }
    }
    if (this._aim) {
      const x = this._aim.x * radius, y = -this._aim.y * radius;
      lines.push(drawn("path", { class: "aim", d: `M${-width} ${y}H${width}M${x} ${-height}V${height}` }));
      lines.push(drawn("circle", { class: "aim", cx: x, cy: y, r: 22 }));
    }
    this._svg.replaceChildren(...lines);
  }
}

function drawn(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) { made.setAttribute(key, value); }
  if (text) { made.textContent = text; }
  return made;
}

function round(figure) {
  return Math.round(figure * 1000) / 1000;
}
