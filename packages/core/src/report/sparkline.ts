import type { Spark } from '../plots/sparks.js';
import { quantity, span } from './format.js';

/** Eighths of a character cell (Unicode block elements, U+2581 to U+2588). */
const BARS = '▁▂▃▄▅▆▇█';
const NONE = '·';

/** `▁▁▂▃[▅▇██▇]▅▃  84 to 131.2 °C, 10:39–13:25`: the event stands in brackets, so that no colour is needed. */
export function sparkline({ values, from, to, event, name, unit }: Spark): string {
  const known = values.filter((value) => value !== null);
  const low = Math.min(...known);
  const high = Math.max(...known);
  const bar = (value: number | null): string =>
    value === null ? NONE : BARS[high > low ? Math.min(7, Math.floor((8 * (value - low)) / (high - low))) : 0]!;
  const at = (t: number): number =>
    Math.min(values.length - 1, Math.max(0, Math.floor((values.length * (t - from)) / (to - from || 1))));
  const [first, last] = [at(event.from), at(event.to)];
  const drawn = values.map((value, k) => `${k === first ? '[' : ''}${bar(value)}${k === last ? ']' : ''}`).join('');
  const reach = known.length === 0 ? 'no sample' : `${quantity(low, unit)} to ${quantity(high, unit)}`;
  return `${drawn} ${name} ${reach}, ${span(from, to)}`;
}
