// Saves each readiness answer as it is given, and lets Y, N, D and B do without a mouse.
// Without script the form's own button saves everything; nothing here is needed for that.

const form = document.querySelector("[data-answers]");
const ANSWERS = { y: "yes", n: "no", d: "unknown" };
const waiting = new Map(); // question -> answer that is not yet with the server
let isSending = false;

function questions() {
  return [...form.querySelectorAll("[data-question]")].filter((each) => !each.hidden);
}

function say(question, words) {
  question.querySelector("[data-state]").textContent = words;
}

function showFollowUps(key, answer) {
  for (const each of form.querySelectorAll(`[data-after="${key}"]`)) {
    each.hidden = answer !== "yes";
  }
}

async function send(key, answer) {
  const body = new URLSearchParams({ [`q-${key}`]: answer });
  body.set("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
  const reply = await fetch(form.dataset.answers, { method: "POST", body, redirect: "error" });
  const told = await reply.json();
  if (!reply.ok) {
    throw new Error((told.refused || []).join(" "));
  }
  return told;
}

// One after the other, so that an older answer never arrives after a newer one.
async function sendWaiting() {
  if (isSending) {
    return;
  }
  isSending = true;
  while (waiting.size) {
    const [key, answer] = waiting.entries().next().value;
    const question = form.querySelector(`[data-question="${key}"]`);
    try {
      const told = await send(key, answer);
      if (waiting.get(key) === answer) {
        waiting.delete(key);
        say(question, `Saved ${told.at}`);
      }
      form.querySelector("[data-open]").textContent = told.open;
      form.querySelector("[data-saved]").textContent = `Last saved ${told.at}.`;
    } catch (fault) {
      say(question, `Not saved. ${fault.message || ""} It is tried again; the button below saves too.`);
      setTimeout(sendWaiting, 5000);
      break;
    }
  }
  isSending = false;
}

function keep(question, answer) {
  const key = question.dataset.question;
  say(question, "Saving");
  waiting.set(key, answer);
  showFollowUps(key, answer);
  sendWaiting();
}

function focusOn(question) {
  const radios = [...question.querySelectorAll("input")];
  (radios.find((each) => each.checked) || radios[0]).focus();
  question.scrollIntoView({ block: "center" });
}

function goFrom(question, step) {
  const all = questions();
  const next = all[all.indexOf(question) + step];
  if (next) {
    focusOn(next);
  } else if (step > 0) {
    form.querySelector("button[type=submit]").focus();
  }
}

form.addEventListener("change", (event) => {
  const question = event.target.closest("[data-question]");
  if (question) {
    keep(question, event.target.value);
  }
});

form.addEventListener("keydown", (event) => {
  const question = event.target.closest("[data-question]");
  if (!question || event.ctrlKey || event.metaKey || event.altKey) {
    return;
  }
  const key = event.key.toLowerCase();
  if (key === "b") {
    goFrom(question, -1);
  } else if (key in ANSWERS) {
    const answer = ANSWERS[key];
    question.querySelector(`input[value="${answer}"]`).checked = true;
    keep(question, answer);
    goFrom(question, 1);
  } else {
    return;
  }
  event.preventDefault();
});

window.addEventListener("beforeunload", (event) => {
  if (waiting.size) {
    event.preventDefault();
  }
});
form.addEventListener("submit", () => waiting.clear()); // the button sends all answers itself

form.ownerDocument.querySelector("[data-keys]").hidden = false;
const firstOpen = questions().find((each) => !each.querySelector("input:checked"));
if (firstOpen) {
  focusOn(firstOpen);
}
