import { axisOf } from '../../packages/core/src/logbook/trend/axis.js';
import type { Forecast } from '../../packages/core/src/logbook/trend/forecast.js';
import { datedEntries, datedNotes, looksOf } from '../../packages/core/src/logbook/trend/looks.js';
import { measureTrend } from '../../packages/core/src/logbook/trend/measure-trend.js';
import { follow } from '../../packages/core/src/logbook/trend/sequence.js';
import { seriesOf } from '../../packages/core/src/logbook/trend/series.js';
import { type OwnershipSpec, ownershipOf } from './ownership.js';

/** What the trends of one simulated ownership said, beside the truth. */
export interface Trial {
  /** Any alarm of a measure that does not drift, or in the wrong direction. */
  readonly falseAlarm: boolean;
  /** Look, counted from 1, at which the drift was found. */
  readonly found: number | undefined;
  /** Whether the interval holds the truth; undefined where there is none. */
  readonly crossing: { readonly distance: boolean; readonly date: boolean; readonly bounded: boolean } | undefined;
  readonly slope: boolean | undefined;
}

export function trialOf(spec: OwnershipSpec): Trial {
  const { entries, notes, measures, truth } = ownershipOf(spec);
  // As trendsOf does, but the measures that do not drift are followed only, not described.
  const sortedNotes = datedNotes(notes);
  const looks = looksOf(datedEntries(entries).dated, sortedNotes);
  const { series } = seriesOf(looks, sortedNotes, measures);
  const standings = follow(looks, series);
  const standing = standings.find((each) => each.series.measure.id === truth?.id);
  const own =
    standing === undefined ? undefined : measureTrend(standing, { looks, notes: sortedNotes, axis: axisOf(looks) });
  const right = own?.alarms.find(({ direction }) => direction === truth!.direction);
  const falseAlarm = standings.some((each) =>
    each.alarms.some(({ direction }) => each !== standing || direction !== truth!.direction),
  );
  const perUse = own?.slope?.perUse;
  return {
    falseAlarm,
    found: right === undefined ? undefined : right.look + 1,
    crossing: crossingOf(own?.forecast ?? undefined, truth?.crossing),
    slope:
      perUse === null || perUse === undefined ? undefined : perUse.low <= truth!.slope && truth!.slope <= perUse.high,
  };
}

function crossingOf(
  told: Forecast | undefined,
  truth: { readonly distance: number; readonly day: number } | undefined,
): Trial['crossing'] {
  if (told === undefined || truth === undefined) return undefined;
  const { crossing } = told;
  if (crossing === null) return { distance: false, date: false, bounded: false };
  const { earliest, latest } = crossing;
  const date = new Date(truth.day * 86_400_000).toISOString().slice(0, 10);
  return {
    distance: earliest.axis! <= truth.distance && (latest === null || truth.distance <= latest.axis!),
    date: earliest.date <= date && (latest === null || date <= latest.date),
    bounded: latest !== null,
  };
}
