// Marking a picture by hand: the bases of spines and rays, landmarks, the scale, structures. The form's text is what is saved; this only writes it.
import { Viewer, make, svg } from "./viewer.js";
import { Marks } from "./marks.js";

const form = document.querySelector("form.marking");
const hand = form.querySelector(".hand");
const viewer = new Viewer(form.querySelector("figure"));
viewer.figure.viewer = viewer;
const marks = new Marks(form, viewer.width, viewer.height);
const $ = (selector) => form.querySelector(selector);
const reach = 7; // CSS pixels around a mark that take hold of it
let chosen = null; // the mark in hand: an object of marks.landmarks, or an end of the scale
let drawing = null; // the structure being drawn
let dirty = false;

const task = () => $("input[name=task]:checked").value;
const fin = () => $("#fin").value;
const kind = () => $("input[name=kind]:checked").value;
const say = (text) => { $("#said").textContent = text; };

/** The marks that can be taken hold of in the present task. */
function live() {
  switch (task()) {
    case "rays": return marks.bases(fin(), kind());
    case "landmark": return marks.landmarks.filter((m) => !/ base \d+$/.test(m.name));
    case "scale": return marks.ends;
    default: return [];
  }
}

const nameOf = (m) => m.name ?? `end ${marks.ends.indexOf(m) + 1} of the scale`;

function nearest(p) {
  let best = null, least = reach / viewer.scale;
  for (const m of live()) {
    const far = Math.hypot(m.x - p.x, m.y - p.y);
    if (far <= least) { best = m; least = far; }
  }
  return best;
}

function place(p) {
  if (p.x < 0 || p.y < 0 || p.x > viewer.width || p.y > viewer.height) return say("That lies outside of the picture.");
  const at = marks.within(p);
  switch (task()) {
    case "rays": {
      const list = marks.bases(fin(), kind()), after = list.indexOf(chosen);
      const mark = { ...at };
      marks.change("", () => marks.setBases(fin(), kind(), list.toSpliced(after < 0 ? list.length : after + 1, 0, mark)));
      chosen = mark;
      break;
    }
    case "landmark": {
      const name = $("#landmark").value.trim();
      if (!name) return say("Name the landmark first.");
      const old = marks.landmarks.find((m) => m.name === name);
      marks.change("", () => { if (old) Object.assign(old, at); else marks.landmarks.push({ name, ...at }); });
      chosen = marks.landmarks.find((m) => m.name === name);
      offerNext();
      break;
    }
    case "scale":
      marks.change("", () => { marks.ends = marks.ends.length === 1 ? [marks.ends[0], at] : [at]; });
      chosen = at;
      if (marks.ends.length === 2) form.elements.mm.focus();
      break;
    case "part": // the second corner, for those who draw by keys
      if (drawing) { stretch(at); finishPart(); } else drawing = { x: at.x, y: at.y, from: at, w: 0, h: 0 };
      break;
  }
  redraw();
  if (chosen) say(`${nameOf(chosen)} stands at ${Math.round(chosen.x)}, ${Math.round(chosen.y)}.`);
}

/** Proposes the first usual landmark that isn't placed yet. */
function offerNext() {
  const next = [...$("#usual-landmarks").options].map((o) => o.value).find((n) => !marks.landmarks.some((m) => m.name === n));
  $("#landmark").value = next ?? "";
  $("#missing").textContent = next ? `Next: ${next}` : "All usual landmarks are placed.";
}

function stretch(p) {
  const a = drawing.from, b = marks.within(p);
  Object.assign(drawing, { x: Math.min(a.x, b.x), y: Math.min(a.y, b.y), w: Math.abs(a.x - b.x), h: Math.abs(a.y - b.y) });
}

function finishPart() {
  const { x, y, w, h } = drawing, name = $("#part").value.trim(), state = $("#state").value;
  drawing = null;
  if (!name) return say("Name the structure first, then draw around it.");
  if (w < 2 || h < 2) return say("Draw a rectangle around the structure.");
  marks.change("", () => {
    const old = marks.parts.find((t) => t.name === name);
    if (old) Object.assign(old, { x, y, w, h, state }); else marks.parts.push({ name, state, note: "", x, y, w, h });
  });
  say(`${name} is outlined.`);
}

viewer.tool = {
  press(p) {
    if (task() === "part") { drawing = { from: marks.within(p), x: p.x, y: p.y, w: 0, h: 0 }; return true; }
    const m = nearest(p);
    if (m) { chosen = m; this.grip = { dx: m.x - p.x, dy: m.y - p.y, label: `drag ${Date.now()}` }; redraw(); }
    return !!m;
  },
  drag(p) {
    if (drawing) stretch(p);
    else if (viewer.moved > 3) marks.change(this.grip.label, () => Object.assign(chosen, marks.within({ x: p.x + this.grip.dx, y: p.y + this.grip.dy })));
    redraw();
  },
  drop() { if (drawing) finishPart(); redraw(); },
  place,
  hover(p, at) { loupe(p, at); },
};

