// Air in cylinders, as facility/calc/air.py has it. Pure: pressures [bar], volumes [L], free air [L].
// The fill factors come from the page, so that they stand in one place.

const between = (points, values, at) => {
  if (at <= points[0]) return values[0];
  const last = points.length - 1;
  if (at >= points[last]) return values[last];
  const place = points.findIndex((point) => point > at);
  const share = (at - points[place - 1]) / (points[place] - points[place - 1]);
  return values[place - 1] + share * (values[place] - values[place - 1]);
};

// Free air held at a pressure: real air is squeezed less than its share.
export const airHeld = (bar, volume, fill) => volume * bar * between(fill.pressures, fill.factors, bar);

const HIGHEST = 500; // whole bars, between which the air rises nearly straight

// The pressure at which cylinders hold an amount of free air.
export const pressureOf = (air, volume, fill) => {
  let low = 0;
  let high = HIGHEST;
  if (air >= airHeld(HIGHEST, volume, fill)) return HIGHEST;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (airHeld(middle, volume, fill) <= air) low = middle;
    else high = middle;
  }
  const [under, over] = [airHeld(low, volume, fill), airHeld(high, volume, fill)];
  return Math.max(0, low + (air - under) / (over - under));
};

// Minutes to the turnaround, the whistle and empty, and where the gauge stands at the turnaround.
export const airTime = ({ volume, start, consumption, reserve, wayOut, fill }) => {
  const held = airHeld(start, volume, fill);
  const usable = Math.max(0, held - airHeld(reserve, volume, fill));
  const inward = usable / (1 + wayOut);
  return {
    to_turnaround: inward / consumption,
    to_whistle: usable / consumption,
    to_empty: held / consumption,
    turnaround_pressure: pressureOf(held - inward, volume, fill),
    air_held: held,
  };
};
