// What was on the screen: something counts as seen once its end was, with its pictures there.

// Room at the bottom that a bar which stays on the screen may cover.
const covered = () => document.querySelector(".bar:not([hidden])")?.offsetHeight ?? 0;

const isWhole = (item) =>
  [...item.querySelectorAll("img")].every((picture) => picture.complete && picture.naturalWidth);

export const seenOf = (items) => {
  const seen = new Set();

  const look = () => {
    for (const item of items) {
      const { bottom, height } = item.getBoundingClientRect();
      const isOn = height > 0 && bottom > 0 && bottom <= innerHeight - covered() + 1;
      if (isOn && isWhole(item)) seen.add(item);
    }
  };

  // Scroll to the first of some that was not seen; false where all of them were.
  const leadToRest = (some) => {
    look();
    const rest = some.filter((each) => !seen.has(each));
    if (!rest.length) return false;
    for (const picture of rest.flatMap((each) => [...each.querySelectorAll("img")])) {
      picture.loading = "eager";
    }
    const { top, bottom } = rest[0].getBoundingClientRect();
    const room = innerHeight - covered();
    // What is taller than the screen is gone through in steps.
    if (top < 0.2 * room && bottom > room) scrollBy({ top: 0.8 * room, behavior: "instant" });
    else rest[0].scrollIntoView({ block: "start", behavior: "instant" });
    requestAnimationFrame(look);
    return true;
  };

  if (items.length) {
    addEventListener("scroll", look, { passive: true });
    addEventListener("resize", look);
    document.addEventListener("load", look, true); // pictures, as they come
    look();
  }
  return { look, leadToRest };
};
