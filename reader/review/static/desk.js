// One reading at a time: draws what the server sends, keeps the draft, remembers what was left for later.

import { inTurn, keysAreOn, onTurn, post, say } from "./common.js";
import { strum } from "./sound.js";
import { STAGE, setStage } from "./stage.js";

const holder = document.getElementById("reading");
const main = document.getElementById("main");
const dialog = document.getElementById("around");
const wanted = Object.fromEntries(new URLSearchParams(location.search));
delete wanted.id;

const stored = (name) => JSON.parse(sessionStorage.getItem(name) ?? "[]");
let later = stored("later");
let seen = stored("seen");
let string = 0;

const article = () => holder.querySelector("article");
const draft = () => JSON.parse(article().dataset.draft);
const request = () => ({ ...wanted, later, id: Number(article()?.dataset.id) });

function keepLists() {
  sessionStorage.setItem("later", JSON.stringify(later));
  sessionStorage.setItem("seen", JSON.stringify(seen));
}

function show(answer) {
  holder.innerHTML = answer.html;
  const address = new URL(location);
  if (answer.id) address.searchParams.set("id", answer.id);
  else address.searchParams.delete("id");
  history.replaceState(null, "", address);
  string = 0;
  settleIn();
  main.focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

function settleIn() {
  if (!article()) return;
  markString();
  setStage();
}

function redraw(answer) {
  const open = holder.querySelector(".fields").open;
  const onString = document.activeElement?.matches(".head");
  article().dataset.draft = JSON.stringify(answer.draft);
  const stage = document.createElement("div");
  stage.innerHTML = answer.stage;
  // the photo stays: loading it anew would flicker
  for (const part of [".drawn", ".places"]) holder.querySelector(part).replaceWith(stage.querySelector(part));
  holder.querySelector("#says").innerHTML = answer.says;
  holder.querySelector(".fields").open = open;
  article().classList.toggle("changed", holder.querySelector(".says").dataset.changed === "yes");
  string = Math.min(string, answer.draft.frets.length - 1);
  markString();
  if (onString) holder.querySelectorAll(".head")[string].focus();
}

function markString() {
  holder.querySelectorAll("[data-column]").forEach((c) => c.classList.toggle("here", Number(c.dataset.column) === string));
  holder.querySelectorAll(".head").forEach((s) => {
    const here = Number(s.dataset.string) === string;
    s.classList.toggle("here", here);
    s.tabIndex = here ? 0 : -1;
  });
}

function edit(name, values) {
  return inTurn(async () => {
    if (!article()) return;
    const answer = await post("/desk/edit", { id: request().id, draft: draft(), edit: name, values });
    if (answer) redraw(answer);
  });
}

function decide(path, more) {
  return inTurn(async () => {
    if (!article()) return;
    const asked = { ...request(), step: Number(article().dataset.step), ...more() };
    const answer = await post(path, asked);
    if (!answer) return;
    if (answer.decided) seen.push(answer.decided);
    later = later.filter((id) => id !== answer.decided);
    keepLists();
    show(answer);
    if (!answer.decided) article().classList.add("changed");
  });
}

function open(id, words) {
  return inTurn(async () => {
    const answer = await post("/desk/next", { ...wanted, later, ...(id ? { id } : {}) });
    if (answer) show(answer);
    if (words) say(words);
  });
}

const move = (by) => {
  string = (string + by + draft().frets.length) % draft().frets.length;
  markString();
  if (document.activeElement?.matches(".head")) holder.querySelectorAll(".head")[string].focus();
};

const hear = (which) => strum(JSON.parse(holder.querySelector(".says").dataset[which]));

const DO = {
  keep: () => decide("/desk/accept", () => ({ draft: draft() })),
  "no-diagram": () => decide("/desk/reject", () => ({})),
  later: () => {
    const { id } = request();
    later = [...later.filter((other) => other !== id), id];
    seen.push(id);
    keepLists();
    open(null, null);
  },
  before: () => {
    const id = seen.pop();
    keepLists();
    if (id) open(id);
  },
  "start-over": () => {
    later = [];
    keepLists();
    open(null);
  },
  ...STAGE,
  left: () => move(-1),
  right: () => move(1),
  up: () => edit("move", { string, by: -1 }),
  down: () => edit("move", { string, by: 1 }),
  mute: () => edit("fret", { string, fret: null }),
  open: () => edit("fret", { string, fret: 0 }),
  barre: () => edit("barre", { string }),
  lower: () => edit("first-fret", { fret: draft().first_fret - 1 }),
  higher: () => edit("first-fret", { fret: draft().first_fret + 1 }),
  back: () => open(request().id),
  hear: () => hear("dots"),
  "hear-label": () => hear("label"),
  around: () => around(),
};

document.addEventListener("click", (event) => {
  const at = event.target;
  const button = at.closest("button");
  const name = button?.id.replace("do-", "");
  if (name === "close") return dialog.close();
  if (DO[name]) {
    DO[name]();
    // a pressed button gives the keys back; a string that is being worked on keeps them
    if (!document.activeElement.matches(".head")) main.focus({ preventScroll: true });
    return;
  }
  const other = at.closest("[data-show]");
  if (other) {
    const change = other.dataset.change;
    inTurn(async () => {
      const answer = await post("/desk/edit", { id: request().id, draft: JSON.parse(other.dataset.show), edit: "show" });
      if (!answer) return;
      redraw(answer);
      holder.querySelectorAll(".other").forEach((o) => o.classList.toggle("shown", o === other));
      say(change);
    });
    main.focus({ preventScroll: true });
    return;
  }
  const cell = at.closest(".cell");
  if (cell) {
    string = Number(cell.dataset.string);
    const fret = Number(cell.dataset.fret);
    const stands = draft().frets[string];
    // a second click on the mark above the nut turns open into not played and back
    edit("fret", { string, fret: fret === 0 && stands === 0 ? null : fret });
    return;
  }
  const head = at.closest(".head");
  if (head) {
    string = Number(head.dataset.string);
    markString();
  }
});

// ---- fields: Enter or leaving takes the text over

document.addEventListener("change", (event) => {
  const { edit: name } = event.target.dataset;
  if (!name) return;
  const text = event.target.value;
  const number = Number(text);
  const values = {
    "first-fret": { fret: number },
    rows: { count: number },
    strings: { count: number },
  }[name] ?? { text };
  edit(name, values);
});

// ---- the filter: the next reading under it comes in place, without loading the page anew

const filter = document.querySelector(".filter");

filter.addEventListener("submit", (event) => {
  event.preventDefault();
  narrow(Object.fromEntries([...new FormData(filter)].filter(([, value]) => value)));
});
filter.addEventListener("click", (event) => {
  if (!event.target.matches(".clear")) return;
  event.preventDefault();
  filter.querySelectorAll("select, input").forEach((field) => (field.value = ""));
  narrow({});
});

function narrow(to) {
  for (const name of Object.keys(wanted)) delete wanted[name];
  Object.assign(wanted, to);
  history.replaceState(null, "", `/?${new URLSearchParams(wanted)}`);
  filter.querySelector(".clear").hidden = !Object.keys(to).length;
  open(null);
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("input[data-edit]")) {
    event.preventDefault();
    main.focus({ preventScroll: true }); // fires 'change' when the text is new
  }
  const finger = /^Digit([1-4])$/.exec(event.code);
  if (event.shiftKey && finger && keysAreOn() && article() && !event.target.matches("input, select")) {
    event.preventDefault();
    edit("finger", { string, finger: finger[1] });
  }
});

