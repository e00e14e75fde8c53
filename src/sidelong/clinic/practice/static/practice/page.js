// The page of the grid: sends keys to grid.js, shows what it says, keeps and sends what changed.

import * as grid from "./grid.js";
import * as words from "./words.js";

const PAUSE_MS = 500;
const LONGEST_WAIT_MS = 30_000;
const TIMEOUT_MS = 15_000;
const MOVES = {
  ArrowUp: "up", ArrowDown: "down", Home: "first", End: "last",
  ArrowLeft: "back", ArrowRight: "forward",
};

const form = document.querySelector("#nights");
const given = JSON.parse(document.querySelector("#nights-known").textContent);
const shelf = `sidelong ${given.user} ${given.code} ${given.course} `;
const isRightToLeft = getComputedStyle(form).direction === "rtl";

let state = grid.begin(given.nights, given.orders, given.start);
let shown = { nights: [] };
let link = "idle";
let isSending = false;
let tries = 0;
let timer = 0;
let canKeep = true;
const onShelf = new Set();

const cellAt = (row, column) =>
  form.querySelector(`[data-row="${row}"][data-column="${column}"]`);
const nightAt = (row) => form.querySelector(`[data-night="${row}"]`);

function take(next, { focus = false } = {}) {
  if (next === state) return;
  state = next;
  keep();
  show();
  if (focus) cellAt(state.at.row, state.at.column).focus();
  if (grid.waiting(state).length && !isSending) schedule(PAUSE_MS);
}

// Showing

function show() {
  const dates = grid.dates(state);
  state.nights.forEach((night, row) => {
    showDate(row, dates[row]);
    if (night !== shown.nights[row]) showNight(night, row);
  });
  const line = words.pageWords(state, link);
  const warning = canKeep ? "" : " This browser keeps nothing: leave the page open until all is saved.";
  const standing = document.querySelector("#standing");
  standing.textContent = line + warning;
  standing.dataset.link = link;
  standing.dataset.waiting = String(grid.waiting(state).length);
  document.querySelector("#undo").disabled = !state.past.length;
  document.querySelector("#redo").disabled = !state.future.length;
  shown = state;
}

function showNight(night, row) {
  const box = nightAt(row);
  box.dataset.standing = grid.standing(night);
  box.querySelector(".standing").textContent = words.standingWords(night);
  night.cells.forEach((cell, column) => setText(cellAt(row, column), words.cellWords(cell)));
  setText(cellAt(row, night.order.length), words.bestWords(night.felt_best));
  for (const field of box.querySelectorAll("[data-field]")) setText(field, night[field.dataset.field]);
  showFaults(box, night);
  showClash(box, night, row);
}

function setText(field, text) {
  if (field.value !== text) field.value = text;
}

function showDate(row, { date, given: isGiven }) {
  const place = nightAt(row).querySelector(".evening");
  const text = date ? shortDate(date) + (isGiven ? "" : ", counted") : "";
  if (place.textContent !== text) place.textContent = text;
}

function shortDate(date) {
  const day = new Date(`${date}T00:00:00Z`);
  const parts = { weekday: "short", day: "numeric", month: "short", timeZone: "UTC" };
  // Day before month in every language, as on the other pages: 4/11 and 11/4 are never mixed up.
  const said = new Intl.DateTimeFormat(document.documentElement.lang, parts).formatToParts(day);
  const part = (type) => said.find((each) => each.type === type).value;
  return `${part("weekday")} ${part("day")} ${part("month")}`;
}

