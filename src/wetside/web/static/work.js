/** Something long that is being done: ask how far it is, then show the page anew. */

/** @typedef {{what: string, done: number, total: number, left_s: number | null, slip: string, said: string, ended: boolean}} Work */

const place = document.getElementById("work");
if (place?.hasAttribute("data-going")) follow(place);

/** @param {HTMLElement} place */
async function follow(place) {
  const say = /** @type {HTMLElement} */ (document.getElementById("work-say"));
  const far = /** @type {HTMLProgressElement} */ (document.getElementById("work-far"));
  for (;;) {
    try {
      const answer = await fetch(String(place.dataset.at));
      const now = /** @type {Work} */ (await answer.json());
      if (now.ended) { location.reload(); return; }
      const left = now.left_s === null ? "" : now.left_s < 90 ? `, about ${Math.max(1, Math.round(now.left_s))} s left` : `, about ${Math.round(now.left_s / 60)} min left`;
      const what = now.what.charAt(0).toUpperCase() + now.what.slice(1);
      say.textContent = now.total ? `${what}: ${now.done} of ${now.total}${left}` : `${what} …`;
      if (now.total) { far.max = now.total; far.value = now.done; } else far.removeAttribute("value");
    } catch { say.textContent = "The server does not answer; asking again."; }
    await new Promise((done) => setTimeout(done, 700));
  }
}
