// How a cell reads, and what the whole grid has to say of itself. No page here.

import { standing } from "./grid.js";

const PLACES = { blank: "", saved: "saved", waiting: "not sent yet", refused: "not kept", clash: "changed by somebody else" };

/** One cell as text; the server reads the same words from a form without a script. */
export function cellWords(cell) {
  const words = (cell.why_not || cell.went_down).replaceAll("_", " ");
  return `${cell.rating} ${words}`.trim();
}

/** The night's best as text. */
export const bestWords = (best) => best.replaceAll("_", " ");

/** Where one night stands, in words. */
export const standingWords = (night) => PLACES[standing(night)];

/** Where the whole page stands; `link` is idle, sending, lost, signed_out or refused. */
export function pageWords(state, link) {
  const stands = state.nights.map(standing);
  const count = (kind) => stands.filter((each) => each === kind).length;
  const nights = (n) => (n === 1 ? "1 night" : `${n} nights`);
  const open = count("waiting");
  const parts = [];
  if (link === "lost" && open) parts.push(`No connection. ${nights(open)} kept in this browser until it is back.`);
  else if (link === "signed_out" && open) parts.push(`You are signed out. ${nights(open)} kept in this browser: sign in again, then load this page.`);
  else if (link === "refused" && open) parts.push(`The clinic did not take ${nights(open)}; they are kept in this browser. Load this page again.`);
  else if (open) parts.push(`Saving ${nights(open)}.`);
  if (count("refused")) parts.push(`${nights(count("refused"))} not kept: see what is marked.`);
  if (count("clash")) parts.push(`${nights(count("clash"))} changed by somebody else: choose what stays.`);
  return parts.join(" ") || (count("saved") ? "Everything is saved." : "Nothing was typed yet.");
}