function nudge(e) {
  const by = e.shiftKey ? 10 : 1;
  const d = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, -by], ArrowDown: [0, by] }[e.key];
  if (!d || !chosen) return false;
  marks.change(`nudge ${nameOf(chosen)}`, () => Object.assign(chosen, marks.within({ x: chosen.x + d[0], y: chosen.y + d[1] })));
  const w = viewer.toWindow(chosen), b = viewer.box;
  if (w.x < 0 || w.y < 0 || w.x > b.width || w.y > b.height) viewer.middle(chosen.x, chosen.y);
  loupe(chosen, viewer.toWindow(chosen));
  return true;
}

function remove() {
  if (!chosen) return say("Choose a mark first.");
  const gone = chosen, name = nameOf(gone);
  marks.change("", () => {
    if (task() === "rays") marks.setBases(fin(), kind(), marks.bases(fin(), kind()).filter((m) => m !== gone));
    else if (task() === "scale") marks.ends = marks.ends.filter((m) => m !== gone);
    else marks.landmarks = marks.landmarks.filter((m) => m !== gone);
  });
  chosen = null;
  say(`${name} is removed.`);
  redraw();
}

function undo() {
  chosen = null;
  say(marks.undo() ? "Taken back." : "There is nothing to take back.");
  redraw();
}

viewer.window.addEventListener("keydown", (e) => {
  if ((e.ctrlKey || e.metaKey) && e.key === "z") { e.preventDefault(); return undo(); }
  if (e.key === "Escape") { drawing = null; chosen = null; redraw(); return; }
  if (!e.target.closest(".mark")) return;
  if (nudge(e)) { e.preventDefault(); redraw(); }
  if (e.key === "Delete" || e.key === "Backspace") { e.preventDefault(); remove(); viewer.window.focus(); }
});

/** Shows the pixels around a place, enlarged, on the side where the pointer isn't. */
const glass = make("canvas", { className: "loupe", width: 180, height: 180 });
glass.setAttribute("aria-hidden", "true");
viewer.window.append(glass);
function loupe(p, at) {
  const c = glass.getContext("2d"), n = glass.width, scale = Math.max(4, viewer.scale * 4);
  glass.classList.toggle("right", at.x < 220 && at.y < 220);
  c.clearRect(0, 0, n, n);
  viewer.paint(c, n, n, scale, n / 2 - p.x * scale, n / 2 - p.y * scale);
  for (const [color, width] of [["#fff", 3], ["#000", 1]]) { // to be seen on any ground
    c.strokeStyle = color;
    c.lineWidth = width;
    c.beginPath();
    for (const [x, y, dx, dy] of [[0, n / 2, n / 2 - 6, 0], [n, n / 2, 6 - n / 2, 0], [n / 2, 0, 0, n / 2 - 6], [n / 2, n, 0, 6 - n / 2]]) { c.moveTo(x, y); c.lineTo(x + dx, y + dy); }
    c.stroke();
  }
}

function redraw() {
  const held = document.activeElement?.closest?.(".mark")?.dataset.at;
  const o = viewer.overlay;
  o.removeAttribute("aria-hidden");
  o.replaceChildren();
  for (const t of [...marks.parts, ...(drawing ? [drawing] : [])]) {
    if (!t.w || task() !== "part") continue;
    const at = viewer.toWindow(t);
    o.append(svg("rect", { x: at.x, y: at.y, width: t.w * viewer.scale, height: t.h * viewer.scale, class: t === drawing ? "part drawing" : "part" }), svg("text", { x: at.x, y: at.y - 4, class: "name" }, t.name ?? ""));
  }
  const current = live();
  for (const m of marks.landmarks) {
    if (current.includes(m)) continue;
    const at = viewer.toWindow(m);
    o.append(svg("circle", { cx: at.x, cy: at.y, r: 2, class: "other" }));
  }
  if (marks.ends.length === 2) {
    const [a, b] = marks.ends.map((m) => viewer.toWindow(m));
    o.append(svg("line", { x1: a.x, y1: a.y, x2: b.x, y2: b.y, class: "measure" }));
  }
  let last = null;
  current.forEach((m, i) => {
    const at = viewer.toWindow(m);
    const g = svg("g", { class: m === chosen ? "mark chosen" : "mark", tabindex: 0, role: "button", "aria-label": `${nameOf(m)}, at ${Math.round(m.x)}, ${Math.round(m.y)}`, "data-at": i });
    g.append(svg("circle", { cx: at.x, cy: at.y, r: 12, class: "hold" }), svg("path", { d: `M${at.x - 5} ${at.y}h10M${at.x} ${at.y - 5}v10` , class: "halo" }), svg("path", { d: `M${at.x - 5} ${at.y}h10M${at.x} ${at.y - 5}v10`, class: "cross" }));
    const text = task() === "rays" ? String(i + 1) : nameOf(m);
    const crowded = last && Math.hypot(at.x - last.x, at.y - last.y) < 15;
    if (!crowded || m === chosen || i === current.length - 1) { g.append(svg("text", { x: at.x, y: at.y - 9, class: task() === "rays" ? "name middle" : "name" }, text)); last = at; }
    g.addEventListener("focus", () => { if (chosen !== m) { chosen = m; redraw(); } loupe(m, viewer.toWindow(m)); });
    o.append(g);
  });
  if (held !== undefined) o.querySelector(`[data-at="${current.indexOf(chosen)}"]`)?.focus();
  list(current);
}

