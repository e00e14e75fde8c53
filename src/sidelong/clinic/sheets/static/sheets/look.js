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

  const focus = (question) => {
    question?.querySelector("input")?.focus();
    question?.scrollIntoView({ block: "nearest" });
  };

  // What is not seen cannot be judged; what waits to be scrolled to is fetched now.
  const isSeen = (question) => {
    const pictures = [...question.querySelectorAll("img")];
    for (const picture of pictures) picture.loading = "eager";
    return pictures.every((picture) => picture.complete && picture.naturalWidth);
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

  // A question is about one field, or about the likely guesses of a sheet.
  const answersOf = (question, value) => {
    const guesses = [...question.querySelectorAll("li[data-field]")];
    if (!guesses.length) return [[question.dataset.field, value]];
    return guesses.map(({ dataset }) => [dataset.field, value === null ? null : dataset.value]);
  };

  const post = async (question, field, value) => {
    const reply = await fetch(question.dataset.say, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: JSON.stringify({ field, value }),
    });
    // Whoever was signed out is led to another page, and that one answers well.
    if (!reply.ok || reply.redirected) throw new Error(String(reply.status));
  };

  // One after the other: what was pressed first must be kept first.
  const send = (question, given) => {
    const before = waiting;
    waiting = before.then(async () => {
      for (const [field, value] of answersOf(question, given)) await post(question, field, value);
    });
    return waiting;
  };

  const failed = (question) => {
    waiting = Promise.resolve();
    if (given.includes(question)) given.splice(given.indexOf(question), 1);
    for (const each of question.querySelectorAll("input")) each.checked = false;
    show(question, true);
    focus(question);
    tell("Not kept: there is no connection, or you are signed out. Press it again, or load the page again.");
  };

  const answer = (question, choice) => {
    if (!isSeen(question)) {
      choice.checked = false;
      tell("Its picture has not come yet. Press it again when you see it.");
      return;
    }
    if (choice.href) {
      // A page of its own asks the guesses of this sheet one by one, after what was said is kept.
      waiting.then(() => location.assign(choice.href), () => {});
      return;
    }
    choice.checked = true;
    const next = openOnes()[openOnes().indexOf(question) + 1] ?? openOnes()[0];
    show(question, false);
    given.push(question);
    const rest = openOnes();
    tell(rest.length ? `Kept: ${choice.parentElement.innerText.trim()}` : "All is looked at.");
    focus(next === question ? rest[0] : next);
    const mine = send(question, choice.value);
    mine
      .then(() => {
        // What was kept is shown anew, once the last is kept: sheets can be confirmed then.
        if (!openOnes().length && waiting === mine) location.reload();
      })
      .catch(() => failed(question));
  };

  const takeBack = () => {
    const question = given.pop();
    if (!question) return;
    show(question, true);
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

// Dates: one that is written proposes those of later nights, an evening each, until they are
// written themselves. All clear sheets are confirmed with the dates that stand there.

const DAY_MS = 24 * 3600 * 1000;
const together = document.querySelector("[data-confirm-clear]");
const sheets = [...document.querySelectorAll("article.sheet")];
const dateOf = (sheet) => sheet.querySelector("input[name=evening]");

for (const sheet of sheets) {
  dateOf(sheet)?.addEventListener("change", (event) => {
    event.target.dataset.written = "";
    if (!event.target.value) return;
    const begin = Date.parse(event.target.value);
    const later = sheets.filter((each) => Number(each.dataset.night) > Number(sheet.dataset.night));
    for (const each of later) {
      const date = dateOf(each);
      if ("written" in date.dataset) break;
      const nights = Number(each.dataset.night) - Number(sheet.dataset.night);
      date.value = new Date(begin + nights * DAY_MS).toISOString().slice(0, 10);
    }
  });
}

if (together) {
  together.hidden = false;
  together.querySelector("[autofocus]")?.focus(); // while it was hidden it could not have it
  together.addEventListener("submit", () => {
    for (const sheet of sheets.filter((each) => "clear" in each.dataset)) {
      const date = document.createElement("input");
      date.type = "hidden";
      date.name = `evening-${sheet.dataset.clear}`;
      date.value = dateOf(sheet).value;
      together.append(date);
    }
  });
}
