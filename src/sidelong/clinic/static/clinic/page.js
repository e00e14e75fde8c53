// What a page does without anybody's help: lead to its faults, print when asked. All else is plain HTML.

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

document.querySelector("[data-focus]")?.focus();
