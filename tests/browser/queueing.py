"""Many events in a browser's queue at once."""

from __future__ import annotations

# As fast as the page's own store takes them.
QUEUE = """async (count) => {
  const store = await import("/static/yard/store.js");
  for (let n = 0; n < count; n += 1) await store.record("steam", {});
}"""
