/** A mark on the reel and the same on the film below it light up together, and its place is told in words. */

const reel = document.querySelector("figure.reel");
const told = document.getElementById("mark-told");
let kept = "";

/** Light all that belongs to a mark, and tell its place; no mark lights none. @param {string} mark */
function light(mark) {
  if (!reel || !told) return;
  for (const one of reel.querySelectorAll("[data-mark]")) {
    one.classList.toggle("lit", one.getAttribute("data-mark") === mark);
  }
  const tapped = mark && reel.querySelector(`[data-mark="${mark}"][aria-label]`);
  told.hidden = !tapped;
  if (!tapped) return;
  const words = /** @type {HTMLElement} */ (told.querySelector("output"));
  const way = /** @type {HTMLAnchorElement} */ (told.querySelector("a"));
  words.textContent = `${tapped.getAttribute("aria-label")}.`;
  way.hidden = !tapped.hasAttribute("data-at");
  way.href = tapped.getAttribute("data-at") ?? "";
}

/** The mark under an event, or the nearest within a finger's reach of it; "" where there is none. @param {Event} event */
function markOf(event) {
  const over = event.target instanceof Element ? event.target.closest("[data-mark]") : null;
  return (event instanceof MouseEvent && nearest(event)) || (over?.getAttribute("data-mark") ?? "");
}

/** @param {MouseEvent} event */
function nearest(event) {
  let found = "", least = 22;
  for (const one of document.querySelectorAll("[data-mark] > .onreel, [data-mark] > .onstrip")) {
    const box = one.getBoundingClientRect();
    const away = Math.hypot(
      Math.max(box.left - event.clientX, event.clientX - box.right, 0),
      Math.max(box.top - event.clientY, event.clientY - box.bottom, 0),
    );
    if (away < least) [found, least] = [one.parentElement?.getAttribute("data-mark") ?? "", away];
  }
  return found;
}

if (reel) {
  reel.addEventListener("pointermove", (event) => light(markOf(event) || kept));
  reel.addEventListener("focusin", (event) => {
    const mark = markOf(event);
    if (mark) light((kept = mark));
  });
  reel.addEventListener("click", (event) => {
    const mark = markOf(event);
    if (mark) light((kept = mark));
  });
  reel.addEventListener("keydown", (event) => {
    const key = /** @type {KeyboardEvent} */ (event).key;
    if (key === "Escape") light((kept = ""));
    if (key !== "Enter" && key !== " ") return;
    const mark = markOf(event);
    if (!mark) return;
    event.preventDefault();
    light((kept = mark));
  });
}
