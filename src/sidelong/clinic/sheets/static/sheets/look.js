// One key an answer: each is sent as it is given, and Backspace takes the last one back.

const form = document.querySelector("[data-questions]");
const status = document.querySelector("[data-said]");
const count = document.querySelector("[data-open]");

if (form) {
  const questions = [...form.querySelectorAll("fieldset")];
  const given = [];
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  let waiting = Promise.resolve();

  const openOnes = () => questions.filter((each) => !each.hidden);

  const focus = (question) => question?.querySelector("input")?.focus();

  const tell = (text) => {
    status.textContent = text;
    count.textContent = String(openOnes().length);
  };

  // One after the other: what was pressed first must be kept first.
  const send = (question, value) => {
    const before = waiting;
    waiting = before.then(async () => {
      const reply = await fetch(question.dataset.say, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token },
        body: JSON.stringify({ field: question.dataset.field, value }),
      });
      if (!reply.ok) throw new Error(String(reply.status));
    });
    return waiting;
  };

  const failed = (question) => {
    waiting = Promise.resolve();
    question.hidden = false;
    focus(question);
    tell("This answer was not kept: there is no connection. Press it again.");
  };

  const answer = (question, choice) => {
    choice.checked = true;
    const next = openOnes()[openOnes().indexOf(question) + 1] ?? openOnes()[0];
    question.hidden = true;
    given.push(question);
    const rest = openOnes();
    tell(rest.length ? `Kept: ${choice.parentElement.innerText.trim()}` : "All is looked at.");
    focus(next === question ? rest[0] : next);
    send(question, choice.value)
      .then(() => {
        // What was kept is shown anew: with the answers in, sheets can be confirmed.
        if (!openOnes().length) location.reload();
      })
      .catch(() => failed(question));
  };

  const takeBack = () => {
    const question = given.pop();
    if (!question) return;
    question.hidden = false;
    for (const each of question.querySelectorAll("input")) each.checked = false;
    focus(question);
    tell("Taken back.");
    send(question, null).catch(() => failed(question));
  };

  form.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Backspace") {
      event.preventDefault();
      takeBack();
      return;
    }
    const question = event.target.closest("fieldset");
    const choice = question?.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (choice) {
      event.preventDefault();
      answer(question, choice);
    }
  });

  form.addEventListener("click", (event) => {
    // A click with the mouse answers too; arrow keys move between choices and must not.
    const choice = event.target.closest("input[type=radio]");
    if (choice && event.detail > 0) answer(choice.closest("fieldset"), choice);
  });

  focus(openOnes()[0]);
}