// ---- the page around the reading

function around() {
  const corners = JSON.parse(article().dataset.corners);
  const [xs, ys] = [corners.map((c) => c[0]), corners.map((c) => c[1])];
  const side = Math.max(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)) * 6;
  const [x, y] = [(Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2];
  const view = dialog.querySelector(".around-view");
  const picture = new Image();
  picture.alt = "";
  picture.addEventListener("load", () => {
    const scale = view.clientWidth / side;
    const natural = Number(article().dataset.pageWidth);
    const [w, h] = [(Math.max(...xs) - Math.min(...xs)) * scale + 24, (Math.max(...ys) - Math.min(...ys)) * scale + 24];
    mark.style.width = `${w}px`;
    mark.style.height = `${h}px`;
    mark.style.left = `${view.clientWidth / 2 - w / 2}px`;
    mark.style.top = `${view.clientHeight / 2 - h / 2}px`;
    picture.style.width = `${natural * scale}px`;
    picture.style.left = `${view.clientWidth / 2 - x * scale}px`;
    picture.style.top = `${view.clientHeight / 2 - y * scale}px`;
  });
  const mark = document.createElement("div");
  mark.className = "here";
  view.replaceChildren(picture, mark);
  dialog.showModal();
  picture.src = `/page/${article().dataset.page}.jpg`;
}

onTurn({ data: request, show });
settleIn();
