import type { NoteKind, TrackedMeasure } from '../entry.js';
import type { DatedNote, Look } from './looks.js';

/** One measure through the looks that have it. */
export interface Series {
  readonly measure: TrackedMeasure;
  /** Looks of the car, by place. */
  readonly looks: readonly number[];
  /** Mean of the drives of each look, and its standard error (NaN = not known). */
  readonly values: Float64Array;
  readonly errors: Float64Array;
  /** Baseline that each look belongs to, 0 and up. */
  readonly baselines: Int32Array;
  /** Drives behind all looks. */
  readonly drives: number;
}

/** The tracked measures that any look has, in the order of `measures`; values in another unit are left out. */
export function seriesOf(
  looks: readonly Look[],
  notes: readonly DatedNote[],
  measures: readonly TrackedMeasure[],
): { series: Series[]; otherUnits: string[] } {
  const otherUnits = new Set<string>();
  const found = new Map<string, { look: number; values: number[]; errors: number[] }[]>();
  const byId = new Map(measures.map((measure) => [measure.id, measure]));
  looks.forEach((look, at) => {
    for (const { entry } of look.drives)
      for (const { id, value, standardError, unit } of entry.measures) {
        const measure = byId.get(id);
        if (measure === undefined || !Number.isFinite(value)) continue;
        if (measure.unit !== unit) {
          otherUnits.add(id);
          continue;
        }
        const list = found.get(id) ?? [];
        found.set(id, list);
        if (list.at(-1)?.look !== at) list.push({ look: at, values: [], errors: [] });
        list.at(-1)!.values.push(value);
        list.at(-1)!.errors.push(standardError !== null && standardError > 0 ? standardError : Number.NaN);
      }
  });
  const series = measures.flatMap((measure) => {
    const list = found.get(measure.id);
    if (list === undefined) return [];
    const restarts = restartsOf(notes, measure.rebaselinedBy);
    const counts = list.map(({ look }) => restarts.filter((at) => at < looks[look]!.notes).length);
    // Work before the first value starts nothing anew, and two works between two looks start one baseline.
    const distinct = [...new Set(counts)];
    return [
      {
        measure,
        looks: list.map(({ look }) => look),
        values: Float64Array.from(list, ({ values }) => mean(values)),
        errors: Float64Array.from(list, ({ errors }) => Math.sqrt(sumOfSquares(errors)) / errors.length),
        baselines: Int32Array.from(counts, (count) => distinct.indexOf(count)),
        drives: list.reduce((sum, { values }) => sum + values.length, 0),
      },
    ];
  });
  return { series, otherUnits: [...otherUnits].sort() };
}

/** Places in the sorted notes of those that start a measure anew. */
export function restartsOf(notes: readonly DatedNote[], kinds: readonly NoteKind[]): number[] {
  return notes.flatMap(({ note }, at) => (kinds.includes(note.kind) ? [at] : []));
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, x) => sum + x, 0) / values.length;
}

function sumOfSquares(values: readonly number[]): number {
  return values.reduce((sum, x) => sum + x * x, 0);
}
