/** Print: places that were grey before the camera. They feed the fitted door at once and are written when they are kept. */

/** @typedef {{spot: string, file: string, x: number, y: number, w: number, h: number}} Grey */
/** @typedef {{at: string, current: () => HTMLAnchorElement, links: HTMLAnchorElement[], show: (link: HTMLAnchorElement) => void, redrawn: () => void}} Room */

/** @template {Element} T @param {string} id @returns {T} */
function by(id) { return /** @type {T} */ (/** @type {unknown} */ (document.getElementById(id))); }

/** The roll's greys: `query` for a picture's address, `add` one by a spot of a frame, `drawn` when another frame is shown. @param {Room} room */
export function greysOf(room) {
  const list = by("named"), say = by("greys-say"), keep = by("keep-greys"), drop = by("drop-greys");
  /** @type {Grey[]} */
  let now = [...list.children].map((item) => {
    const told = /** @type {HTMLElement} */ (item).dataset;
    return { spot: String(told.spot), file: String(told.file), x: Number(told.x), y: Number(told.y), w: Number(told.w), h: Number(told.h) };
  });
  let kept = [...now], said = say.textContent;
  const query = () => now.map((grey) => `&grey=${encodeURIComponent(grey.spot)}`).join("");
  const differs = () => now.map((grey) => grey.spot).join("\n") !== kept.map((grey) => grey.spot).join("\n");
  const drawn = () => {
    const here = now.filter((grey) => grey.file === room.current().dataset.file);
    by("spots").replaceChildren(...here.flatMap((grey) => ["edge", ""].map((kind) => square(grey, kind))));
  };
  const listed = () => {
    list.replaceChildren(...now.map((grey, i) => item(grey, i)));
    keep.toggleAttribute("hidden", !differs());
    drop.toggleAttribute("hidden", !differs());
    drawn();
  };
  /** @param {Grey} grey @param {number} i */
  const item = (grey, i) => {
    const line = document.createElement("li"), name = document.createElement("span"), away = document.createElement("button");
    const link = room.links.find((one) => one.dataset.file === grey.file);
    name.textContent = `Frame ${link?.dataset.frame ?? grey.file}, at ${grey.x + Math.round(grey.w / 2)}, ${grey.y + Math.round(grey.h / 2)}`;
    const see = document.createElement("button");
    for (const [button, word] of /** @type {[HTMLButtonElement, string][]} */ ([[see, "Show"], [away, "Take back"]])) { button.type = "button"; button.textContent = word; button.setAttribute("aria-label", `${word}: grey ${i + 1}`); }
    see.hidden = !link;
    see.addEventListener("click", () => { if (link) room.show(link); });
    away.addEventListener("click", () => { now = now.filter((other) => other !== grey); changed(); /** @type {HTMLElement} */ (by("name-grey")).focus(); });
    line.append(name, see, away);
    return line;
  };
  /** Without greys that count, the door's own words stand. @param {boolean} fed */
  const told = (fed) => { document.querySelector('[data-door="fitted"]')?.classList.toggle("instead", fed); };
  const changed = async () => {
    listed();
    room.redrawn();
    told(false);
    if (!now.length) { say.textContent = ""; return; }
    if (now.length === 1) { say.textContent = "One more, clearly darker or lighter, and they count."; return; }
    const asked = query();
    const answer = await fetch(`${room.at}/greys?${asked.slice(1)}`);
    if (asked !== query()) return;
    const found = /** @type {{fed: boolean, say: string}} */ (answer.ok ? await answer.json() : { fed: false, say: `not read: ${answer.status}` });
    told(found.fed);
    say.textContent = `${found.say.charAt(0).toUpperCase()}${found.say.slice(1)}.`;
  };
  keep.addEventListener("click", async () => {
    const sent = [...now];
    try {
      const answer = await fetch(`${room.at}/greys`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ greys: sent.map((grey) => grey.spot) }) });
      if (!answer.ok) throw new Error(answer.status === 422 && now.length ? "they tell nothing yet, see above" : String(answer.status));
      kept = sent;
      said = say.textContent;
      listed();
      say.textContent = `${said} One line in the book.`.trim();
    } catch (slip) { say.textContent = `Not kept (${slip instanceof Error ? slip.message : slip}); the greys are still here.`; }
  });
  drop.addEventListener("click", () => { now = [...kept]; changed(); say.textContent = said; });
  listed();
  return {
    query, drawn, differs,
    /** @param {number} x @param {number} y */
    add: async (x, y) => {
      const answer = await fetch(`${room.current().dataset.at}/spot?x=${x}&y=${y}`);
      if (!answer.ok) { say.textContent = `The spot was not taken (${answer.status}).`; return; }
      const grey = /** @type {Grey} */ (await answer.json());
      if (now.some((other) => other.spot === grey.spot)) { say.textContent = "That grey is named already."; return; }
      now = [...now, grey];
      await changed();
    },
  };
}

/** @param {Grey} grey @param {string} kind */
function square(grey, kind) {
  const shape = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  for (const [name, value] of Object.entries({ x: grey.x, y: grey.y, width: grey.w, height: grey.h, class: kind })) shape.setAttribute(name, String(value));
  return shape;
}
