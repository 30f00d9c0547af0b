/** Frames whose file cannot be shown: a bare frame on the strip, and large in words what the last reading said of it. */

/** Call on an image's failure, also one that came before this ran. @param {HTMLImageElement} image @param {() => void} call */
function onLost(image, call) {
  if (image.complete && image.naturalWidth === 0) call();
  else image.addEventListener("error", call);
}

/** Show the strip's lost frames as such, and the large one, if it is lost. @param {HTMLElement | null} figure */
export function lostFrames(figure) {
  for (const image of /** @type {NodeListOf<HTMLImageElement>} */ (document.querySelectorAll(".strip img"))) onLost(image, () => {
    const bare = document.createElement("span");
    bare.className = "lost-frame";
    bare.setAttribute("role", "img");
    bare.setAttribute("aria-label", `${image.alt}: cannot be shown`);
    image.replaceWith(bare);
  });
  const large = figure?.querySelector("svg image");
  if (!figure || !large) return;
  const probe = new Image();
  probe.src = large.getAttribute("href") ?? "";
  onLost(probe, () => {
    const say = document.createElement("p");
    say.className = "lost-negative";
    say.textContent = figure.dataset.lost ? `${figure.dataset.file}: ${figure.dataset.lost}` : `${figure.dataset.file} cannot be shown. A reading of the roll says what is wrong with it.`;
    figure.querySelector("svg")?.replaceWith(say);
    for (const of of figure.querySelectorAll(".nearness, #readout")) of.remove();
  });
}
