/**
 * NaN throws RangeError; empty gives empty. Adjusted p values in the given order: the share of wrongly claimed changes
 * in the whole family stays below the level that they are compared with, whatever the dependence of the tests.
 * Holm, Scandinavian Journal of Statistics 6 (1979) 65-70.
 */
export function holm(p: readonly number[]): number[] {
  const wrong = p.find((each) => !(each >= 0 && each <= 1));
  if (wrong !== undefined) throw new RangeError(`holm: p is ${wrong}, expected 0..1`);
  const order = p.map((_, i) => i).sort((a, b) => p[a]! - p[b]! || a - b);
  const adjusted = new Array<number>(p.length);
  let largest = 0;
  order.forEach((at, rank) => {
    largest = Math.max(largest, Math.min(1, (p.length - rank) * p[at]!));
    adjusted[at] = largest;
  });
  return adjusted;
}
