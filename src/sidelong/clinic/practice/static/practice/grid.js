// What the keys of the grid do: from one state to the next. No page, no clock, no storage here.
//
// A state is never changed; every function returns a new one, or the same when nothing is to do.
// A blank stays blank: nothing is filled in that was not typed. Two keys alone fill more than one
// answer: `a` says of every rated cell of the night without another word that it went down first
// try, and a counted date is shown but never kept.

export const ALL_THE_SAME = "all_the_same";

const WENT_DOWN = { f: "first", l: "later", n: "no" };
const WHY_NOT = { s: "spat_out", m: "melted", r: "refused" };
const WRITTEN = ["", "same_evening", "next_day", "later"];
const FIELDS = [
  "felt_best", "evening", "written", "not_done", "piece_mm", "scale", "rated_by",
];
const MOST_UNSURE = 20;
const BLANK = { rating: "", went_down: "", why_not: "" };

/** Make a state of the nights that the clinic has. `orders[i]` are the positions of `nights[i]`. */
export function begin(nights, orders, start = "") {
  const rows = nights.map((night, row) => ({
    ...night, order: orders[row], edits: 0, settled: 0, refused: 0, faults: [], notices: [],
    clash: null, unsure: [],
  }));
  return { nights: rows, start, at: { row: 0, column: 0 }, past: [], future: [] };
}

/** The column after the last position, where the night's best is named. */
export const bestColumn = (state, row) => state.nights[row].order.length;

/** What one key does in the current cell; the same state where it means nothing here. */
export function press(state, key) {
  const { row, column } = state.at;
  const night = state.nights[row];
  const inBest = column === bestColumn(state, row);
  switch (key) {
    case "Enter": case " ": return moveOn(state);
    case "Backspace": return isBlankAt(state) ? moveBack(state) : clear(state);
    case "Delete": return clear(state);
    case "a": return change(state, row, { cells: night.cells.map(firstIfRated) });
    case "w": return change(state, row, { written: after(WRITTEN, night.written) });
    case "+": return shiftDate(state, row, 1);
    case "-": return shiftDate(state, row, -1);
  }
  if (inBest) return nameBest(state, key);
  if (/^[1-9]$/.test(key)) return moveOn(fill(state, { rating: key }));
  if (key in WENT_DOWN) return fill(state, { went_down: WENT_DOWN[key], why_not: "" });
  if (key in WHY_NOT) return fill(state, { went_down: "no", why_not: WHY_NOT[key] });
  if (key === "x") return moveOn(fill(state, { went_down: "no", why_not: "not_tried" }));
  return state;
}

/** Where an arrow, Home or End leads; `forward` is towards the next cell of the night. */
export function move(state, where) {
  const { row, column } = state.at;
  const last = bestColumn(state, row);
  const to = {
    forward: [row, Math.min(column + 1, last)], back: [row, Math.max(column - 1, 0)],
    up: [row - 1, column], down: [row + 1, column], first: [row, 0], last: [row, last],
  }[where];
  return goTo(state, ...to);
}

/** Make one cell the current one. */
export function goTo(state, row, column) {
  if (row < 0 || row >= state.nights.length) return state;
  const at = { row, column: Math.min(column, bestColumn(state, row)) };
  return at.row === state.at.row && at.column === state.at.column ? state : { ...state, at };
}

/** Write a field of the night as a whole, such as its date. */
export function write(state, row, name, text) {
  return FIELDS.includes(name) ? change(state, row, { [name]: text }) : state;
}

/** Take back the last change, wherever it was. */
export function undo(state) {
  return step(state, "past", "future");
}

/** Do again what was taken back. */
export function redo(state) {
  return step(state, "future", "past");
}

/** Dates of all nights: as given, else the day after the night before; `given` tells which. */
export function dates(state) {
  let known = "";
  return state.nights.map((night, row) => {
    const counted = known ? plusDays(known, 1) : row === 0 ? state.start : "";
    known = night.evening || counted;
    return { date: known, given: Boolean(night.evening) };
  });
}

/** Nights that the clinic does not have yet, as they are sent. */
export function waiting(state) {
  return state.nights.filter(isWaiting).map(asSent);
}

/** Where a night stands: blank, saved, waiting, refused or clash. */
export function standing(night) {
  if (night.clash) return "clash";
  if (night.edits > night.settled) return night.refused === night.edits ? "refused" : "waiting";
  return night.base === 0 && isBlank(night) ? "blank" : "saved";
}

/** Remember what is on its way: when no answer comes, it may have arrived all the same. */
export function noteSent(state, sent) {
  const bySheet = new Map(sent.map((night) => [night.night, night]));
  const nights = state.nights.map((night) => {
    const copy = bySheet.get(night.night);
    return copy ? { ...night, unsure: [...night.unsure.slice(1 - MOST_UNSURE), copy] } : night;
  });
  return { ...state, nights };
}

/** Take in what the clinic answered to nights that were sent. Keys typed meanwhile stay. */
export function takeIn(state, sent, reply) {
  const sentEdits = new Map(sent.map((night) => [night.night, night.edits]));
  const clashes = new Map(reply.clashes.map((each) => [each.night, each.theirs]));
  const nights = state.nights.map((night) => {
    if (!sentEdits.has(night.night)) return night;
    const edits = sentEdits.get(night.night);
    const faults = reply.faults.filter((each) => each.night === night.night);
    const notices = reply.notices.filter((each) => each.night === night.night);
    if (clashes.has(night.night)) return overTheirs({ ...night, faults }, clashes.get(night.night));
    if (faults.length) return { ...night, faults, notices, refused: edits };
    const base = reply.versions[night.night];
    return { ...night, faults: [], notices, base, settled: edits, unsure: [] };
  });
  return { ...state, nights };
}

