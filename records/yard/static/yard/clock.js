// The two clocks of the device, and when the server last told the time.

// A name for this start of the page: the counting clock begins anew with each.
export const BOOT = Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) =>
  byte.toString(16).padStart(2, "0"),
).join("");

export function reading() {
  return { wall: Math.max(0, Date.now()), mono: Math.round(performance.now()), boot: BOOT };
}

// Ask the server three times; the shortest answer says the time best. `ask` gives its `server` time.
export async function anchored(ask, times = 3) {
  let best = null;
  let last = null;
  for (let turn = 0; turn < times; turn += 1) {
    const before = reading();
    const answer = await ask();
    const after = reading();
    last = answer;
    const rtt = after.mono - before.mono;
    if (best === null || rtt < best.rtt) {
      const half = Math.round(rtt / 2);
      best = { server: answer.server, wall: before.wall + half, mono: before.mono + half, rtt, boot: BOOT };
    }
  }
  return { anchor: best, answer: last };
}

// The server's time now [ms], as well as this device knows it, and plus or minus how much.
export function serverTime(anchor) {
  const now = reading();
  if (!anchor) return { at: now.wall, within: null };
  if (anchor.boot !== BOOT) return { at: anchor.server + now.wall - anchor.wall, within: 5000 };
  const passed = now.mono - anchor.mono;
  const apart = Math.abs(now.wall - anchor.wall - passed);
  return { at: anchor.server + passed, within: Math.round(anchor.rtt / 2) + (apart > 2000 ? apart : 0) };
}

// When an event happened, as the page shows it; the server works it out for itself.
export function happened(event) {
  const anchor = event.anchor;
  if (!anchor) return event.wall;
  if (anchor.boot === event.boot) return anchor.server + event.mono - anchor.mono;
  return anchor.server + event.wall - anchor.wall;
}
