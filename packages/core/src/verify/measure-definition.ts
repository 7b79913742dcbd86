import { isRefusal, type Refusal, refuse } from '../derived/recipe.js';
import { type Range, type Reading, readPull, type Statistic } from './measure.js';
import type { PullTrace } from './pull.js';
import type { Quantity } from './signal.js';
import { BOOST_ERROR } from './signals-air.js';

/** A limit that stands in a rule, and is taken from there. */
export interface RuleLimit {
  readonly rule: string;
  readonly name: string;
}

/** One number of a pull. */
export interface MeasureDefinition {
  /** Key in limits files, results and tables. */
  readonly id: string;
  readonly unit: string;
  /** As a practitioner says it. */
  readonly title: string;
  readonly about: string;
  /** Direction that harms; a limit of the measure is broken beyond it. Absent = neither is better by itself. */
  readonly worse?: 'high' | 'low';
  readonly limit?: RuleLimit;
  /** A limit of our own where no rule has one. */
  readonly own?: { readonly value: number; readonly source: string };
  /** Has to be shown before a map counts as inside its limits. */
  readonly essential?: boolean;
  /** False = no question of the map: not set side by side before and after. */
  readonly compared?: false;
  /** Place among the primary endpoints of before and after, 1 first. */
  readonly primary?: number;
  /** What it is made of; empty = of what a pull holds anyway. */
  readonly quantities: readonly Quantity[];
  readonly read: (pull: PullTrace, range?: Range) => Reading | Refusal;
}

export type Parts = Omit<MeasureDefinition, 'id' | 'unit' | 'title' | 'about' | 'quantities' | 'read'>;

/** A number that a statistic makes of a quantity. @param unit where it is not that of the quantity */
export function measure(
  id: string,
  title: string,
  quantity: Quantity,
  statistic: Statistic,
  parts: Parts = {},
  unit: string = quantity.unit,
): MeasureDefinition {
  return {
    id,
    unit,
    title,
    about: `${told(statistic)}${quantity.about}`,
    ...parts,
    quantities: [quantity],
    read: (pull, range) => readPull(pull, quantity.id, statistic, range),
  };
}

function told(statistic: Statistic): string {
  switch (statistic.kind) {
    case 'highest':
    case 'lowest':
      return `${statistic.kind} value${statistic.seconds > 0 ? ` held for ${statistic.seconds} s` : ''} in the pull: `;
    case 'mean':
      return 'mean over the pull: ';
    case 'median':
      return 'median over the pull: ';
    case 'rise':
      return 'highest value less the first one: ';
    case 'share-below-start':
      return `share of the pull in which it is more than ${statistic.by} below that of the second second: `;
  }
}

/** What boost did against its target, from `boostDynamics`; of the whole pull, whatever the range. */
export function boost(
  id: string,
  title: string,
  unit: string,
  about: string,
  of: (response: Exclude<PullTrace['boost'], Refusal>) => { readonly value: number; readonly at?: number },
  parts: Parts = {},
): MeasureDefinition {
  return {
    id,
    unit,
    title,
    about,
    ...parts,
    quantities: [BOOST_ERROR],
    read(pull) {
      if (isRefusal(pull.boost)) return pull.boost;
      const { value, at = Number.NaN } = of(pull.boost);
      if (Number.isNaN(value)) return refuse('boost did not settle, or not for long enough, in the pull', {});
      const signals = pull.signals.get(BOOST_ERROR.id);
      const u = signals === undefined || isRefusal(signals) ? 1 : (signals[0]?.u ?? 1);
      return { value, u: unit === 'kPa' ? u : 0, at, speed: speedAt(pull, at), member: '', clipped: false };
    },
  };
}

function speedAt({ time, speed }: PullTrace, at: number): number {
  const row = time.findIndex((t) => t >= at - 1e-9);
  return row < 0 ? Number.NaN : speed[row]!;
}

/** The limit of a rule on what harms when high. */
export const ruled = (rule: string, name: string): Pick<Parts, 'limit' | 'worse'> => ({
  limit: { rule, name },
  worse: 'high',
});
