// One tab: a cursor goes from number to number on the picture; what is typed goes where it stands.

import { inTurn, keysAreOn, post, say } from "./common.js";
import { STAGE, setStage } from "./stage.js";

const tab = document.getElementById("tab");
const TOGETHER = 1200; // milliseconds within which two digits make one number
if (tab) start();

function start() {
  const stage = document.getElementById("stage");
  const table = document.getElementById("table");
  const number = document.getElementById("number");
  const main = document.getElementById("main");
  let at = null; // the cell that the cursor is on
  let digits = "";
  let typed = 0;

  const cells = () => [...stage.querySelectorAll(".cell")];
  const of = (cell) => ({ event: Number(cell.dataset.event), string: Number(cell.dataset.string) });
  const cellAt = (event, string) => stage.querySelector(`.cell[data-event="${event}"][data-string="${string}"]`);
  const column = (event) => cells().filter((c) => Number(c.dataset.event) === event);

  function go(cell) {
    if (!cell) return;
    at?.classList.remove("here");
    at = cell;
    at.classList.add("here");
    document.getElementById("place").textContent = at.dataset.words;
    number.value = at.dataset.text;
    const [view, box] = [stage.getBoundingClientRect(), at.getBoundingClientRect()];
    if (box.left < view.left + 60 || box.right > view.right - 60) stage.scrollLeft += box.left - view.left - view.width / 2;
  }

  // to the next group, onto its number nearest to the line
  function sideways(by) {
    if (!at) return;
    const { event, string } = of(at);
    const there = column(event + by);
    const away = (cell) => Math.abs(Number(cell.dataset.string) - string);
    go(there.filter((c) => c.dataset.text).sort((a, b) => away(a) - away(b))[0] ?? there.find((c) => !away(c)));
  }

  const upright = (by) => at && go(cellAt(of(at).event, of(at).string + by));

  function doubt() {
    const unsure = cells().filter((c) => "unsure" in c.dataset);
    const next = unsure.find((c) => at && cells().indexOf(c) > cells().indexOf(at)) ?? unsure[0];
    if (next) go(next);
    else say(stage.dataset.sure);
  }

  function draw(answer, down) {
    const { event, string } = at ? of(at) : { event: 0, string: 1 };
    const open = document.getElementById("as-table").open;
    const photo = stage.querySelector(".photo");
    const fresh = document.createElement("div");
    fresh.innerHTML = answer.stage;
    for (const part of [".places", ".drawn"]) stage.querySelector(part).replaceWith(fresh.querySelector(part));
    stage.firstElementChild.insertBefore(photo, stage.querySelector(".drawn")); // it stays: loading it anew would flicker
    table.innerHTML = answer.table;
    document.getElementById("as-table").open = open;
    tab.dataset.draft = JSON.stringify(answer.draft);
    tab.classList.toggle("changed", answer.changed === "yes");
    go(cellAt(answer.added ?? event, string + down) ?? cellAt(0, 1)); // lines count from the top: all move with it
  }

  const edit = (name, values, down = 0) =>
    inTurn(async () => {
      const answer = await post("/tabs/edit", { id: Number(tab.dataset.id), draft: JSON.parse(tab.dataset.draft), edit: name, values });
      if (answer) draw(answer, down);
    });

  const write = (text) => at && edit("number", { ...of(at), text });

  const decide = (path) =>
    inTurn(async () => {
      const body = { id: Number(tab.dataset.id), step: Number(tab.dataset.step), draft: JSON.parse(tab.dataset.draft) };
      const answer = await post(path, body);
      if (answer?.step) tab.dataset.step = answer.step;
    });

  // a group between this one and the next
  function between() {
    if (!at) return;
    const middle = (cell) => cell.x.baseVal.value + cell.width.baseVal.value / 2;
    const { event, string } = of(at);
    const [here, next] = [middle(at), cellAt(event + 1, string)];
    edit("event", { x: next ? (here + middle(next)) / 2 : here + 3 * at.width.baseVal.value });
  }

  const DO = {
    ...STAGE,
    left: () => sideways(-1),
    right: () => sideways(1),
    up: () => upright(-1),
    down: () => upright(1),
    mute: () => write("x"),
    clear: () => write(""),
    ghost: () => at && edit("ghost", of(at)),
    doubt,
    event: between,
    "drop-top": () => edit("drop-line", { edge: "top" }, -1),
    "add-top": () => edit("add-line", { edge: "top" }, 1),
    "drop-bottom": () => edit("drop-line", { edge: "bottom" }),
    "add-bottom": () => edit("add-line", { edge: "bottom" }),
    back: () => location.reload(),
    "keep-tab": () => decide("/tabs/accept"),
    "reject-tab": () => decide("/tabs/reject"),
  };

  document.addEventListener("click", (event) => {
    const name = event.target.closest("button")?.id.replace("do-", "");
    if (DO[name]) {
      DO[name]();
      main.focus({ preventScroll: true });
    }
  });

  stage.addEventListener("click", (event) => {
    const cell = event.target.closest(".cell");
    const picture = event.target.closest(".places");
    digits = "";
    if (cell) go(cell);
    else if (picture) {
      const area = picture.getBoundingClientRect();
      edit("event", { x: ((event.clientX - area.left) / area.width) * picture.viewBox.baseVal.width });
    }
  });

  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("#number, #table input")) {
      event.preventDefault();
      main.focus({ preventScroll: true }); // fires 'change' when the text is new
    } else if (event.key === "Backspace" && !event.target.matches("input, select")) {
      event.preventDefault();
      DO.clear();
    }
    if (!/^\d$/.test(event.key)) digits = "";
    if (!/^\d$/.test(event.key) || event.ctrlKey || event.altKey || event.metaKey || !keysAreOn()) return;
    if (event.target.matches("input, select")) return;
    event.preventDefault();
    digits = event.timeStamp - typed < TOGETHER && digits.length === 1 ? digits + event.key : event.key;
    typed = event.timeStamp;
    write(digits);
  });

  document.addEventListener("change", (event) => {
    if (event.target === number) write(number.value);
    else if (event.target.id === "tab-tuning") edit("tuning", { text: event.target.value });
    else if (event.target.matches("#table input")) edit("number", { ...of(event.target), text: event.target.value });
  });

  function size() {
    // a line's distance stays large enough for a finger; a short system is not blown up
    const paper = stage.querySelector(".system-paper");
    paper.style.setProperty("--natural", `${paper.dataset.width}px`);
  }

  size();
  setStage();
  go(cells().find((c) => "unsure" in c.dataset) ?? cells().find((c) => c.dataset.text) ?? cells()[0]);
  main.focus({ preventScroll: true });
}
