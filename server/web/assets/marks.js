// What is marked on a picture, as the form's text has it: landmarks, structures and a scale, in pixels of the scan. Every change can be taken back.

const digits = (n) => String(Number(n.toFixed(3)));

export class Marks extends EventTarget {
  constructor(form, width, height) {
    super();
    this.form = form;
    this.width = width;
    this.height = height;
    this.past = [];
    this.read();
  }

  field(name) { return this.form.elements.namedItem(name); }

  read() {
    const lines = (name) => this.field(name).value.split("\n").map((l) => l.trim()).filter(Boolean);
    this.landmarks = lines("landmarks").flatMap((line) => {
      const cut = line.lastIndexOf(":"), [x, y] = line.slice(cut + 1).split(",").map(Number);
      return cut > 0 && isFinite(x) && isFinite(y) ? [{ name: line.slice(0, cut).trim(), x, y }] : [];
    });
    this.parts = lines("structures").map((line) => {
      const [name, state = "", place = "", ...note] = line.split(";").map((s) => s.trim());
      const [x, y, w, h] = place.split(",").map(Number);
      return { name, state, note: note.join("; "), ...(place && isFinite(h) ? { x, y, w, h } : {}) };
    });
    const ends = ["x1", "y1", "x2", "y2"].map((n) => this.field(n).value.trim());
    this.ends = [0, 2].filter((i) => ends[i] && ends[i + 1]).map((i) => ({ x: Number(ends[i]), y: Number(ends[i + 1]) }));
  }

  write() {
    this.field("landmarks").value = this.landmarks.map((m) => `${m.name}: ${digits(m.x)}, ${digits(m.y)}\n`).join("");
    this.field("structures").value = this.parts.map((p) => {
      const out = [p.name, p.state, p.w ? [p.x, p.y, p.w, p.h].map(digits).join(", ") : "", p.note];
      while (out.length > 1 && !out.at(-1)) out.pop();
      return out.join("; ") + "\n";
    }).join("");
    ["x1", "y1", "x2", "y2"].forEach((n, i) => {
      const end = this.ends[i >> 1];
      this.field(n).value = end ? digits(i % 2 ? end.y : end.x) : "";
    });
  }

  /** Changes something, so that it can be taken back. Changes with the same non-empty label one after another are one. */
  change(label, does) {
    const before = this.snapshot();
    does();
    if (!label || label !== this.last) this.past.push(before);
    this.last = label;
    this.after();
  }

  after() {
    this.write();
    this.dispatchEvent(new Event("change"));
  }

  snapshot() { return JSON.stringify([this.landmarks, this.parts, this.ends, this.field("counted").value]); }

  undo() {
    const before = this.past.pop();
    if (!before) return false;
    [this.landmarks, this.parts, this.ends, this.field("counted").value] = JSON.parse(before);
    this.last = "";
    this.after();
    return true;
  }

  within(p) { return { x: Math.min(this.width, Math.max(0, p.x)), y: Math.min(this.height, Math.max(0, p.y)) }; }

  static base(fin, kind) { return `${fin} ${kind} base `; }

  /** The bases of a fin's spines or rays, in order. */
  bases(fin, kind) {
    const prefix = Marks.base(fin, kind);
    return this.landmarks.filter((m) => m.name.startsWith(prefix)).sort((a, b) => Number(a.name.slice(prefix.length)) - Number(b.name.slice(prefix.length)));
  }

  /** Puts other bases in the place of those of a fin, numbered from 1, and notes that the fin was counted. */
  setBases(fin, kind, list) {
    const prefix = Marks.base(fin, kind);
    this.landmarks = this.landmarks.filter((m) => !m.name.startsWith(prefix));
    list.forEach((m, i) => this.landmarks.push(Object.assign(m, { name: prefix + (i + 1) })));
    const counted = this.field("counted"), fins = counted.value.split(",").map((s) => s.trim()).filter(Boolean);
    const any = this.bases(fin, "spine").length + this.bases(fin, "ray").length > 0;
    counted.value = [...fins.filter((f) => f !== fin), ...(any ? [fin] : [])].join(", ");
  }
}
