// A picture to be looked at closely: moved by dragging, brought closer by wheel, pinch, keys or buttons, down to the scan's own pixels. Places are in pixels of the scan, from its upper left corner;
// `scale` is CSS pixels to a scan pixel. Tiles come from an IIIF image service; until they do, and where there is none, the preview is shown enlarged.

const NS = "http://www.w3.org/2000/svg";
const closest = 16, step = 1.4, kept = 400;

/** Makes an SVG element. */
export function svg(name, attributes = {}, ...children) {
  const e = document.createElementNS(NS, name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  e.append(...children);
  return e;
}

/** Makes an element with properties. */
export function make(name, properties = {}, ...children) {
  const e = Object.assign(document.createElement(name), properties);
  e.append(...children);
  return e;
}

export class Viewer extends EventTarget {
  constructor(figure) {
    super();
    this.figure = figure;
    const d = figure.dataset;
    this.width = Number(d.width);
    this.height = Number(d.height);
    this.mmPerPixel = Number(d.mm) || 0;
    this.scale = 1;
    this.x = this.y = 0; // of the scan's corner in the window, CSS pixels
    this.tiles = new Map();
    this.pointers = new Map();
    this.tool = null; // takes presses first, if it wants to
    this.build();
    this.preview = figure.querySelector("img");
    this.preview.addEventListener("load", () => this.draw());
    this.service = d.info ? this.load(d.info) : Promise.resolve();
    this.resize = new ResizeObserver(() => this.fitOrKeep());
    this.resize.observe(this.window);
  }

  build() {
    this.canvas = make("canvas");
    this.canvas.setAttribute("aria-hidden", "true");
    this.overlay = svg("svg", { class: "overlay", "aria-hidden": "true" });
    this.window = make("div", { className: "window", tabIndex: 0 }, this.canvas, this.overlay);
    this.window.setAttribute("role", "application");
    this.window.setAttribute("aria-label", this.figure.dataset.label);
    this.bar = make("p", { className: "bar" });
    this.bar.hidden = true;
    this.window.append(this.bar);
    this.status = make("output", { className: "zoom" });
    const button = (text, does) => make("button", { type: "button", className: "quiet", textContent: text, onclick: does });
    this.buttons = make("p", { className: "buttons" }, button("Closer", () => this.zoom(step)), button("Further", () => this.zoom(1 / step)),
      button("Whole picture", () => this.fit()), button("Scan’s own pixels", () => this.own()), this.status);
    this.figure.querySelector(".still").after(this.window, this.buttons);
    this.window.style.setProperty("--ratio", `${this.width} / ${this.height}`);
    this.figure.classList.add("live");
    const w = this.window;
    w.addEventListener("pointerdown", (e) => this.press(e));
    w.addEventListener("pointermove", (e) => this.move(e));
    for (const end of ["pointerup", "pointercancel"]) w.addEventListener(end, (e) => this.release(e));
    w.addEventListener("wheel", (e) => this.wheel(e), { passive: false });
    w.addEventListener("keydown", (e) => this.key(e));
  }

  /** Asks the image service what it has. */
  async load(address) {
    const answer = await fetch(address, { headers: { Accept: "application/json" } }).catch(() => null);
    if (!answer?.ok) return;
    const info = await answer.json();
    this.base = address.slice(0, address.lastIndexOf("/")); // not info.id: the pages may be reached by another name
    this.info = info;
    this.per = info.width / this.width; // a publisher's service is of a smaller picture
    this.edge = info.tiles?.[0]?.width ?? 512;
    this.factors = info.tiles?.[0]?.scaleFactors ?? [1];
    this.draw();
  }

  fitOrKeep() {
    const width = this.window.clientWidth, height = this.window.clientHeight; // within the border
    if (!width || !height) return;
    const ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(height * ratio);
    this.box = { width, height, ratio };
    if (this.fitted === undefined || this.fitted) this.fit();
    else this.draw();
  }

  fit() {
    const b = this.box;
    this.scale = Math.min(b.width / this.width, b.height / this.height);
    this.fitted = true;
    this.middle(this.width / 2, this.height / 2);
  }

  /** Shows the scan's own pixels, one to a CSS pixel, around the middle of the window. */
  own() { this.zoom(1 / this.scale); }

  /** Brings a place of the scan to the middle of the window. */
  middle(x, y) {
    this.x = this.box.width / 2 - x * this.scale;
    this.y = this.box.height / 2 - y * this.scale;
    this.settle();
  }

  zoom(by, at = { x: this.box.width / 2, y: this.box.height / 2 }) {
    const fit = Math.min(this.box.width / this.width, this.box.height / this.height);
    const scale = Math.min(closest, Math.max(Math.min(fit, 1) * 0.5, this.scale * by));
    const p = this.toScan(at);
    this.scale = Math.abs(scale - 1) < 0.02 ? 1 : scale;
    this.fitted = false;
    this.x = at.x - p.x * this.scale;
    this.y = at.y - p.y * this.scale;
    this.settle();
  }

  pan(dx, dy) {
    this.fitted = false;
    this.x += dx;
    this.y += dy;
    this.settle();
  }

  settle() {
    const b = this.box, w = this.width * this.scale, h = this.height * this.scale, keep = 40;
    this.x = Math.min(b.width - keep, Math.max(keep - w, this.x));
    this.y = Math.min(b.height - keep, Math.max(keep - h, this.y));
    if (this.scale === 1) { this.x = Math.round(this.x); this.y = Math.round(this.y); } // pixel upon pixel
    this.draw();
  }

  toScan(p) { return { x: (p.x - this.x) / this.scale, y: (p.y - this.y) / this.scale }; }

  toWindow(p) { return { x: p.x * this.scale + this.x, y: p.y * this.scale + this.y }; }

  /** The place of a pointer in the window. */
  at(e) {
    const r = this.window.getBoundingClientRect();
    return { x: e.clientX - r.left - this.window.clientLeft, y: e.clientY - r.top - this.window.clientTop };
  }

  press(e) {
    if (e.button > 0 || e.target.closest?.("button")) return;
    const at = this.at(e);
    this.window.setPointerCapture(e.pointerId);
    this.pointers.set(e.pointerId, at);
    this.moved = 0;
    this.busy = this.pointers.size === 1 && this.tool?.press?.(this.toScan(at), e) === true;
  }

  move(e) {
    const at = this.at(e), was = this.pointers.get(e.pointerId);
    this.tool?.hover?.(this.toScan(at), at);
    if (!was) return;
    if (this.pointers.size === 2) {
      const other = [...this.pointers].find(([id]) => id !== e.pointerId)[1];
      const far = (a, b) => Math.hypot(a.x - b.x, a.y - b.y);
      this.zoom(far(at, other) / Math.max(far(was, other), 1), { x: (at.x + other.x) / 2, y: (at.y + other.y) / 2 });
      this.moved = Infinity;
    } else {
      this.moved += Math.hypot(at.x - was.x, at.y - was.y);
      if (this.busy) this.tool.drag?.(this.toScan(at), e);
      else if (this.moved > 3) this.pan(at.x - was.x, at.y - was.y);
      else return; // a trembling hand moves nothing, and the way so far isn't lost
    }
    this.pointers.set(e.pointerId, at);
  }

  release(e) {
    if (!this.pointers.delete(e.pointerId)) return;
    const at = this.toScan(this.at(e));
    if (this.busy) this.tool?.drop?.(at, e, this.moved);
    else if (this.moved <= 3 && e.type === "pointerup") this.tool?.place?.(at, e);
    this.busy = false;
  }

  wheel(e) {
    if (!e.ctrlKey && !this.window.contains(document.activeElement)) return; // the page scrolls until the picture is chosen
    e.preventDefault();
    this.zoom(Math.exp(-e.deltaY * (e.deltaMode ? 0.05 : 0.0018)), this.at(e));
  }

  key(e) {
    if (e.altKey || e.ctrlKey || e.metaKey || e.target !== this.window) return;
    const far = e.shiftKey ? 10 : 60;
    const does = {
      "+": () => this.zoom(step), "=": () => this.zoom(step), "-": () => this.zoom(1 / step), 0: () => this.fit(), 1: () => this.own(),
      ArrowLeft: () => this.pan(far, 0), ArrowRight: () => this.pan(-far, 0), ArrowUp: () => this.pan(0, far), ArrowDown: () => this.pan(0, -far),
      Enter: () => this.tool?.place?.(this.toScan({ x: this.box.width / 2, y: this.box.height / 2 }), e),
    }[e.key];
    if (!does) return;
    e.preventDefault();
    does();
  }

  draw() {
    if (this.waiting || !this.box) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      const { ratio } = this.box, c = this.canvas.getContext("2d");
      c.setTransform(1, 0, 0, 1, 0, 0);
      c.clearRect(0, 0, this.canvas.width, this.canvas.height);
      this.paint(c, this.canvas.width, this.canvas.height, this.scale * ratio, this.x * ratio, this.y * ratio);
      this.label();
      this.dispatchEvent(new Event("drawn"));
    });
  }

  /** Paints the scan into a context at a scale, its corner at x, y. */
  paint(c, width, height, scale, x, y) {
    c.imageSmoothingEnabled = scale < 2; // beyond that, pixels are to be told apart
    c.imageSmoothingQuality = "high";
    if (this.preview.complete && this.preview.naturalWidth) c.drawImage(this.preview, x, y, this.width * scale, this.height * scale);
    if (!this.info) return;
    const s = scale / this.per; // device pixels to a pixel of the service
    const factor = this.factors.reduce((best, f) => (f <= 1 / s && f > best ? f : best), 1);
    const span = this.edge * factor;
    const first = (o) => Math.max(0, Math.floor(-o / s / span));
    const right = Math.min(this.info.width, (width - x) / s), lower = Math.min(this.info.height, (height - y) / s);
    for (let ty = first(y); ty * span < lower; ty++) {
      for (let tx = first(x); tx * span < right; tx++) {
        const w = Math.min(span, this.info.width - tx * span), h = Math.min(span, this.info.height - ty * span);
        const image = this.tile(tx * span, ty * span, w, h, factor);
        if (image) c.drawImage(image, x + tx * span * s, y + ty * span * s, w * s, h * s);
      }
    }
  }

  tile(x, y, w, h, factor) {
    const path = `/${x},${y},${w},${h}/${Math.ceil(w / factor)},${Math.ceil(h / factor)}/0/default.jpg`;
    let t = this.tiles.get(path);
    if (t) {
      this.tiles.delete(path); // to the end of the line
    } else {
      t = make("img", { decoding: "async", src: this.base + path, onload: () => { t.ready = true; this.draw(); } });
      if (this.tiles.size > kept) this.tiles.delete(this.tiles.keys().next().value);
    }
    this.tiles.set(path, t);
    return t.ready ? t : null;
  }

  /** True when every tile asked for has come. */
  get settled() { return !this.waiting && [...this.tiles.values()].every((t) => t.complete); }

  label() {
    this.status.textContent = `${(this.scale * 100).toPrecision(3)} % of the scan’s ${this.width} × ${this.height} pixels`;
    const perMM = this.scale / this.mmPerPixel; // CSS pixels to a mm
    this.bar.hidden = !this.mmPerPixel || !isFinite(perMM);
    if (this.bar.hidden) return;
    const room = 160 / perMM, power = 10 ** Math.floor(Math.log10(room));
    const mm = power * [5, 2, 1].find((n) => n * power <= room);
    this.bar.style.setProperty("--long", `${mm * perMM}px`);
    this.bar.textContent = `${Number(mm.toPrecision(3))} mm`;
  }
}
