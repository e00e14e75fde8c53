// Notes: typed beside their picture, each kept as it is left. N on a button leads to the next one
// that nobody has typed, Enter keeps it and goes on, Backspace then takes it back.

const fields = [...document.querySelectorAll("article.sheet textarea[data-note]")];
const bar = document.querySelector("[data-confirm-clear]");
const next = document.querySelector("[data-next-note]");
const count = document.querySelector("[data-n-notes]");
const token = document.querySelector("[name=csrfmiddlewaretoken]")?.value;
const kept = []; // what was kept here, the last at the end, each with what stood there before
let isGoing = false; // a form goes on its way that waited for its notes

const beside = (field, what) => field.form.elements[field.name.replace("note-", `${what}-`)];
const oneLine = (text) => text.trim().split(/\s+/).join(" ");
const isChanged = (field) => oneLine(field.value) !== beside(field, "was").value;
const waiting = () => fields.filter((each) => "waits" in each.dataset);
const isText = (target) => target.matches("textarea, select, input:not([type=radio], [type=checkbox])");

const tell = (field, text) => {
  field.parentElement.querySelector("[role=status]").textContent = text;
};

const show = (field, isWaiting) => {
  if (isWaiting) field.dataset.waits = "";
  else delete field.dataset.waits;
  field.classList.toggle("kept", Boolean(beside(field, "was").value));
  if (count) count.textContent = String(waiting().length);
  if (next) next.hidden = !waiting().length;
};

const focus = (target) => {
  target?.focus({ preventScroll: true });
  target?.closest("article, .bar")?.scrollIntoView({ block: "nearest" });
};

const goOn = (field) => {
  const later = waiting().find((each) => fields.indexOf(each) > fields.indexOf(field));
  const button = bar && !bar.hidden ? bar : field.form;
  focus(later ?? waiting()[0] ?? button.querySelector("button"));
};

// What stands there after it is answered is what the next one rests on: one after the other.
const queues = new Map();
const inTurn = (field, work) => {
  const turn = (queues.get(field) ?? Promise.resolve(true)).then(work);
  queues.set(field, turn);
  return turn;
};

const send = async (field, text) => {
  try {
    const reply = await fetch(field.dataset.note, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: JSON.stringify({ area: field.dataset.area, text, base: beside(field, "base").value }),
      keepalive: true,
    });
    if (reply.redirected) throw new Error("signed out");
    const said = await reply.json();
    if (!reply.ok) return said.problems.join(" ");
    beside(field, "base").value = said.base;
    beside(field, "was").value = text;
    return "";
  } catch {
    return "Not kept: there is no connection, or you are signed out. Press Enter here again, or load the page again.";
  }
};

// Keep what was typed; true where nothing of it is left to be kept.
const keep = (field, { isBack = false } = {}) =>
  inTurn(field, async () => {
    if (!isChanged(field)) return true;
    const [text, before] = [oneLine(field.value), beside(field, "was").value];
    const fault = await send(field, text);
    if (fault) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
    tell(field, fault || (isBack ? "taken back" : text ? "kept" : "taken back"));
    if (fault) {
      focus(field);
      return false;
    }
    if (!isBack) kept.push({ field, before });
    show(field, false);
    return true;
  });

const takeBack = async () => {
  const last = kept.pop();
  if (!last) return;
  const typed = last.field.value;
  last.field.value = last.before;
  focus(last.field);
  if (await keep(last.field, { isBack: true })) show(last.field, !last.before);
  else {
    last.field.value = typed;
    kept.push(last);
  }
};

for (const field of fields) {
  field.addEventListener("change", () => keep(field));
  field.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.key === "Enter") {
      event.preventDefault();
      // Left empty it stays a picture, and is not asked again before the page is loaded.
      if (!isChanged(field)) show(field, false);
      keep(field).then((isDone) => isDone && goOn(field));
    } else if (event.key === "Backspace" && !field.value) {
      event.preventDefault();
      takeBack();
    }
  });
}

if (fields.length) {
  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (!event.target.closest("article.sheet, .bar") || isText(event.target)) return;
    if (event.key.toLowerCase() === "n" && waiting().length) {
      event.preventDefault();
      focus(waiting()[0]);
    } else if (event.key === "Backspace") {
      event.preventDefault();
      takeBack();
    }
  });

  // No page leaves before its notes are kept, and none where one of them was refused.
  addEventListener(
    "submit",
    async (event) => {
      if (isGoing || !fields.some(isChanged)) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      const { target, submitter } = event;
      const done = await Promise.all(fields.map((field) => keep(field)));
      if (!done.every(Boolean)) return;
      isGoing = true;
      target.requestSubmit(submitter);
      isGoing = false;
    },
    { capture: true },
  );

  next?.addEventListener("click", () => focus(waiting()[0]));
  for (const field of fields) show(field, "waits" in field.dataset);
}
