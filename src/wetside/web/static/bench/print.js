// @ts-check
/** Keys that print the page they stand on; what is folded away is printed too. */
for (const key of document.querySelectorAll("[data-print]")) key.addEventListener("click", () => window.print());

/** @type {HTMLDetailsElement[]} */
let opened = [];
addEventListener("beforeprint", () => {
  opened = [.../** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll("main details:not([open])"))];
  for (const folded of opened) folded.open = true;
});
addEventListener("afterprint", () => { for (const folded of opened) folded.open = false; });
export {};
