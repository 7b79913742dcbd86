import type { Severity } from '../rules/rule.js';
import type { Mark } from './figure.js';

/** Shares of a figure's length that cannot be told apart in it. */
const APART = 1 / 800;

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

/**
 * Marks of one rule that stand so close that a figure of `length` seconds cannot show them apart become one, of the
 * gravest severity and the first figure: ten thousand events make no ten thousand marks. @param marks in any order
 */
export function joinedMarks(marks: readonly Mark[], length: number): Mark[] {
  const gap = APART * length;
  const joined: Mark[] = [];
  const last = new Map<string, number>();
  for (const mark of [...marks].sort((a, b) => a.from - b.from)) {
    const at = last.get(mark.rule);
    const before = at === undefined ? undefined : joined[at]!;
    if (before === undefined || mark.from - before.to > gap) {
      last.set(mark.rule, joined.length);
      joined.push(mark);
      continue;
    }
    const figure = before.figure ?? mark.figure;
    joined[at!] = {
      ...before,
      to: Math.max(before.to, mark.to),
      severity: RANK[mark.severity] > RANK[before.severity] ? mark.severity : before.severity,
      ...(figure === undefined ? {} : { figure }),
    };
  }
  return joined;
}
