/** A form whose answer takes a while says so: its words stand beside the button until the page comes. */

for (const form of /** @type {NodeListOf<HTMLFormElement>} */ (document.querySelectorAll("form[data-waits]"))) {
  form.addEventListener("submit", () => {
    const say = document.createElement("output");
    say.className = "small waits";
    say.textContent = form.dataset.waits ?? "";
    form.append(say, document.createElement("progress"));
    for (const button of form.querySelectorAll("button")) button.disabled = true;
  });
}
// A page that the browser kept comes back as it was left: ready for another try.
addEventListener("pageshow", () => {
  for (const one of document.querySelectorAll("form[data-waits] > :is(.waits, progress)")) one.remove();
  for (const button of /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("form[data-waits] button"))) button.disabled = false;
});
