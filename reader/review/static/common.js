// What every view shares: asking the server, saying what happened, and keys.

const said = document.getElementById("said");

export function say(words, trouble = false) {
  said.textContent = words;
  said.classList.toggle("trouble", trouble);
  said.classList.remove("fresh");
  requestAnimationFrame(() => said.classList.add("fresh"));
}

/** Sends an action; says what came of it. Gives null when it did not happen. */
export async function post(path, data = {}) {
  let answer;
  try {
    const response = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(data),
    });
    answer = response.headers.get("content-type")?.startsWith("application/json")
      ? await response.json()
      : { said: await response.text(), trouble: true };
  } catch {
    say(document.body.dataset.gone, true);
    return null;
  }
  if (answer.go) {
    sessionStorage.setItem("said", answer.said ?? "");
    location.assign(answer.go);
    return answer;
  }
  if (answer.said) say(answer.said, answer.trouble);
  return answer.trouble && !answer.html && !answer.step ? null : answer;
}

// Each call waits for the one before: keys pressed quickly are carried out in their order.
let last = Promise.resolve();
export function inTurn(work) {
  last = last.then(work, work);
  return last;
}

const heirs = [];
/** Lets a view take the answer to undo and redo. */
export const onTurn = (heir) => heirs.push(heir);

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-post]");
  if (!button) return;
  inTurn(async () => {
    const more = heirs.reduce((data, heir) => ({ ...data, ...heir.data() }), {});
    const answer = await post(button.dataset.post, { ...more, ...JSON.parse(button.dataset.body ?? "{}") });
    if (answer && !answer.go) {
      if (heirs.length && answer.html) heirs.forEach((heir) => heir.show(answer));
      else if (!heirs.length && answer.html) {
        sessionStorage.setItem("said", answer.said ?? "");
        location.reload();
      }
    }
  });
});

// ---- keys: whatever bears data-key is pressed by that key

const NAMES = { " ": "Space" };
const fields = "input:not([type=checkbox],[type=range]), select, textarea";

export const keysAreOn = () => localStorage.getItem("single-keys") !== "off";

function isVisible(element) {
  return !element.disabled && element.getClientRects().length > 0;
}

document.addEventListener("keydown", (event) => {
  const at = event.target;
  if (event.altKey || event.metaKey || (event.ctrlKey && !"zy".includes(event.key.toLowerCase()))) return;
  if (at.matches(fields)) {
    if (event.key === "Escape") document.getElementById("main").focus();
    return;
  }
  if (document.querySelector("dialog[open]")) return;
  const key = NAMES[event.key] ?? event.key;
  if (!event.ctrlKey && !keysAreOn() && key.length === 1) return;
  // a focused control keeps the keys that work it
  if ((key === "Enter" || key === "Space") && at.matches("a, button, summary, input")) return;
  if (key.startsWith("Arrow") && at.matches("input[type=range]")) return;
  // a field in something folded up is unfolded; a button there is not pressed unseen
  const within = (element) => element.matches("input, select") && element.closest("details:not([open])");
  const target = [...document.querySelectorAll(`[data-key="${CSS.escape(key)}"]`)].find((e) => isVisible(e) || within(e));
  if (!target) return;
  event.preventDefault();
  if (target.matches("input, select")) {
    target.closest("details")?.setAttribute("open", "");
    target.focus();
    target.select?.();
  } else target.click();
});

// ---- lists: arrow keys go from row to row

document.addEventListener("keydown", (event) => {
  const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const list = document.querySelector("[data-rows]");
  if (!by || !list || document.body.dataset.arrows === "taken") return;
  if (event.target.matches(`${fields}, input[type=range]`)) return;
  const rows = [...list.querySelectorAll(list.dataset.rows)];
  const next = rows[rows.indexOf(document.activeElement) + by] ?? rows[by > 0 ? 0 : rows.length - 1];
  event.preventDefault();
  next?.focus();
});

// ---- times as the clock on this wall shows them

const clock = new Intl.DateTimeFormat(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" });
for (const time of document.querySelectorAll("time")) time.textContent = clock.format(new Date(time.dateTime));

document.querySelector(".top [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });

const single = document.getElementById("single-keys");
if (single) {
  single.checked = keysAreOn();
  single.addEventListener("change", () => localStorage.setItem("single-keys", single.checked ? "on" : "off"));
}

const carried = sessionStorage.getItem("said");
if (carried) say(carried);
sessionStorage.removeItem("said");
