import type { Drive } from '../derived/recipe.js';
import type { Assessment } from '../engine/assessment.js';
import type { Rule } from '../rules/rule.js';
import { evidenceFigures } from './evidence.js';
import type { Figure } from './figure.js';

/** What was judged around the gravest event of a finding, in a few values: for a terminal. */
export interface Spark {
  readonly rule: string;
  readonly name: string;
  readonly unit: string;
  /** Seconds of recording time that the values cover, and of the event within. */
  readonly from: number;
  readonly to: number;
  readonly event: { readonly from: number; readonly to: number };
  /** Equally long stretches; of each the value furthest from the middle of all, null = no sample. */
  readonly values: readonly (number | null)[];
}

/** Values of a spark; a terminal of 80 columns has room for them beside their label. */
const COUNT = 40;
/** Points of the figure that a spark is made of. */
const POINTS = 400;

/** One spark a finding whose evidence has a course of time. */
export function sparksOf(assessment: Assessment, drives: readonly Drive[], rules: readonly Rule[]): Spark[] {
  const byInput = new Map(drives.map((drive) => [drive.input, drive]));
  return assessment.results.flatMap((result) => {
    const rule = rules.find(({ id }) => id === result.rule);
    if (result.outcome !== 'finding' || rule === undefined) return [];
    const [figure] = evidenceFigures(result, rule, byInput, { figures: 1, points: POINTS });
    return figure === undefined ? [] : [sparkOf(result.rule, figure)];
  });
}

function sparkOf(rule: string, { time, panels, marks }: Figure): Spark {
  const [panel] = panels;
  const { name, values } = panel!.traces[0]!;
  const [from, to] = [time[0]!, time[time.length - 1]!];
  const shown = values.filter((value) => value !== null).sort((a, b) => a - b);
  const middle = shown[shown.length >> 1] ?? 0;
  const furthest: (number | null)[] = new Array(COUNT).fill(null);
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value === null || value === undefined) continue;
    const k = Math.min(COUNT - 1, Math.floor((COUNT * (time[i]! - from)) / (to - from || 1)));
    const before = furthest[k] ?? null;
    if (before === null || Math.abs(value - middle) > Math.abs(before - middle)) furthest[k] = value;
  }
  const [mark] = marks;
  return {
    rule,
    name,
    unit: panel!.unit,
    from,
    to,
    event: { from: mark?.from ?? from, to: mark?.to ?? to },
    values: furthest,
  };
}
