// How an event is spelt, and its SHA-256: to the byte as the server spells it.
//
// Keys in order, no blanks. Values are texts, whole numbers, true, false, null, lists, objects.

export function spelt(value) {
  if (Array.isArray(value)) return `[${value.map(spelt).join(",")}]`;
  if (value === null || typeof value !== "object") {
    if (typeof value === "number" && !Number.isSafeInteger(value)) {
      throw new TypeError(`${value} is no whole number: write it as text`);
    }
    return JSON.stringify(value);
  }
  const parts = Object.keys(value)
    .sort()
    .map((key) => `${JSON.stringify(key)}:${spelt(value[key])}`);
  return `{${parts.join(",")}}`;
}

const HEX = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, "0"));

export async function sha256(text) {
  const hash = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return Array.from(new Uint8Array(hash), (byte) => HEX[byte]).join("");
}
