// One key an answer: each is sent as it is given, and Backspace takes the last one back. Likely
// guesses stand together: one key for all that are right, a letter takes one out of them. Nothing
// is answered for what was not on the screen.

import { seenOf } from "./seen.js";

const form = document.querySelector("[data-questions]");
const status = document.querySelector("[data-said]");
const count = document.querySelector("[data-open]");

if (form) {
  const questions = [...form.querySelectorAll("fieldset")];
  const given = []; // what was answered, the last at the end: questions and what each one opened
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  let waiting = Promise.resolve();

  const itemsOf = (question) => [...question.querySelectorAll("li[data-is-field]")];
  const isOut = (item) => item.querySelector("button").ariaPressed === "true";
  const ownOf = (item) => form.querySelector(`fieldset[data-of="${CSS.escape(item.dataset.isField)}"]`);
  const seen = seenOf(questions.flatMap(itemsOf));

  const openOnes = () => questions.filter((each) => !each.hidden);

  const focus = (question) => {
    if (!question) return;
    question.querySelector("input")?.focus({ preventScroll: true });
    const isTall = question.offsetHeight > innerHeight;
    question.scrollIntoView({ block: isTall ? "start" : "nearest" });
    seen.look();
  };

  const show = (question, isShown) => {
    question.hidden = !isShown;
    // What was sent already is not sent again with the form.
    question.disabled = !isShown;
  };

  const tell = (text) => {
    status.textContent = text;
    count.textContent = String(openOnes().length);
  };

  // What is not seen cannot be judged; what waits to be scrolled to is fetched now.
  const refuseUnseen = (question) => {
    const pictures = [...question.querySelectorAll("img")];
    for (const picture of pictures) picture.loading = "eager";
    if (!pictures.every((picture) => picture.complete && picture.naturalWidth)) {
      tell("Its picture has not come yet. Press it again when you see it.");
      return true;
    }
    if (seen.leadToRest(itemsOf(question))) {
      tell("There are more of them: look at these too, then press it again.");
      return true;
    }
    return false;
  };

  const post = async (say, field, value) => {
    const reply = await fetch(say, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: JSON.stringify({ field, value }),
    });
    // Whoever was signed out is led to another page, and that one answers well.
    if (!reply.ok || reply.redirected) throw new Error(String(reply.status));
  };

  // One after the other: what was pressed first must be kept first.
  const send = (answers) => {
    const before = waiting;
    waiting = before.then(async () => {
      for (const [question, value] of answers) {
        await post(question.dataset.say, question.dataset.field, value);
      }
    });
    return waiting;
  };

  const reopen = ({ question, opened }) => {
    for (const each of opened) show(each, false);
    for (const each of question.querySelectorAll("input")) each.checked = false;
    show(question, true);
    focus(question);
  };

  const failed = (done) => {
    waiting = Promise.resolve();
    if (given.includes(done)) given.splice(given.indexOf(done), 1);
    reopen(done);
    tell("Not kept: there is no connection, or you are signed out. Press it again, or load the page again.");
  };

  const close = (done, told) => {
    const next = openOnes()[openOnes().indexOf(done.question) + 1] ?? openOnes()[0];
    show(done.question, false);
    for (const each of done.opened) show(each, true);
    given.push(done);
    const rest = openOnes();
    tell(rest.length ? told : "All is looked at.");
    focus(done.opened[0] ?? (next === done.question ? rest[0] : next));
    const mine = send(done.answers);
    mine
      .then(() => {
        // What was kept is shown anew, once the last is kept: sheets can be confirmed then.
        if (!openOnes().length && waiting === mine) location.reload();
      })
      .catch(() => failed(done));
  };

  const answer = (question, choice) => {
    if (refuseUnseen(question)) {
      choice.checked = false;
      return;
    }
    choice.checked = true;
    const told = `Kept: ${choice.parentElement.innerText.trim()}`;
    if (!("together" in question.dataset)) {
      close({ question, opened: [], answers: [[question, choice.value]] }, told);
      return;
    }
    const out = itemsOf(question).filter(isOut);
    const right = itemsOf(question).filter((item) => !isOut(item));
    const answers = right.map((item) => [ownOf(item), item.dataset.value]);
    close({ question, opened: out.map(ownOf), answers }, told);
  };

  const askEach = (question) => {
    const opened = itemsOf(question).map(ownOf);
    close({ question, opened, answers: [] }, "Each is asked by itself.");
  };

  const takeOut = (item) => {
    const button = item.querySelector("button");
    button.ariaPressed = String(!isOut(item));
    item.classList.toggle("out", isOut(item));
    const is = isOut(item) ? "is taken out, and asked by itself after this" : "counts again";
    tell(`${item.dataset.letter} ${is}.`);
  };

  const takeBack = () => {
    const done = given.pop();
    if (!done) return;
    reopen(done);
    tell("Taken back.");
    send(done.answers.map(([question]) => [question, null])).catch(() => failed(done));
  };

  form.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Backspace") {
      event.preventDefault();
      takeBack();
      return;
    }
    const question = event.target.closest("fieldset");
    const key = CSS.escape(event.key);
    const found = question?.querySelector(`[data-key="${key}"], [data-letter="${key}"]`);
    if (!found) return;
    event.preventDefault();
    if ("letter" in found.dataset) takeOut(found);
    else if (found.href) askEach(question);
    else answer(question, found);
  });

  form.addEventListener("click", (event) => {
    const button = event.target.closest("li button");
    const link = event.target.closest("a[data-key]");
    // A click with the mouse answers too; arrow keys move between choices and must not.
    const choice = event.target.closest("input[type=radio]");
    if (button) takeOut(button.closest("li"));
    else if (link) {
      event.preventDefault();
      askEach(link.closest("fieldset"));
    } else if (choice && event.detail > 0) answer(choice.closest("fieldset"), choice);
  });

  for (const button of form.querySelectorAll("li button")) button.hidden = false;
  focus(openOnes()[0]);
}
