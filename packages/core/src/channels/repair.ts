/** Longest run of letters that is looked at; keeps the work bounded. */
const LONGEST = 40;

/** Splits `coolanttemp` into known words, fewest first; undefined when it cannot be done. */
function segment(token: string, vocabulary: ReadonlySet<string>): string[] | undefined {
  if (token.length < 6 || token.length > LONGEST) return undefined;
  const best: (string[] | undefined)[] = [[]];
  for (let end = 1; end <= token.length; end++) {
    for (let start = Math.max(0, end - 16); start <= end - 3; start++) {
      const before = best[start];
      if (before === undefined) continue;
      const word = token.slice(start, end);
      if (!vocabulary.has(word)) continue;
      if (best[end] === undefined || before.length + 1 < best[end]!.length) best[end] = [...before, word];
    }
  }
  return best[token.length];
}

/** One letter changed, missing, doubled, or two neighbours exchanged. */
function isNear(a: string, b: string): boolean {
  const gap = a.length - b.length;
  if (gap < -1 || gap > 1 || a === b) return false;
  let head = 0;
  while (head < a.length && a[head] === b[head]) head++;
  let tail = 0;
  while (tail < Math.min(a.length, b.length) - head && a[a.length - 1 - tail] === b[b.length - 1 - tail]) tail++;
  const restA = a.length - head - tail;
  const restB = b.length - head - tail;
  if (restA <= 1 && restB <= 1) return true;
  return restA === 2 && restB === 2 && a[head] === b[head + 1] && a[head + 1] === b[head];
}

export interface Repair {
  readonly tokens: readonly string[];
  /** A misprint was mended: the reading is then not certain. */
  readonly mended: boolean;
  readonly notes: readonly string[];
}

/**
 * Words run together are cut apart, misprints of one letter in words of five letters and more are mended when only one
 * known word is meant.
 */
export function repair(tokens: readonly string[], vocabulary: ReadonlySet<string>): Repair {
  const out: string[] = [];
  const notes: string[] = [];
  let mended = false;
  for (const token of tokens) {
    if (vocabulary.has(token) || token.length < 5 || token < 'a') {
      out.push(token);
      continue;
    }
    const parts = segment(token, vocabulary);
    if (parts !== undefined) {
      out.push(...parts);
      continue;
    }
    const near: string[] = [];
    if (token.length <= LONGEST)
      for (const word of vocabulary) if (word.length >= 5 && isNear(token, word)) near.push(word);
    if (near.length === 1) {
      out.push(near[0]!);
      notes.push(`'${token}' read as '${near[0]}'`);
      mended = true;
    } else out.push(token);
  }
  return { tokens: out, mended, notes };
}
