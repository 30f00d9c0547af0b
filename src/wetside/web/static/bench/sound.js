// @ts-check
/** Two tones to turn, three to drain. A browser gives sound only after a tap. */
/** @type {AudioContext | null} */
let context = null;
let on = false;

export const soundIsOn = () => on;

/** @param {boolean} wanted */
export function setSound(wanted) {
  on = wanted;
  if (on) { context ??= new AudioContext(); void context.resume(); cue("turn"); }
}

/** @param {"turn" | "drain"} what */
export function cue(what) {
  if (!on || !context) return;
  const tones = what === "turn" ? [523, 784] : [784, 784, 523];
  tones.forEach((pitch, n) => {
    const tone = /** @type {AudioContext} */ (context).createOscillator(), loud = /** @type {AudioContext} */ (context).createGain();
    const at = /** @type {AudioContext} */ (context).currentTime + n * 0.22;
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.3, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.2);
    tone.connect(loud).connect(/** @type {AudioContext} */ (context).destination);
    tone.start(at);
    tone.stop(at + 0.21);
  });
  navigator.vibrate?.(what === "turn" ? [80, 60, 80] : [200, 80, 200]);
}

/** Keeps the screen on while the page is seen. Says what to do where a browser cannot (plain http on a LAN has no such right). */
export async function keepAwake() {
  const lock = /** @type {any} */ (navigator).wakeLock;
  if (!lock) return "This page cannot keep the screen on: set the device not to lock, a locked phone plays no cue.";
  const hold = async () => { try { if (document.visibilityState === "visible") await lock.request("screen"); } catch { /* the battery may refuse */ } };
  document.addEventListener("visibilitychange", () => void hold());
  await hold();
  return "";
}
