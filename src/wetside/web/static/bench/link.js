// @ts-check
/**
 * The link to the server: state and clock over a WebSocket, taps by POST out of an outbox.
 *
 * Clock: the server's wall time is this page's monotonic clock plus an offset, taken from the round trip that was
 * shortest of late. Outbox: kept in localStorage under a key of this tab; a tap leaves it only on 200, 201 or a
 * refusal, and a refusal is shown.
 */

/** A name nobody else takes; randomUUID is missing on plain http. */
export function freshId() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

export class ServerClock {
  /** @param {number} serverNow */
  constructor(serverNow) {
    /** @type {{trip:number, offset:number, at:number}[]} */
    this.tries = [];
    this.offset = serverNow - performance.now() / 1000;
    // a page that slept loses monotonic time: compare with the wall and start afresh after a jump
    this.wall = Date.now() / 1000 - performance.now() / 1000;
  }

  /** @param {number} sent @param {number} got @param {number} server */
  heard(sent, got, server) {
    this.tries = this.tries.filter((t) => got - t.at < 60);
    this.tries.push({ trip: got - sent, offset: server - (sent + got) / 2, at: got });
    this.offset = this.tries.reduce((best, t) => (t.trip < best.trip ? t : best)).offset;
  }

  now() {
    const wall = Date.now() / 1000 - performance.now() / 1000;
    if (Math.abs(wall - this.wall) > 0.5) {
      this.offset += wall - this.wall;
      this.wall = wall;
      this.tries = [];
    }
    return performance.now() / 1000 + this.offset;
  }
}

export class Outbox {
  /** @param {string} run @param {(event:any, why:string) => void} refused @param {() => void} changed */
  constructor(run, refused, changed) {
    let tab = sessionStorage.getItem("tab");
    if (!tab) sessionStorage.setItem("tab", (tab = freshId()));
    this.prefix = `outbox ${run} `;
    this.key = this.prefix + tab;
    this.run = run;
    this.refused = refused;
    this.changed = changed;
    this.sending = false;
    /** @type {any[]} */
    this.events = JSON.parse(localStorage.getItem(this.key) || "[]");
    this.adopt();
  }

  /** Taps of a tab that was closed with the link down; ids make a double delivery harmless. */
  adopt() {
    for (let n = localStorage.length - 1; n >= 0; n--) {
      const key = localStorage.key(n);
      if (!key?.startsWith(this.prefix) || key === this.key) continue;
      const known = new Set(this.events.map((e) => e.id));
      this.events.push(...JSON.parse(localStorage.getItem(key) || "[]").filter((/** @type {any} */ e) => !known.has(e.id)));
    }
    this.keep();
  }

  keep() {
    if (this.events.length) localStorage.setItem(this.key, JSON.stringify(this.events));
    else localStorage.removeItem(this.key);
  }

  /** @param {any} event */
  put(event) {
    this.events.push(event);
    this.keep();
    this.changed();
    void this.send();
  }

  async send() {
    if (this.sending) return;
    this.sending = true;
    try {
      while (this.events.length) {
        const event = this.events[0];
        const answer = await fetch(`/api/runs/${this.run}/events`, {
          method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(event),
          signal: AbortSignal.timeout(5000),
        });
        if (answer.status >= 500) return;
        const said = await answer.json();
        this.drop(event.id);
        if (answer.status >= 400) this.refused(event, said.what || String(answer.status));
        else this.heard?.(said);
        this.changed();
      }
    } catch {
      // the link is down: the taps stay, the next try is the timer's
    } finally {
      this.sending = false;
    }
  }

  /** @type {((run:any) => void) | undefined} */
  heard;

  /** @param {string} id */
  drop(id) {
    this.events = this.events.filter((e) => e.id !== id);
    this.keep();
    for (let n = localStorage.length - 1; n >= 0; n--) {
      const key = localStorage.key(n);
      if (!key?.startsWith(this.prefix) || key === this.key) continue;
      const left = JSON.parse(localStorage.getItem(key) || "[]").filter((/** @type {any} */ e) => e.id !== id);
      if (left.length) localStorage.setItem(key, JSON.stringify(left));
      else localStorage.removeItem(key);
    }
  }
}

/**
 * Keeps a socket open; tries again every 0.4 s while it is not.
 * @param {string} run @param {ServerClock} clock @param {(run:any) => void} heard @param {(up:boolean) => void} link
 */
export function watch(run, clock, heard, link) {
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  const open = () => {
    const socket = new WebSocket(`${scheme}://${location.host}/api/runs/${run}/ws`);
    let last = performance.now(), pings = 0;
    const ping = () => {
      if (performance.now() - last > 4000) socket.close();
      else if (socket.readyState === WebSocket.OPEN) socket.send(JSON.stringify({ ping: performance.now() / 1000 }));
    };
    const late = setTimeout(() => socket.readyState === WebSocket.CONNECTING && socket.close(), 2000);
    const timer = setInterval(() => { if (pings++ < 8 || pings % 5 === 0) ping(); }, 200);
    socket.onopen = () => { clearTimeout(late); link(true); ping(); };
    socket.onmessage = (message) => {
      last = performance.now();
      const said = JSON.parse(message.data);
      if (said.type === "pong") clock.heard(said.ping, performance.now() / 1000, said.now);
      else heard(said.run);
    };
    socket.onclose = () => { clearInterval(timer); clearTimeout(late); link(false); setTimeout(open, 400); };
  };
  open();
}
