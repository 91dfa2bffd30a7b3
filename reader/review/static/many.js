// Side by side: a long wall of which only the rows near the window exist.

import { inTurn, onTurn, post } from "./common.js";

const wall = document.getElementById("wall");
const count = Number(wall.dataset.count);
const asked = JSON.parse(wall.dataset.asked);
const chosen = new Set();
const shown = document.getElementById("chosen");
const WIDTH = 152; // at least
const HEIGHT = 296;
const ROWS = 2; // fetched together
const AROUND = 500; // pixels beyond the window, once what is in it is there
const blocks = new Map(); // by number, from the top
let columns = 0;
let here = 0;
let step = Number(wall.dataset.step);

const cards = () => [...wall.querySelectorAll(".card")];
const cardAt = (place) => wall.querySelector(`[data-place="${place + 1}"]`);

function lay() {
  const across = Math.max(1, Math.floor(wall.clientWidth / WIDTH));
  if (across !== columns) {
    columns = across;
    wall.style.height = `${Math.ceil(count / columns) * HEIGHT}px`;
    blocks.forEach((block) => block.remove());
    blocks.clear();
  }
  fillAround();
}

/** Makes the blocks in the window, or within some pixels of it; nearest to its middle first. */
function fill(around = 0) {
  const top = -wall.getBoundingClientRect().top;
  const tall = ROWS * HEIGHT;
  const last = Math.ceil(count / (columns * ROWS)) - 1;
  const within = (pixels) => [
    Math.max(0, Math.floor((top - pixels) / tall)),
    Math.min(last, Math.floor((top + innerHeight + pixels) / tall)),
  ];
  const [least, most] = within(2 * AROUND);
  for (const [number, block] of blocks) {
    if (number >= least && number <= most) continue;
    block.remove();
    blocks.delete(number);
  }
  const middle = (top + innerHeight / 2) / tall - 0.5;
  const [from, to] = within(around);
  const missing = [];
  for (let number = from; number <= to; number++) if (!blocks.has(number)) missing.push(number);
  missing.sort((a, b) => Math.abs(a - middle) - Math.abs(b - middle));
  return Promise.all(missing.map(make));
}

/** First what is in the window, then what is near it. */
const fillAround = () => fill().then(() => fill(AROUND));

function make(number) {
  const block = document.createElement("div");
  block.className = "part";
  block.style.top = `${number * ROWS * HEIGHT}px`;
  block.style.height = `${ROWS * HEIGHT}px`;
  block.style.gridTemplateColumns = `repeat(${columns}, 1fr)`;
  blocks.set(number, block);
  wall.append(block);
  return load(number, block);
}

async function load(number, block) {
  const query = new URLSearchParams({ ...asked, offset: number * ROWS * columns, count: ROWS * columns });
  const response = await fetch(`/many/cards?${query}`);
  if (!response.ok || blocks.get(number) !== block) return;
  block.innerHTML = await response.text();
  for (const card of block.children) paint(card);
}

const refill = () => Promise.all([...blocks].map(([number, block]) => load(number, block)));

function paint(card) {
  card.querySelector("input").checked = chosen.has(Number(card.dataset.id));
  card.classList.toggle("here", Number(card.dataset.place) === here + 1);
}

function tell() {
  cards().forEach(paint);
  shown.textContent = shown.dataset.words.replace("#", chosen.size);
}

async function go(place) {
  here = Math.max(0, Math.min(count - 1, place));
  const number = Math.floor(here / (columns * ROWS));
  if (!blocks.has(number)) await make(number);
  cards().forEach(paint);
  cardAt(here)?.scrollIntoView({ block: "nearest" });
}

let waiting = false;
addEventListener("scroll", () => {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    fillAround();
  });
});
lay();
new ResizeObserver(lay).observe(wall);

wall.addEventListener("change", (event) => {
  const card = event.target.closest(".card");
  const id = Number(card.dataset.id);
  if (event.target.checked) chosen.add(id);
  else chosen.delete(id);
  here = Number(card.dataset.place) - 1;
  tell();
});

wall.addEventListener("keydown", (event) => {
  const by = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -columns, ArrowDown: columns, Home: -count, End: count }[event.key];
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
  if (!answer.trouble) chosen.clear();
  await takenOver(answer);
}

async function takenOver(answer) {
  step = answer.step;
  tell();
  await refill();
}

onTurn({ data: () => ({}), show: takenOver });

// only what can be seen: nothing is kept that nobody looked at
function inView(card) {
  const { top, bottom } = card.getBoundingClientRect();
  return top > -HEIGHT / 3 && bottom < innerHeight + HEIGHT / 3;
}

const DO = {
  accept: () => inTurn(() => settle("/many/accept")),
  reject: () => inTurn(() => settle("/many/reject")),
  "choose-due": () => {
    cards()
      .filter((card) => card.dataset.due && inView(card))
      .forEach((card) => chosen.add(Number(card.dataset.id)));
    tell();
  },
  "choose-none": () => {
    chosen.clear();
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
