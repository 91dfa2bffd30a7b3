// A whole page: choose boxes, draw one that was missed, cut one in two, join several.

import { inTurn, post } from "./common.js";

const page = document.getElementById("page");
if (page) start();

function start() {
  const svg = page.querySelector("svg");
  const box = svg.querySelector(".new");
  const cutting = svg.querySelector(".cutting");
  const cut = document.getElementById("cut");
  const hint = document.getElementById("new-hint");
  const width = Number(page.dataset.width);
  const height = Number(page.dataset.height);
  const step = Number(page.dataset.step);
  const ticks = [...document.querySelectorAll(".listing input")];
  let drawn = null; // x, y, w, h in page pixels
  let from = null;

  const chosen = () => ticks.filter((t) => t.checked).map((t) => Number(t.dataset.id));
  const polygon = (id) => svg.querySelector(`[data-id="${id}"]`);
  const corners = (id) => [...polygon(id).points].map((p) => [p.x, p.y]);

  function paint() {
    for (const tick of ticks) polygon(tick.dataset.id).classList.toggle("chosen", tick.checked);
    const [x, y, w, h] = drawn ?? [0, 0, 0, 0];
    for (const [name, value] of Object.entries({ x, y, width: w, height: h })) box.setAttribute(name, value);
    hint.hidden = !drawn;
    document.body.dataset.arrows = drawn ? "taken" : ""; // they move the box
    paintCut(true);
    const count = chosen().length;
    const able = { "open-one": count === 1, "split-across": count === 1, "split-down": count === 1, merge: count > 1, read: drawn, drop: drawn || count };
    for (const [name, can] of Object.entries(able)) document.getElementById(`do-${name}`).disabled = !can;
    cut.disabled = count !== 1;
  }

  function paintCut(across) {
    const ids = chosen();
    cutting.removeAttribute("d");
    if (ids.length !== 1) return;
    const [a, b, c, d] = corners(ids[0]);
    const at = Number(cut.value) / 100;
    const between = (p, q) => [p[0] + (q[0] - p[0]) * at, p[1] + (q[1] - p[1]) * at];
    const [p, q] = across ? [between(a, b), between(d, c)] : [between(a, d), between(b, c)];
    cutting.setAttribute("d", `M${p[0]} ${p[1]}L${q[0]} ${q[1]}`);
  }

  function place(event) {
    const area = svg.getBoundingClientRect();
    return [((event.clientX - area.left) / area.width) * width, ((event.clientY - area.top) / area.height) * height];
  }

  svg.addEventListener("pointerdown", (event) => {
    if (event.target.closest(".box[data-id]")) return;
    // a finger scrolls, unless a new box was asked for
    if (event.pointerType === "touch" && !page.classList.contains("drawing")) return;
    from = place(event);
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (!from) return;
    const [x, y] = place(event);
    drawn = [Math.min(x, from[0]), Math.min(y, from[1]), Math.abs(x - from[0]), Math.abs(y - from[1])];
    paint();
  });
  svg.addEventListener("pointerup", () => {
    from = null;
    if (drawn && Math.min(drawn[2], drawn[3]) > Math.max(width, height) * 0.008) read();
  });
  svg.addEventListener("click", (event) => {
    const hit = event.target.closest(".box[data-id]");
    if (!hit) return;
    const tick = ticks.find((t) => t.dataset.id === hit.dataset.id);
    tick.checked = !tick.checked;
    paint();
  });
  svg.addEventListener("dblclick", (event) => {
    const hit = event.target.closest(".box[data-id]");
    if (hit) location.assign(`/?id=${hit.dataset.id}`);
  });

  function read() {
    if (!drawn) return;
    const [x, y, w, h] = drawn;
    const body = { corners: [[x, y], [x + w, y], [x + w, y + h], [x, y + h]] };
    inTurn(() => post(`/pages/${page.dataset.id}/read`, body));
  }

  function split(across) {
    paintCut(across);
    const [sighting] = chosen();
    inTurn(() => post(`/pages/${page.dataset.id}/split`, { sighting, at: Number(cut.value) / 100, across, step }));
  }

  const DO = {
    new: () => {
      page.classList.add("drawing");
      drawn = [width * 0.42, height * 0.42, width * 0.16, width * 0.18];
      paint();
      svg.scrollIntoView({ block: "nearest" });
    },
    read,
    drop: () => {
      page.classList.remove("drawing");
      drawn = null;
      ticks.forEach((t) => (t.checked = false));
      paint();
    },
    "open-one": () => {
      const [id] = chosen();
      if (id) location.assign(`/?id=${id}`);
    },
    "split-across": () => split(true),
    "split-down": () => split(false),
    larger: () => {
      const large = page.classList.toggle("large");
      document.getElementById("do-larger").setAttribute("aria-pressed", large);
    },
    merge: () => inTurn(() => post(`/pages/${page.dataset.id}/merge`, { ids: chosen(), step })),
  };

  document.addEventListener("click", (event) => {
    const name = event.target.closest("button")?.id.replace("do-", "");
    if (!DO[name]) return;
    DO[name]();
    document.getElementById("main").focus({ preventScroll: true });
  });
  document.addEventListener("change", paint);
  cut.addEventListener("input", () => paintCut(true));

  document.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!drawn || !way || event.target.matches("input")) return;
    event.preventDefault();
    const pace = Math.max(width, height) / 120;
    const at = event.shiftKey ? 2 : 0;
    drawn[at] = Math.max(4, drawn[at] + way[0] * pace);
    drawn[at + 1] = Math.max(4, drawn[at + 1] + way[1] * pace);
    paint();
  });
  paint();
}
