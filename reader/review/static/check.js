// The spot check: an answer typed from the drawing alone; where the two differ, one of them is kept.

import { inTurn, post } from "./common.js";

const form = document.getElementById("answer");
const fresh = document.querySelector(".fresh");
const compare = document.getElementById("compare");

const answer = (keep) =>
  inTurn(async () => {
    const given = Object.fromEntries(new FormData(form));
    const said = await post("/check/answer", { id: Number(fresh.dataset.id), ...given, ...(keep ? { keep } : {}) });
    if (!said?.compare) return;
    compare.innerHTML = said.compare;
    form.querySelectorAll("input").forEach((i) => (i.readOnly = true));
    compare.querySelector("h2").focus(); // not a button: Enter alone must not decide
  });

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  answer();
});

fresh?.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (button?.dataset.keep) answer(button.dataset.keep);
  if (button?.id === "do-none-here") inTurn(() => post("/check/no-diagram", { id: Number(fresh.dataset.id) }));
});