function showFaults(box, night) {
  const list = box.querySelector(".at-cells");
  list.replaceChildren();
  for (const field of box.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
  const faulty = night.faults.length > 0;
  for (const each of faulty ? night.faults : night.notices) {
    const field = fieldOf(box, each);
    const item = document.createElement("li");
    item.id = `${field?.id ?? box.id}-${each.column}-said`;
    item.className = faulty ? "fault" : "aside";
    const name = field?.labels?.[0]?.querySelector(".label")?.textContent.trim();
    item.textContent = name ? `${name}: ${each.text}` : each.text;
    list.append(item);
    field?.setAttribute("aria-describedby", item.id);
    if (faulty) field?.setAttribute("aria-invalid", "true");
  }
}

function fieldOf(box, { slot, column }) {
  if (column === "felt_best") return box.querySelector(".best input");
  if (slot) return box.querySelectorAll(".cell input")[slot - 1];
  return box.querySelector(`[data-field="${column}"]`);
}

function showClash(box, night, row) {
  box.querySelector(".clash")?.remove();
  if (!night.clash) return;
  const part = document.querySelector("#clash").content.cloneNode(true);
  const theirs = [...night.clash.cells.map(words.cellWords), words.bestWords(night.clash.felt_best)];
  part.querySelector(".theirs").textContent = theirs.map((text) => text || "blank").join("; ");
  part.querySelector(".mine").addEventListener("click", () => take(grid.settle(state, row, true)));
  part.querySelector(".take").addEventListener("click", () => take(grid.settle(state, row, false)));
  box.append(part);
  const buttons = box.querySelectorAll(".clash button");
  for (const button of buttons) {
    button.addEventListener("click", () => cellAt(row, 0).focus());
  }
}

function tell(text) {
  document.querySelector("#told").textContent = text;
}

// Keeping: every night that is not with the clinic yet lies in this browser, by code alone.

function keep() {
  const open = new Map(grid.toStore(state).map((night) => [String(night.night), night]));
  try {
    for (const [night, copy] of open) {
      localStorage.setItem(shelf + night, JSON.stringify(copy));
      onShelf.add(night);
    }
    for (const night of onShelf) {
      if (open.has(night)) continue;
      localStorage.removeItem(shelf + night);
      onShelf.delete(night);
    }
    canKeep = true;
  } catch {
    canKeep = false;
  }
}

function takeFromShelf() {
  const stored = [];
  try {
    for (let place = 0; place < localStorage.length; place += 1) {
      const key = localStorage.key(place);
      if (!key.startsWith(shelf)) continue;
      stored.push(JSON.parse(localStorage.getItem(key)));
      onShelf.add(key.slice(shelf.length));
    }
  } catch {
    canKeep = false;
  }
  return stored;
}

// Sending: one request at a time, again and again until the clinic has answered.

function schedule(wait) {
  clearTimeout(timer);
  timer = setTimeout(send, wait);
}

async function send() {
  const sent = grid.waiting(state);
  if (isSending || !sent.length || link === "signed_out") return;
  isSending = true;
  state = grid.noteSent(state, sent);
  keep();
  const before = link;
  link = await post(sent);
  isSending = false;
  keep();
  show();
  if (link !== before && link !== "idle") tell(words.pageWords(state, link));
  if (link === "idle" && before === "lost") tell("The connection is back. " + words.pageWords(state, link));
  tries = link === "idle" ? 0 : tries + 1;
  if (grid.waiting(state).length) schedule(tries ? Math.min(1000 * 2 ** tries, LONGEST_WAIT_MS) : PAUSE_MS);
}

async function post(sent) {
  try {
    const response = await fetch(given.url, {
      method: "POST",
      redirect: "manual",
      headers: {
        "Content-Type": "application/json",
        "X-CSRFToken": form.elements.csrfmiddlewaretoken.value,
      },
      body: JSON.stringify({ nights: sent }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    if (response.type === "opaqueredirect") return "signed_out";
    if (response.status >= 500) return "lost";
    if (!response.ok) return "refused";
    takeReply(sent, await response.json());
    return "idle";
  } catch {
    return "lost";
  }
}

function takeReply(sent, reply) {
  state = grid.takeIn(state, sent, reply);
  const [fault] = reply.faults;
  if (fault) tell(`Night ${fault.night}: ${fault.text}`);
  else if (reply.clashes.length) tell(words.pageWords(state, "idle"));
}

// Listening

function meaningOf(event) {
  if (event.altKey || event.isComposing) return null;
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (event.ctrlKey || event.metaKey) {
    if (key === "z") return event.shiftKey ? grid.redo : grid.undo;
    return key === "y" ? grid.redo : null;
  }
  if (key in MOVES) {
    const turned = { back: "forward", forward: "back" };
    const where = isRightToLeft ? turned[MOVES[key]] ?? MOVES[key] : MOVES[key];
    return (now) => grid.move(now, where);
  }
  return key.length === 1 || ["Enter", "Backspace", "Delete"].includes(key)
    ? (now) => grid.press(now, key)
    : null;
}

form.addEventListener("focusin", ({ target }) => {
  if (!("column" in target.dataset)) return;
  take(grid.goTo(state, Number(target.dataset.row), Number(target.dataset.column)));
});

form.addEventListener("keydown", (event) => {
  if (!("column" in event.target.dataset)) return;
  const meaning = meaningOf(event);
  if (!meaning) return;
  event.preventDefault();
  take(meaning(state), { focus: true });
});

// Screen keyboards send no keys; what they would insert is taken as keys.
form.addEventListener("beforeinput", (event) => {
  if (!("column" in event.target.dataset)) return;
  event.preventDefault();
  const keys = event.inputType.startsWith("delete") ? ["Backspace"] : [...(event.data ?? "")];
  let next = state;
  for (const key of keys) next = grid.press(next, key.toLowerCase());
  take(next, { focus: true });
});

form.addEventListener("change", ({ target }) => {
  if (!("field" in target.dataset)) return;
  const row = Number(target.closest("[data-night]").dataset.night);
  take(grid.write(state, row, target.dataset.field, target.value));
});

form.addEventListener("submit", (event) => event.preventDefault());

document.querySelector("#keys").addEventListener("click", ({ target }) => {
  const key = target.closest("[data-key]")?.dataset.key;
  if (key) take(grid.press(state, key), { focus: true });
});
document.querySelector("#undo").addEventListener("click", () => take(grid.undo(state), { focus: true }));
document.querySelector("#redo").addEventListener("click", () => take(grid.redo(state), { focus: true }));
document.querySelector("#first-blank").addEventListener("click", (event) => {
  event.preventDefault();
  const blank = grid.firstBlank(state) ?? { row: 0, column: 0 };
  cellAt(blank.row, blank.column).focus();
});

addEventListener("online", () => { tries = 0; schedule(0); });
document.addEventListener("visibilitychange", () => {
  if (link === "signed_out") link = "idle";  // somebody may have signed in again in another tab
  schedule(0);
});
addEventListener("beforeunload", (event) => {
  if (!canKeep && grid.waiting(state).length) event.preventDefault();
});

// Beginning

if (matchMedia("(pointer: coarse)").matches) {
  for (const cell of form.querySelectorAll("[data-column]")) cell.inputMode = "none";
}
for (const part of document.querySelectorAll("[data-with-script]")) part.hidden = false;
for (const part of document.querySelectorAll("[data-without-script]")) part.hidden = true;
state = grid.restore(state, takeFromShelf());
keep();
show();
schedule(0);
