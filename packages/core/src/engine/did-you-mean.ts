/** ` (did you mean X?)`, or '' when nothing is near: at most 40 % of the letters may differ. */
export function didYouMean(text: string, known: readonly string[]): string {
  const best = closest(text, known);
  return best === undefined ? '' : ` (did you mean ${best}?)`;
}

/** The nearest known word by Damerau-Levenshtein distance (optimal string alignment), or undefined. */
export function closest(text: string, known: readonly string[]): string | undefined {
  const wanted = text.toLowerCase().slice(0, 100);
  let best: string | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const word of known) {
    const candidate = word.toLowerCase();
    const distance = candidate.endsWith(`.${wanted}`) ? 0.5 : editDistance(wanted, candidate);
    if (distance < least && distance <= 0.4 * Math.max(wanted.length, 3)) {
      least = distance;
      best = word;
    }
  }
  return best;
}

function editDistance(a: string, b: string): number {
  let before: number[] = [];
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const cost = a[i - 1] === b[j - 1] ? 0 : 1;
      let value = Math.min(previous[j]! + 1, row[j - 1]! + 1, previous[j - 1]! + cost);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) value = Math.min(value, before[j - 2]! + 1);
      row.push(value);
    }
    before = previous;
    previous = row;
  }
  return previous[b.length]!;
}
