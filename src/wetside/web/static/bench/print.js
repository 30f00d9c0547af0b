// @ts-check
/** Keys that print the page they stand on. */
for (const key of document.querySelectorAll("[data-print]")) key.addEventListener("click", () => window.print());
export {};
