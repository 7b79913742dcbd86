import { benjaminiHochberg } from '../../math/benjamini-hochberg.js';
import type { LogbookEntry, LogbookNote, TrackedMeasure } from '../entry.js';
import { alarmLevel, DESIGN } from './alarm-level.js';
import { axisOf } from './axis.js';
import { dateOf } from './calendar.js';
import type { CarFacts } from './car-facts.js';
import type { CarTrend, MeasureTrend, TrendState } from './car-trend.js';
import { datedEntries, datedNotes, looksOf } from './looks.js';
import { measureTrend } from './measure-trend.js';
import { directionsOf, follow } from './sequence.js';
import { seriesOf } from './series.js';

export interface TrendOptions {
  /** What is followed; measures of entries that are not among them are passed over. */
  readonly measures: readonly TrackedMeasure[];
}

const GRAVITY: readonly TrendState[] = ['drifting', 'changed', 'steady', 'not separable', 'too few drives'];

/**
 * What is getting worse in one car, how fast, and when it will cross a limit. Entries and notes in any order; a hash counts
 * once. Time and weather are fitted together, each drive weighted by its own standard error and robustly; alarms are those
 * that fired look after look, with a family-wise level over all measures and looks (docs/logbook-statistics.md).
 */
export function trendsOf(
  entries: readonly LogbookEntry[],
  notes: readonly LogbookNote[],
  { measures }: TrendOptions,
): CarTrend {
  const { dated, undated } = datedEntries(entries);
  const sortedNotes = datedNotes(notes);
  const looks = looksOf(dated, sortedNotes);
  const { series, otherUnits } = seriesOf(looks, sortedNotes, measures);
  const axis = axisOf(looks);
  const counted = axis.kind !== 'time';
  const facts: CarFacts = { looks, notes: sortedNotes, axis };
  const trends = follow(looks, series).map((standing) => measureTrend(standing, facts));
  const tests = series.reduce((sum, each) => sum + directionsOf(each).length, 0);
  return {
    car: dated[0]?.entry.car ?? entries[0]?.car ?? '',
    drives: dated.length,
    looks: looks.map(({ last, drives }, at) => ({
      date: dateOf(last),
      drives: drives.length,
      axis: counted ? axis.values[at]! : null,
      lastDrive: drives.at(-1)!.entry.recordedAt,
    })),
    axis: {
      kind: axis.kind,
      unit: axis.kind === 'distance' ? 'km' : axis.kind === 'engineHours' ? 'h' : null,
      perYear: counted ? axis.perYear : null,
      dropped: axis.dropped,
    },
    alarm: { design: DESIGN, tests, level: alarmLevel(tests) },
    measures: ranked(trends),
    otherUnits,
    undated: undated.length,
  };
}

/** By state, then by the false-discovery order, then by id. */
function ranked(trends: readonly MeasureTrend[]): MeasureTrend[] {
  const told = trends.filter(({ p }) => p !== null);
  const adjusted = benjaminiHochberg(told.map(({ p }) => p!));
  const q = new Map(told.map(({ measure }, k) => [measure.id, adjusted[k]!]));
  return trends
    .map((trend) => ({ ...trend, q: q.get(trend.measure.id) ?? null }))
    .sort(
      (a, b) =>
        GRAVITY.indexOf(a.state) - GRAVITY.indexOf(b.state) ||
        (a.q ?? 2) - (b.q ?? 2) ||
        (a.p ?? 2) - (b.p ?? 2) ||
        (a.measure.id < b.measure.id ? -1 : 1),
    );
}
