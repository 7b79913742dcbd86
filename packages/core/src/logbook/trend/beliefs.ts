import { type Prepared, shapeFactor, weigh } from './evidence.js';
import { type Line, lineOf } from './lines.js';
import { everyShape, type Moment } from './moment.js';
import type { Standing } from './sequence.js';
import { shapesOf } from './shape.js';

/** Shapes and autocorrelations with less of the belief are not followed. */
const SLIGHT = 5e-3;
/** Belief in a change where no alarm stands, before the data: what the forecast of a steady measure rests on. */
const CHANGED = 0.1;

/** What may be going on, as fitted lines with their shares of the belief. */
export interface Beliefs {
  readonly memories: readonly { readonly of: Prepared; readonly weight: number }[];
  /** No change; a change towards worse; the drift of the whole present baseline, whatever its direction. */
  readonly none: readonly Line[];
  readonly changes: readonly Line[];
  readonly slopes: readonly Line[];
}

export function beliefsOf(
  { moment, prepared, memories: priors, evidence }: Standing,
  worst: 'higher' | 'lower',
): Beliefs {
  const memories = memoryBelief(moment, prepared, priors);
  const linesOf = (shape: Parameters<typeof lineOf>[2]): Line[] =>
    memories.flatMap(({ of, weight }) => lineOf(moment, of, shape, weight) ?? []);
  const drift = shapesOf(moment.years, moment.start).find(
    ({ kind, onset, through }) => kind === 'drift' && onset === moment.start && !through,
  );
  return {
    memories,
    none: linesOf(undefined),
    changes:
      evidence === undefined
        ? []
        : weigh(prepared, priors, everyShape(moment))[worst].terms.flatMap(({ shape, rho, weight }) => {
            if (weight < SLIGHT) return [];
            return lineOf(moment, prepared.find((each) => each.rho === rho)!, shape, weight) ?? [];
          }),
    slopes: drift === undefined ? [] : linesOf(drift),
  };
}

/** All lines where no alarm stands: that nothing changes is the first belief. */
export function undecided({ none, changes }: Beliefs, logBayes: number | undefined): Line[] {
  const changed = logBayes === undefined ? 0 : CHANGED / (CHANGED + (1 - CHANGED) * Math.exp(-logBayes));
  const weighted = (lines: readonly Line[], share: number): Line[] =>
    share < SLIGHT ? [] : lines.map((line) => ({ ...line, weight: line.weight * share }));
  return [...weighted(none, 1 - changed), ...weighted(changes, changed)];
}

/** Autocorrelations by what is believed of them now, without a change. */
function memoryBelief(
  { problem }: Moment,
  prepared: readonly Prepared[],
  memories: readonly number[],
): { of: Prepared; weight: number }[] {
  const oldest = problem.shapes[0];
  const logs = prepared.map((each, k) => {
    const factor = oldest === undefined ? undefined : shapeFactor(each, oldest);
    const either = factor === undefined ? 0 : Math.log(0.9 + 0.05 * (Math.exp(factor.higher) + Math.exp(factor.lower)));
    return Math.log(memories[k]!) + each.log + either;
  });
  const largest = Math.max(...logs);
  const total = logs.reduce((sum, log) => sum + Math.exp(log - largest), 0);
  return prepared
    .map((of, k) => ({ of, weight: Math.exp(logs[k]! - largest) / total }))
    .filter(({ weight }) => weight >= SLIGHT);
}
