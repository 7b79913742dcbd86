import { recogniseColumn } from '../channels/index.js';

/**
 * How much a cell looks like the name of a measured quantity: 1 = a channel of the catalogue, 0.6 = a word of the trade,
 * 0 = neither. Only used to tell the row of names from remarks above it.
 */
export function labelWeight(cell: string): number {
  if (cell.length > 120) return 0;
  if (recogniseColumn({ label: cell }).channel !== undefined) return 1;
  for (const word of labelWords(cell)) if (KNOWN.has(word)) return 0.6;
  return 0;
}

const KNOWN = new Set(
  (
    'time timestamp rpm speed temp temperature pressure throttle pedal load fuel trim lambda afr boost ignition timing advance knock ' +
    'retard torque gear voltage battery coolant oil air mass flow maf map iat ect tft vss vpwr engine vehicle wheel intake manifold ' +
    'clutch transmission lateral longitudinal accel acceleration altitude latitude longitude position duty pump rail injector exhaust'
  ).split(' '),
);

/** Lower-case words of a label: split at everything that is not a letter or digit, and at camel-case borders. */
export function labelWords(label: string): string[] {
  const words: string[] = [];
  let word = '';
  let previousLower = false;
  for (const char of label) {
    const lower = char.toLowerCase();
    const letter = lower !== char.toUpperCase();
    const digit = char >= '0' && char <= '9';
    if (!letter && !digit && char !== 'µ') {
      if (word !== '') words.push(word);
      word = '';
      previousLower = false;
      continue;
    }
    const upper = letter && char !== lower;
    if (upper && previousLower && word !== '') {
      words.push(word);
      word = '';
    }
    word += lower;
    previousLower = letter && !upper;
  }
  if (word !== '') words.push(word);
  return words;
}
