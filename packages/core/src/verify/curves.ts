import { isRefusal } from '../derived/recipe.js';
import type { PullTrace, Side } from './pull.js';
import { BOOST_ERROR } from './signals-air.js';
import { KNOCK, POWER } from './signals-engine.js';
import { MIXTURE_ERROR } from './signals-mixture.js';

/** One quantity of every pull over engine speed, for a page to draw; no part of the sheet. */
export interface PullCurves {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  readonly curves: readonly {
    readonly side: Side;
    readonly pull: number;
    /** rpm and value, in the order of time. */
    readonly points: readonly (readonly [number, number])[];
  }[];
}

const DRAWN = [
  { quantity: KNOCK, title: 'knock retard, worst cylinder' },
  { quantity: MIXTURE_ERROR, title: 'mixture error, leanest bank' },
  { quantity: BOOST_ERROR, title: 'boost error' },
  { quantity: POWER, title: 'power' },
] as const;

/** Points that a curve is thinned to. */
const POINTS = 60;

/** Of several members (cylinders, banks) the highest in each row; of each piece of rows the highest, so that no peak is lost. */
export function curvesOf(pulls: readonly PullTrace[]): PullCurves[] {
  return DRAWN.flatMap(({ quantity: { id, unit }, title }): PullCurves[] => {
    const curves = pulls.flatMap((pull) => {
      const signals = pull.signals.get(id);
      if (signals === undefined || isRefusal(signals) || signals.length === 0) return [];
      const size = Math.max(1, Math.ceil(pull.time.length / POINTS));
      const points: [number, number][] = [];
      for (let from = 0; from < pull.time.length; from += size) {
        let [row, top] = [-1, Number.NEGATIVE_INFINITY];
        for (let i = from; i < Math.min(pull.time.length, from + size); i++)
          for (const { values } of signals)
            if (values[i]! > top) {
              row = i;
              top = values[i]!;
            }
        if (row >= 0 && !Number.isNaN(pull.speed[row]!)) points.push([pull.speed[row]!, top]);
      }
      return points.length < 2 ? [] : [{ side: pull.side, pull: pull.number, points }];
    });
    return curves.length === 0 ? [] : [{ id, title, unit, curves }];
  });
}
