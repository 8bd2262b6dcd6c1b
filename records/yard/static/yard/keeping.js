// Whether this browser will keep what it holds, and the file to rescue it by.

import * as store from "./store.js";

const ENOUGH_BYTES = 50 * 1024 * 1024;

export const keeping = { persisted: false, room: true, offline: false };

export async function askToKeep() {
  const storage = navigator.storage;
  keeping.persisted = Boolean((await storage?.persisted?.()) || (await storage?.persist?.()));
  const { quota = 0, usage = 0 } = (await storage?.estimate?.()) ?? {};
  keeping.room = quota - usage >= ENOUGH_BYTES;
  return keeping;
}

// Gives how many events it holds; 0 writes no file.
export async function writeRescueFile() {
  const rows = await store.toRescue();
  const lines = rows.map((row) => `${row.text}\n`);
  if (!lines.length) return 0;
  const file = new Blob(lines, { type: "application/x-ndjson" });
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = `yard-rescue-${new Date().toISOString().slice(0, 19).replaceAll(":", "")}.jsonl`;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  await store.keep("rescued", rows.map((row) => row.id));
  return lines.length;
}

export async function keepPage(address) {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register(address, { scope: new URL(address, location.href).pathname.replace(/[^/]*$/, "") });
  await navigator.serviceWorker.ready;
  keeping.offline = true;
}
