// Dates: one that is written proposes those of later nights, an evening each, until they are
// written themselves. All clear sheets are confirmed with the dates that stand there, by one key,
// once each of them was on the screen: until then the key leads on to the next ones.

import { seenOf } from "./seen.js";

const DAY_MS = 24 * 3600 * 1000;
const together = document.querySelector("[data-confirm-clear]");
const sheets = [...document.querySelectorAll("article.sheet[data-night]")];
const dateOf = (sheet) => sheet.querySelector("input[name=evening]");

const settle = (sheet) => sheet.querySelector("[data-proposed]")?.remove();

for (const sheet of sheets) {
  const date = dateOf(sheet);
  date?.addEventListener("change", () => {
    date.dataset.written = "";
    settle(sheet);
    if (!date.value) return;
    const begin = Date.parse(date.value);
    const later = sheets.filter((each) => Number(each.dataset.night) > Number(sheet.dataset.night));
    for (const each of later) {
      if ("written" in dateOf(each).dataset) break;
      if ("undated" in each.dataset) continue;
      const nights = Number(each.dataset.night) - Number(sheet.dataset.night);
      const proposed = new Date(begin + nights * DAY_MS);
      if (proposed > Date.now()) break;
      dateOf(each).value = proposed.toISOString().slice(0, 10);
    }
  });
}

if (together) {
  const clear = sheets.filter((each) => "clear" in each.dataset);
  const button = together.querySelector("button");
  const told = together.querySelector("[data-seen]");
  together.hidden = false;
  // While it was hidden it could not have the focus.
  const isNext = together.querySelector("[autofocus]");
  isNext?.focus({ preventScroll: true });
  if (isNext) clear[0].scrollIntoView({ block: "start", behavior: "instant" });
  const seen = seenOf(clear);

  together.addEventListener("submit", (event) => {
    if (seen.leadToRest(clear)) {
      event.preventDefault();
      told.textContent = "Compare these as well; press it again to go on.";
      button.focus({ preventScroll: true });
      return;
    }
    for (const sheet of clear) {
      const date = document.createElement("input");
      date.type = "hidden";
      date.name = `evening-${sheet.dataset.clear}`;
      date.value = dateOf(sheet).value;
      together.append(date);
    }
  });
}
