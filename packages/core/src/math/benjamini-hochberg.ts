/**
 * NaN throws RangeError; empty gives empty. Adjusted p values in the given order: among the tests at or below one of them,
 * so large a share is expected to be false. Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300.
 */
export function benjaminiHochberg(p: readonly number[]): number[] {
  const wrong = p.find((each) => !(each >= 0 && each <= 1));
  if (wrong !== undefined) throw new RangeError(`benjaminiHochberg: p is ${wrong}, expected 0..1`);
  const order = p.map((_, i) => i).sort((a, b) => p[b]! - p[a]! || b - a);
  const adjusted = new Array<number>(p.length);
  let least = 1;
  order.forEach((at, rank) => {
    least = Math.min(least, (p.length / (p.length - rank)) * p[at]!);
    adjusted[at] = least;
  });
  return adjusted;
}
