// The picture of a page, to be zoomed, with its structures outlined on demand.
import { Viewer, make, svg } from "./viewer.js";

const figure = document.querySelector("figure[data-viewer]");
if (figure) {
  const viewer = new Viewer(figure);
  figure.viewer = viewer;
  const parts = JSON.parse(figure.dataset.structures || "[]");
  if (parts.length) outline(viewer, parts);
}

function outline(viewer, parts) {
  let shown = false;
  const said = () => (shown ? "Hide the outlines" : "Outline the structures");
  const button = make("button", { type: "button", className: "quiet", textContent: said() });
  button.setAttribute("aria-pressed", "false");
  const draw = () => {
    viewer.overlay.replaceChildren();
    if (!shown) return;
    const taken = [];
    for (const p of parts) {
      const at = viewer.toWindow({ x: p.x * viewer.width, y: p.y * viewer.height });
      const w = p.w * viewer.width * viewer.scale, h = p.h * viewer.height * viewer.scale;
      let y = at.y - 4;
      while (taken.some((t) => Math.abs(t.y - y) < 14 && Math.abs(t.x - at.x) < 110)) y -= 14; // names don't stand upon each other
      taken.push({ x: at.x, y });
      viewer.overlay.append(svg("rect", { x: at.x, y: at.y, width: w, height: h, class: p.sound ? "part" : "part doubtful" }), svg("text", { x: at.x, y, class: "name" }, p.label));
    }
  };
  button.addEventListener("click", () => {
    shown = !shown;
    button.textContent = said();
    button.setAttribute("aria-pressed", String(shown));
    draw();
  });
  viewer.addEventListener("drawn", draw);
  viewer.buttons.prepend(button);
}