/** The marks as a list: what is too close together in the picture can be chosen here. */
function list(current) {
  $("#marks").replaceChildren(...current.map((m, i) => {
    const b = make("button", { type: "button", className: "quiet", textContent: task() === "rays" ? String(i + 1) : nameOf(m), onclick: () => { chosen = m; viewer.middle(m.x, m.y); redraw(); viewer.overlay.querySelector(`[data-at="${i}"]`)?.focus(); } });
    b.setAttribute("aria-label", `Go to ${nameOf(m)}`);
    if (m === chosen) b.setAttribute("aria-current", "true");
    return make("li", {}, b);
  }));
  const n = (k) => marks.bases(fin(), k).length, plural = (x, w) => `${x} ${w}${x === 1 ? "" : "s"}`;
  $("#tally").textContent = `${fin()}: ${plural(n("spine"), "spine")}, ${plural(n("ray"), "ray")}`;
}

/** Asks what the formula would be, and what the diagnosis says of it. */
let asking;
function look() {
  clearTimeout(asking);
  asking = setTimeout(async () => {
    const body = new URLSearchParams(new FormData(form));
    body.set("do", "look");
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } }).catch(() => null);
    const out = $("#looked");
    if (!answer) return out.replaceChildren(make("p", { textContent: "The archive can’t be reached; your marks stay on this page." }));
    const said = await answer.json().catch(() => ({ error: "Sign in again in another tab; your marks stay on this page." }));
    if (said.error) return out.replaceChildren(make("p", { className: "wrong", textContent: said.error }));
    out.replaceChildren(make("p", {}, "To be saved: ", make("b", { className: "formula", id: "new-formula", textContent: said.formula || "no counts" })),
      make("ul", { className: "plain verdicts" }, ...said.verdicts.map((v) => make("li", {}, make("b", { textContent: v.verdict }), ` ${v.text} `, make("span", { className: "quote", textContent: v.source })))));
  }, 350);
}

marks.addEventListener("change", () => { dirty = true; look(); });
viewer.addEventListener("drawn", redraw);
for (const id of ["#fin", "input[name=kind]", "input[name=task]"]) {
  for (const e of form.querySelectorAll(id)) e.addEventListener("change", () => { chosen = null; drawing = null; tasks(); redraw(); });
}
function tasks() {
  for (const e of hand.querySelectorAll("[data-task]")) e.hidden = !e.dataset.task.split(" ").includes(task());
  if (task() === "landmark") offerNext();
}
$("#undo").addEventListener("click", undo);
$("#remove").addEventListener("click", remove);
for (const name of ["landmarks", "structures", "x1", "y1", "x2", "y2"]) form.elements[name].addEventListener("change", () => { marks.read(); chosen = null; dirty = true; redraw(); look(); });
for (const name of ["formula", "counted"]) form.elements[name].addEventListener("change", () => { dirty = true; look(); });

/** The token of the session as it is now; empty if there is none any more. */
async function freshToken() {
  const answer = await fetch(form.action, { redirect: "manual" }).catch(() => null);
  return answer?.ok ? (/data-token="([0-9a-f]+)"/.exec(await answer.text())?.[1] ?? "") : "";
}

// A session may end while somebody marks: the form is sent only when it will be taken.
form.addEventListener("submit", async (e) => {
  e.preventDefault();
  const does = e.submitter?.value ?? "save";
  if (does === "look") return look();
  const token = await freshToken();
  if (!token) return say("Not saved: sign in again in another tab, then save here. Your marks stay on this page.");
  form.elements.token.value = token;
  form.append(make("input", { type: "hidden", name: "do", value: does }));
  dirty = false;
  form.submit();
});
window.addEventListener("beforeunload", (e) => { if (dirty) e.preventDefault(); });
const shown = [...$("#fin").options].find((o) => marks.parts.some((t) => t.name === o.value));
if (shown) $("#fin").value = shown.value; // a fin that the picture is known to show
hand.hidden = false;
$("details.text").open = false;
dirty = form.dataset.unsaved === "true";
tasks();
