// One tab: numbers changed in place, kept or taken out as a whole.

import { inTurn, post } from "./common.js";

const table = document.getElementById("tab");

function changes() {
  return [...table.querySelectorAll("input")]
    .filter((i) => i.value !== i.defaultValue)
    .map((i) => ({ event: Number(i.dataset.event), string: Number(i.dataset.string), text: i.value }));
}

const DO = {
  "keep-tab": () => post("/tabs/accept", { id: Number(table.dataset.id), step: Number(table.dataset.step), changes: changes() }),
  "reject-tab": () => post("/tabs/reject", { id: Number(table.dataset.id) }),
};

document.addEventListener("click", (event) => {
  const name = event.target.closest("button")?.id.replace("do-", "");
  if (DO[name]) inTurn(DO[name]);
});

table?.addEventListener("keydown", (event) => {
  const way = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] }[event.key];
  if (!way || !event.target.matches("input")) return;
  const [string, at] = [Number(event.target.dataset.string) + way[0], Number(event.target.dataset.event) + way[1]];
  const next = table.querySelector(`[data-string="${string}"][data-event="${at}"]`);
  if (!next) return;
  event.preventDefault();
  next.focus();
  next.select();
});
