import { assess } from '../../src/engine/assess.js';
import type { Assessment, Result } from '../../src/engine/assessment.js';
import type { Vehicle } from '../../src/vehicle/vehicle.js';

const utf8 = new TextEncoder();

/** The texts of one car, each as a file, judged by some rules through the whole library. */
export function assessTexts(
  rules: readonly string[],
  texts: readonly (string | Uint8Array)[],
  vehicle?: Vehicle,
): Promise<Assessment> {
  const files = texts.map((text, i) => ({
    name: `file-${i + 1}`,
    source: typeof text === 'string' ? utf8.encode(text) : text,
  }));
  return assess(files, { only: rules, ...(vehicle === undefined ? {} : { vehicle }) });
}

/** Result of one rule; an exception inside it is thrown, not reported. */
export async function judgeTexts(rule: string, texts: readonly string[], vehicle?: Vehicle): Promise<Result> {
  const { results } = await assessTexts([rule], texts, vehicle);
  const result = results.find((each) => each.rule === rule);
  if (result === undefined || result.outcome === 'error') throw new Error(result?.error ?? 'no result');
  return result;
}

/** Lines of a stored-values file. */
export function values(rows: Readonly<Record<string, string | number>>): string {
  return [
    'name,value,unit',
    ...Object.entries(rows).map(([name, value]) => `${name},${String(value).replace(' ', ',')}`),
    '',
  ].join('\n');
}
