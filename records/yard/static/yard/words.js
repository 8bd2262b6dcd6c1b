// The texts of the page, which stand in it so that they can be translated; {blanks} are filled in.

const found = new Map(
  [...document.querySelectorAll("#words [data-word]")].map((each) => [each.dataset.word, each.textContent]),
);

export function word(name, blanks = {}) {
  const text = found.get(name) ?? name;
  return text.replace(/\{(\w+)\}/g, (whole, key) => String(blanks[key] ?? whole));
}

export function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "class") made.className = value;
    else if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

// A time of the ground [ms] to the second.
export function clockTime(ms, zone) {
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" }).format(ms);
}

export function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
