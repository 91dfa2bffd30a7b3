// Side by side: a long list of which only what is near the window exists.

import { inTurn, post } from "./common.js";

const wall = document.getElementById("wall");
const { count, chunk } = Object.fromEntries(Object.entries(wall.dataset).map(([k, v]) => [k, Number(v)]));
const asked = JSON.parse(wall.dataset.asked);
const chosen = new Set();
const shown = document.getElementById("chosen");
const WIDTH = 152;
const HEIGHT = 296;
let here = 0;
let step = Number(wall.dataset.step);

const columns = () => Math.max(1, Math.floor(wall.clientWidth / WIDTH));

let laid = 0;
function lay() {
  const across = columns(); // asked once: each question after a change lays the whole wall anew
  if (across === laid) return;
  laid = across;
  for (const part of wall.children) {
    const cards = Math.min(chunk, count - Number(part.dataset.offset));
    part.style.height = `${Math.ceil(cards / across) * HEIGHT}px`;
  }
}

async function fill(part) {
  if (part.dataset.state === "full") return;
  part.dataset.state = "full";
  const query = new URLSearchParams({ ...asked, offset: part.dataset.offset });
  const response = await fetch(`/many/cards?${query}`);
  if (!response.ok || part.dataset.state !== "full") return;
  part.innerHTML = await response.text();
  for (const card of part.children) paint(card);
}

function empty(part) {
  part.dataset.state = "";
  part.replaceChildren();
}

function paint(card) {
  card.querySelector("input").checked = chosen.has(Number(card.dataset.id));
  card.classList.toggle("here", Number(card.dataset.place) === here + 1);
}

function tell() {
  shown.textContent = shown.dataset.words.replace("#", chosen.size);
}

// what lies nearest to the middle of the window is fetched first
const away = (entry) => {
  const { top, bottom } = entry.boundingClientRect;
  return Math.max(top - innerHeight / 2, innerHeight / 2 - bottom, 0);
};
const near = new IntersectionObserver(
  (entries) =>
    entries
      .toSorted((a, b) => away(a) - away(b))
      .forEach((e) => (e.isIntersecting ? fill(e.target) : empty(e.target))),
  { rootMargin: "300px" },
);
const parts = [];
for (let offset = 0; offset < count; offset += chunk) {
  const part = document.createElement("div");
  part.className = "part";
  part.dataset.offset = offset;
  parts.push(part);
}
wall.append(...parts);
lay();
new ResizeObserver(lay).observe(wall);
for (const part of wall.children) near.observe(part);

const cardAt = (place) => wall.querySelector(`[data-place="${place + 1}"]`);

async function go(place) {
  here = Math.max(0, Math.min(count - 1, place));
  const part = wall.children[Math.floor(here / chunk)];
  await fill(part);
  wall.querySelectorAll(".card").forEach(paint);
  cardAt(here)?.scrollIntoView({ block: "nearest" });
}

wall.addEventListener("change", (event) => {
  const card = event.target.closest(".card");
  const id = Number(card.dataset.id);
  if (event.target.checked) chosen.add(id);
  else chosen.delete(id);
  here = Number(card.dataset.place) - 1;
  wall.querySelectorAll(".card").forEach(paint);
  tell();
});

wall.addEventListener("keydown", (event) => {
  const by = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -columns(), ArrowDown: columns(), Home: -count, End: count }[event.key];
  if (by !== undefined) {
    event.preventDefault();
    go(here + by);
  } else if (event.key === " ") {
    event.preventDefault();
    cardAt(here)?.querySelector("input").click();
    wall.focus();
  }
});

async function settle(path) {
  const answer = await post(path, { ids: [...chosen], step });
  if (!answer) return;
  step = answer.step;
  if (!answer.trouble) chosen.clear();
  tell();
  for (const part of wall.children) if (part.dataset.state === "full") refill(part);
}

async function refill(part) {
  part.dataset.state = "";
  await fill(part);
}

const DO = {
  accept: () => inTurn(() => settle("/many/accept")),
  reject: () => inTurn(() => settle("/many/reject")),
  "choose-due": () => {
    wall.querySelectorAll('.card[data-due="yes"]').forEach((card) => chosen.add(Number(card.dataset.id)));
    wall.querySelectorAll(".card").forEach(paint);
    tell();
  },
  "choose-none": () => {
    chosen.clear();
    wall.querySelectorAll(".card").forEach(paint);
    tell();
  },
  "open-one": () => {
    const card = cardAt(here);
    if (card) location.assign(`/?id=${card.dataset.id}`);
  },
};

document.addEventListener("click", (event) => {
  const name = event.target.closest("button")?.id.replace("do-", "");
  if (!DO[name]) return;
  DO[name]();
  wall.focus({ preventScroll: true });
});

wall.addEventListener("dblclick", (event) => {
  const card = event.target.closest(".card");
  if (card) location.assign(`/?id=${card.dataset.id}`);
});

wall.focus({ preventScroll: true });
