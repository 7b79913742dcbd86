/**
 * How much a cell looks like the name of a measured quantity (0..1). One small function, so that the channel catalogue
 * can take its place here.
 */
export function labelWeight(cell: string): number {
  const words = labelWords(cell);
  for (const word of words) if (KNOWN.has(word)) return 1;
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
