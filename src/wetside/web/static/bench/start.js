// @ts-check
/** Starts a run from the form and goes to it. */
const form = /** @type {HTMLFormElement} */ (document.getElementById("start"));
form.addEventListener("submit", async (submitted) => {
  submitted.preventDefault();
  const given = new FormData(form);
  /** @type {Record<string, any>} */
  const body = { process: given.get("process") };
  if (given.get("note")) body.note = given.get("note");
  const room = String(given.get("room_c") || "").replace(",", ".");
  if (room) body.room_c = Number(room);
  const said = /** @type {HTMLElement} */ (document.getElementById("start-said"));
  try {
    const answer = await fetch("/api/runs", {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body),
    });
    const run = await answer.json();
    if (answer.status === 201) location.href = `/bench/${run.id}`;
    else said.textContent = run.what;
  } catch {
    said.textContent = "The server does not answer. Nothing was started.";
  }
});
