/**
 * The candidate nearest to what was written, for "did you mean"; undefined when nothing is near. Case and punctuation
 * do not count. Distance: Levenshtein (insertions, deletions, substitutions), at most a third of the longer text.
 */
export function nearest(written: string, candidates: Iterable<string>): string | undefined {
  const wanted = plain(written);
  let best: string | undefined;
  let bestDistance = Number.POSITIVE_INFINITY;
  for (const candidate of candidates) {
    const text = plain(candidate);
    const distance = editDistance(wanted, text);
    if (distance < bestDistance && distance <= Math.max(wanted.length, text.length) / 3) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}

function plain(text: string): string {
  return text.toLowerCase().replace(/[\s_\-./()[\]]+/g, '');
}

/** Levenshtein distance of two texts, cut to 100 characters each. */
function editDistance(left: string, right: string): number {
  const a = left.slice(0, 100);
  const b = right.slice(0, 100);
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a.charCodeAt(i - 1) === b.charCodeAt(j - 1) ? 0 : 1;
      next.push(Math.min(next[j - 1]! + 1, row[j]! + 1, row[j - 1]! + same));
    }
    row = next;
  }
  return row[b.length]!;
}