/** Settle a clash: keep what was typed here, over theirs, or take theirs. */
export function settle(state, row, keepMine) {
  const night = state.nights[row];
  if (!night.clash) return state;
  const theirs = night.clash;
  const settled = keepMine
    ? { ...night, base: theirs.base, clash: null, edits: night.edits + 1 }
    : { ...night, ...values(theirs), clash: null, faults: [], settled: night.edits };
  return replaceNight(state, row, settled);
}

/** What has to outlive the page: nights that are not with the clinic yet. */
export function toStore(state) {
  const open = state.nights.filter((night) => night.edits > night.settled);
  return open.map((night) => ({ ...values(night), unsure: night.unsure }));
}

/** Take up nights that an earlier page could not send; over a newer version they clash. */
export function restore(state, stored) {
  let next = state;
  for (const old of stored) {
    const row = next.nights.findIndex((night) => night.night === old.night);
    const night = next.nights[row];
    if (!night || old.cells.length !== night.cells.length || sameValues(night, old)) continue;
    const mine = { ...night, ...old, edits: night.edits + 1 };
    const taken = night.base === old.base ? mine : overTheirs(mine, values(night));
    next = replaceNight(next, row, taken);
  }
  return next;
}

/** Row and column of the first cell without an answer, or null. */
export function firstBlank(state) {
  for (const [row, night] of state.nights.entries()) {
    if (night.not_done) continue;
    const column = night.cells.findIndex(isBlankCell);
    if (column >= 0) return { row, column };
    if (!night.felt_best) return { row, column: bestColumn(state, row) };
  }
  return null;
}

// Below: how it is done.

/** What was typed here meets another version: a clash, unless that is an earlier copy of ours. */
function overTheirs(night, theirs) {
  return night.unsure.some((copy) => sameValues(copy, theirs))
    ? { ...night, base: theirs.base, unsure: [] }
    : { ...night, clash: theirs };
}

function fill(state, part) {
  const { row, column } = state.at;
  const cells = state.nights[row].cells.map((cell, place) =>
    place === column ? { ...cell, ...part } : cell);
  return change(state, row, { cells });
}

function clear(state) {
  const { row, column } = state.at;
  return column === bestColumn(state, row)
    ? change(state, row, { felt_best: "" })
    : fill(state, BLANK);
}

function nameBest(state, key) {
  const { row } = state.at;
  const order = state.nights[row].order;
  const best = key === "0" ? ALL_THE_SAME : /^[1-9]$/.test(key) ? order[Number(key) - 1] : undefined;
  return best === undefined ? state : moveOn(change(state, row, { felt_best: best }));
}

function moveOn(state) {
  const { row, column } = state.at;
  return column < bestColumn(state, row) ? goTo(state, row, column + 1) : goTo(state, row + 1, 0);
}

function moveBack(state) {
  const { row, column } = state.at;
  if (column > 0) return goTo(state, row, column - 1);
  return row > 0 ? goTo(state, row - 1, bestColumn(state, row - 1)) : state;
}

function shiftDate(state, row, days) {
  const shown = dates(state)[row].date;
  return shown ? change(state, row, { evening: plusDays(shown, days) }) : state;
}

function plusDays(date, days) {
  const [year, month, day] = date.split("-").map(Number);
  return new Date(Date.UTC(year, month - 1, day + days)).toISOString().slice(0, 10);
}

function change(state, row, part) {
  const before = state.nights[row];
  if (sameValues(before, { ...before, ...part })) return state;
  const next = replaceNight(state, row, edited(before, part));
  return { ...next, past: [...state.past, { row, at: state.at, was: values(before) }], future: [] };
}

function step(state, from, onto) {
  const last = state[from].at(-1);
  if (!last) return state;
  const night = state.nights[last.row];
  const { base: _, ...was } = last.was;
  return {
    ...replaceNight(state, last.row, edited(night, was)),
    at: last.at,
    [from]: state[from].slice(0, -1),
    [onto]: [...state[onto], { row: last.row, at: state.at, was: values(night) }],
  };
}

const edited = (night, part) => ({
  ...night, ...part, edits: night.edits + 1, faults: [], notices: [],
});

function replaceNight(state, row, night) {
  return { ...state, nights: state.nights.map((each, place) => (place === row ? night : each)) };
}

const firstIfRated = (cell) =>
  (cell.rating && !cell.went_down ? { ...cell, went_down: "first" } : cell);

const after = (list, now) => list[(list.indexOf(now) + 1) % list.length];

const isBlankCell = (cell) => !cell.rating && !cell.went_down && !cell.why_not;

function isBlankAt(state) {
  const { row, column } = state.at;
  const night = state.nights[row];
  return column === bestColumn(state, row) ? !night.felt_best : isBlankCell(night.cells[column]);
}

const isBlank = (night) =>
  night.cells.every(isBlankCell) &&
  !night.felt_best && !night.evening && !night.written && !night.not_done;

const isWaiting = (night) => standing(night) === "waiting";

function values(night) {
  const kept = { night: night.night, base: night.base, cells: night.cells };
  for (const name of FIELDS) kept[name] = night[name];
  return kept;
}

const asSent = (night) => ({ ...values(night), edits: night.edits });

function sameValues(one, two) {
  const same = (a, b) => FIELDS.every((name) => a[name] === b[name]);
  return same(one, two) && one.cells.every((cell, place) =>
    Object.keys(BLANK).every((name) => cell[name] === two.cells[place][name]));
}
