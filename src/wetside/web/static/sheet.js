/** The sheet that shows the way closes on Escape, on a tap beside it, and when the focus leaves it. */

const sheet = /** @type {HTMLDetailsElement | null} */ (document.querySelector("details.sheet"));

if (sheet) {
  const summary = /** @type {HTMLElement} */ (sheet.querySelector("summary"));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && sheet.open) {
      sheet.open = false;
      summary.focus();
    }
  });
  document.addEventListener("pointerdown", (event) => {
    if (sheet.open && !sheet.contains(/** @type {Node} */ (event.target))) sheet.open = false;
  });
  sheet.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !sheet.contains(/** @type {Node} */ (event.relatedTarget))) sheet.open = false;
  });
}
