import { type GradedCode, gradeCode } from '../../codes/grade.js';
import type { CodeStatus } from '../../recording/raw-read-out.js';
import type { StoredCode } from '../../recording/read-out.js';
import { rankOf, SEVERITIES } from '../ladder.js';
import type { OtherResult, Severity } from '../rule.js';

/** What the recordings say about a code. */
export type Agreement = 'confirmed' | 'contradicted' | 'elsewhere' | 'open';

export interface WeighedCode {
  readonly entry: StoredCode;
  readonly grade: GradedCode;
  readonly severity: Severity;
  readonly agreement: Agreement;
  /** Rules behind the agreement; for `open` those that could settle it. */
  readonly rules: readonly string[];
  /** The code may come from low voltage alone. */
  readonly byVoltage: boolean;
}

/** Below this (V) control units drop out and store codes about each other. Common practice, no source. */
const LOW_VOLTAGE = 10;
const VOLTAGE_CODE = /^P056[0-3]$|^P088[02-4]$|^P250[2-4]$/;

/**
 * Each code with what the recordings say of it. Pending and past codes count one step less than stored and permanent ones,
 * unless a recording confirms them; a code that the recording contradicts counts one step less; never below watch.
 * @param results outcomes of the other rules, by id.
 */
export function weigh(codes: readonly StoredCode[], results: ReadonlyMap<string, OtherResult>): WeighedCode[] {
  const weak = codes.some(
    ({ code, frame }) =>
      VOLTAGE_CODE.test(code.code) ||
      frame.some((each) => each.channel === 'systemVoltage' && each.value < LOW_VOLTAGE),
  );
  const weighed = codes.map((entry): WeighedCode => {
    const grade = gradeCode(entry.code);
    const { agreement, rules } = agreementOf(grade, results);
    const byVoltage = weak && entry.code.area === 'network';
    let steps = 0;
    if (!isFirm(entry.statuses) && agreement !== 'confirmed') steps++;
    if (agreement === 'contradicted') steps++;
    const severity = byVoltage ? 'watch' : lowered(grade.severity, steps);
    return { entry, grade, severity, agreement, rules, byVoltage };
  });
  const order = (each: WeighedCode): number =>
    rankOf(each.severity) * 8 +
    (each.agreement === 'confirmed' ? 4 : 0) +
    (isFirm(each.entry.statuses) ? 2 : 0) +
    (each.grade.known ? 1 : 0);
  return weighed.sort((a, b) => order(b) - order(a) || (a.entry.code.code < b.entry.code.code ? -1 : 1));
}

function isFirm(statuses: readonly CodeStatus[]): boolean {
  return statuses.includes('stored') || statuses.includes('permanent');
}

function lowered(severity: Severity, steps: number): Severity {
  return SEVERITIES[Math.max(0, SEVERITIES.indexOf(severity) - steps)]!;
}

function agreementOf(
  { rules, meaning }: GradedCode,
  results: ReadonlyMap<string, OtherResult>,
): { readonly agreement: Agreement; readonly rules: readonly string[] } {
  const run = rules.filter((id) => results.has(id));
  const found = run.filter((id) => results.get(id)!.outcome === 'finding');
  const cylinder = Number(/cylinder (\d+)/i.exec(meaning)?.[1] ?? Number.NaN);
  const here = found.filter((id) => !otherCylinders(results.get(id)!, cylinder));
  if (here.length > 0) return { agreement: 'confirmed', rules: here };
  if (found.length > 0) return { agreement: 'elsewhere', rules: found };
  // The nearest rule speaks: a more distant one that is clear says nothing about a code that it does not look at.
  const nearest = run[0];
  if (nearest !== undefined && results.get(nearest)!.outcome === 'clear')
    return { agreement: 'contradicted', rules: [nearest] };
  return { agreement: 'open', rules: run.filter((id) => results.get(id)!.outcome === 'unproven') };
}

/** The finding names cylinders, and not the one of the code. */
function otherCylinders({ cylinders }: OtherResult, cylinder: number): boolean {
  return !Number.isNaN(cylinder) && cylinders !== undefined && cylinders.length > 0 && !cylinders.includes(cylinder);
}
