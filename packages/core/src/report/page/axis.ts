/** Round numbers from `low` to `high`, about `count` of them; a range of nothing gives its one value. */
export function ticks(low: number, high: number, count: number): number[] {
  if (!(high > low)) return Number.isFinite(low) ? [low] : [];
  const rough = (high - low) / Math.max(1, count);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((each) => each * power >= rough) ?? 10);
  return multiples(low, high, step);
}

/** Seconds between the ticks of a clock. */
const CLOCK = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400, 36_000] as const;

/** The same for seconds of recording time: steps as a clock has them. */
export function clockTicks(from: number, to: number, count: number): number[] {
  const rough = (to - from) / Math.max(1, count);
  return multiples(from, to, CLOCK.find((each) => each >= rough) ?? Math.ceil(rough / 36_000) * 36_000);
}

function multiples(low: number, high: number, step: number): number[] {
  const found: number[] = [];
  // Counted, not added up, so that 0.1 stays 0.1.
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++)
    found.push(Number((k * step).toPrecision(12)));
  return found;
}
