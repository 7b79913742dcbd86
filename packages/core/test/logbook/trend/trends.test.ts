import { describe, expect, it } from 'vitest';
import type { LogbookEntry } from '../../../src/logbook/entry.js';
import { dayOf, YEAR } from '../../../src/logbook/trend/calendar.js';
import { trendsOf } from '../../../src/logbook/trend/index.js';
import { evenly } from '../../math/random.js';
import { bookOf, type Month, noteOf, PRESSURE } from './book.js';

const options = { measures: [PRESSURE] };
const steady = ({ ambient, load, noise }: Month): number => 10 - 0.1 * ambient + 5 * load + noise;
const falling =
  (rate: number, onset = 0) =>
  (month: Month): number =>
    steady(month) - rate * Math.max(0, month.years - onset);

describe('trend of a car', () => {
  it('one, two, three drives and none: too few, and how many are missing', () => {
    for (const months of [1, 2, 3]) {
      const { measures, drives } = trendsOf(bookOf({ months, value: steady }), [], options);
      expect(drives).toBe(months);
      expect(measures[0]).toMatchObject({
        state: 'too few drives',
        reason: 'too few drives',
        slope: null,
        forecast: null,
      });
      expect(measures[0]!.needed!.looks).toBeGreaterThan(0);
      expect(measures[0]!.points).toHaveLength(months);
    }
    expect(trendsOf([], [], options)).toMatchObject({ measures: [], looks: [], drives: 0 });
  });

  it('below a year nothing is told from weather, however steep', () => {
    const { measures } = trendsOf(bookOf({ months: 11, value: falling(8) }), [], options);
    expect(measures[0]).toMatchObject({ state: 'not separable', reason: 'less than a year', alarms: [], change: null });
    expect(measures[0]!.needed).toEqual({ looks: 2, until: '2022-01-05' });
  });

  it('a drift of a year that runs with the season is not told from it, and half a year later is', () => {
    // From the middle of autumn on, a drive each three weeks, weather without a mood of its own.
    const autumn = (drives: number) =>
      bookOf({
        months: drives,
        interval: 21,
        from: '2021-10-20',
        value: falling(4),
        shape: (entry) => {
          const ambientTemperature = -10 * Math.cos((2 * Math.PI * (dayOf(entry.recordedAt) - 20)) / YEAR);
          return { ...entry, covariates: { ...entry.covariates, ambientTemperature } };
        },
      });
    const year = trendsOf(autumn(18), [], options).measures[0]!;
    expect(year.seasonCorrelation).toBeGreaterThan(0.7);
    expect(year).toMatchObject({ reason: 'drift follows the season', state: 'not separable', alarms: [] });
    expect(year.needed!.looks).toBeGreaterThan(0);
    expect(year.needed!.looks).toBeLessThan(9);
    const later = trendsOf(autumn(28), [], options).measures[0]!;
    expect(later.seasonCorrelation).toBeLessThan(0.7);
    expect(later).toMatchObject({ reason: null, state: 'drifting' });
  });

  it('steady: no alarm, a slope around 0, and a forecast without an end', () => {
    const [found] = trendsOf(bookOf({ months: 36, value: steady }), [], options).measures;
    expect(found).toMatchObject({ state: 'steady', alarms: [], change: null, needed: null });
    expect(found!.slope!.perYear.low).toBeLessThan(0);
    expect(found!.slope!.perYear.high).toBeGreaterThan(0);
    expect(found!.forecast!.crossing?.latest ?? null).toBeNull();
    expect(found!.detectable).toBeGreaterThan(0.5);
    expect(found!.detectable).toBeLessThan(2);
  });

  it('drifting: found, sized, dated and carried on to its limit', () => {
    const car = trendsOf(bookOf({ months: 30, value: falling(2) }), [], options);
    const found = car.measures[0]!;
    expect(found.state).toBe('drifting');
    expect(found.alarms).toHaveLength(1);
    expect(found.alarms[0]).toMatchObject({ direction: 'lower', current: true, stands: true });
    expect(found.alarms[0]!.date).toBe(car.looks[found.alarms[0]!.look]!.date);
    expect(found.change).toMatchObject({ kind: 'drift', direction: 'lower', through: false });
    expect(found.change!.size.low).toBeLessThan(-2);
    expect(found.change!.size.high).toBeGreaterThan(-2);
    // 14,400 km a year: 2 a year are 1.39 per 10,000 km.
    expect(found.slope!.perUse).toMatchObject({ of: '10000 km' });
    expect(found.slope!.perUse!.low).toBeLessThan(-2 / 1.44);
    expect(found.slope!.perUse!.high).toBeGreaterThan(-2 / 1.44);
    // Level 10 - 0.1 * 10 + 5 * 0.3 = 10.5 in mean weather; 1 is reached after 4.75 years.
    const { earliest, latest } = found.forecast!.crossing!;
    expect(earliest.axis).toBeLessThan(40000 + 4.75 * 14400);
    expect(latest!.axis).toBeGreaterThan(40000 + 4.75 * 14400);
    expect(earliest.date < '2025-10-20' && latest!.date > '2025-10-20').toBe(true);
    expect(found.mannKendall!.p).toBeLessThan(0.001);
    expect(found.theilSen!.high).toBeLessThan(0);
  });

  it('a change for the better alarms nobody', () => {
    const [found] = trendsOf(bookOf({ months: 30, value: falling(-3) }), [], options).measures;
    expect(found).toMatchObject({ state: 'steady', alarms: [] });
    expect(found!.slope!.perYear.low).toBeGreaterThan(0);
  });

  it('a measure that may go either way is asked both ways', () => {
    const measures = [{ ...PRESSURE, worse: 'either' as const, limit: null }];
    for (const rate of [3, -3]) {
      const car = trendsOf(bookOf({ months: 30, measures, value: falling(rate) }), [], { measures });
      expect(car.alarm.tests).toBe(2);
      expect(car.measures[0]!.change).toMatchObject({ kind: 'drift', direction: rate > 0 ? 'lower' : 'higher' });
    }
  });

  it('a step is dated and sized', () => {
    const [found] = trendsOf(
      bookOf({ months: 30, value: (month) => steady(month) - (month.i >= 20 ? 6 : 0) }),
      [],
      options,
    ).measures;
    expect(found).toMatchObject({ state: 'changed', change: { kind: 'step', direction: 'lower' } });
    const { earliest, latest } = found!.change!.onset;
    expect(earliest >= '2022-06-01' && latest <= '2022-12-31').toBe(true);
    expect(found!.change!.size.low).toBeLessThan(-6);
    expect(found!.change!.size.high).toBeGreaterThan(-6);
    expect(found!.charts.signals.some(({ direction }) => direction === 'lower')).toBe(true);
  });

  it('one stray drive alarms nobody, and counts little', () => {
    const [found] = trendsOf(
      bookOf({ months: 24, value: (month) => steady(month) - (month.i === 23 ? 25 : 0) }),
      [],
      options,
    ).measures;
    expect(found).toMatchObject({ state: 'steady', alarms: [] });
    expect(found!.points[23]!.weight).toBeLessThan(0.1);
  });

  it('work starts the measure anew: the jump is shown, and is no change', () => {
    const notes = [noteOf('oil', '2022-03-01'), noteOf('tyres', '2022-06-01')];
    const value = (month: Month) => steady(month) - (month.years > 1.12 ? 5 : 0);
    const [found] = trendsOf(bookOf({ months: 30, value }), notes, options).measures;
    expect(found).toMatchObject({ state: 'steady', alarms: [] });
    expect(found!.baselines).toHaveLength(2);
    expect(found!.baselines[1]).toMatchObject({ because: { kind: 'oil', date: '2022-03-01', text: 'oil done' } });
    expect(found!.baselines[1]!.jump).toBeGreaterThan(-6.5);
    expect(found!.baselines[1]!.jump).toBeLessThan(-3.5);
    const [blind] = trendsOf(bookOf({ months: 30, value }), [], options).measures;
    expect(blind!.state).not.toBe('steady');
  });

  it('wear that goes on through every oil change is found all the same', () => {
    const notes = ['2021-09-03', '2022-09-03', '2023-09-03', '2024-06-03'].map((date) => noteOf('oil', date));
    const [found] = trendsOf(bookOf({ months: 48, value: falling(4) }), notes, options).measures;
    expect(found).toMatchObject({ state: 'drifting', change: { through: true } });
    expect(found!.baselines).toHaveLength(5);
  });

  it('an alarm of a former baseline stays in the list, not in the state', () => {
    const value = (month: Month) => steady(month) - (month.years < 2 ? 4 * month.years : 0);
    const [found] = trendsOf(bookOf({ months: 34, value }), [noteOf('oil', '2023-01-10')], options).measures;
    expect(found!.alarms[0]).toMatchObject({ direction: 'lower', current: false, stands: false });
    expect(found!.state).toBe('steady');
  });

  it('later drives do not rewrite what was told', () => {
    const all = bookOf({ months: 36, value: falling(2) });
    const told = (months: number) =>
      trendsOf(all.slice(0, months), [], options).measures[0]!.alarms.map(({ look }) => look);
    expect(told(36)).toHaveLength(1);
    const [look] = told(36);
    for (const months of [look! + 1, 24, 30]) expect(told(Math.max(months, look! + 1))).toEqual([look]);
    expect(told(look!)).toEqual([]);
  });
});

describe('records as they are', () => {
  const text = (entries: readonly LogbookEntry[], notes = [noteOf('oil', '2022-03-01')]) =>
    JSON.stringify(trendsOf(entries, notes, options));

  it('the order of the entries and notes changes nothing, nor does an entry given twice', () => {
    const entries = bookOf({ months: 20, value: falling(3) });
    const expected = text(entries);
    for (const seed of [1, 2, 3]) {
      const random = evenly(seed);
      const mixed = entries.map((entry) => ({ entry, at: random() })).sort((a, b) => a.at - b.at);
      expect(text([...mixed.map(({ entry }) => entry), entries[3]!])).toBe(expected);
    }
    const notes = [noteOf('oil', '2022-03-01'), noteOf('fluid', '2021-08-01'), noteOf('oil', '2022-08-01')];
    expect(text(entries, [...notes].reverse())).toBe(text(entries, notes));
  });

  it('drives of one day, and of three weeks, are one look', () => {
    const entries = bookOf({ months: 20, value: falling(3) });
    const double = entries.map((entry) => ({ ...entry, hash: `${entry.hash}b` }));
    const car = trendsOf([...entries, ...double], [], options);
    expect(car.drives).toBe(40);
    expect(car.looks).toHaveLength(20);
    expect(car.measures[0]!.alarms.map(({ look }) => look)).toEqual(
      trendsOf(entries, [], options).measures[0]!.alarms.map(({ look }) => look),
    );
    const weekly = trendsOf(bookOf({ months: 60, interval: 7, value: steady }), [], options);
    expect(weekly.looks).toHaveLength(20);
  });

  it('an odometer that goes backwards once costs one reading', () => {
    const car = trendsOf(
      bookOf({ months: 24, value: steady, shape: (e, i) => (i === 10 ? { ...e, distance: 3 } : e) }),
      [],
      options,
    );
    expect(car.axis).toMatchObject({ kind: 'distance', unit: 'km', dropped: 1 });
    expect(car.looks[10]!.axis).toBeGreaterThan(car.looks[9]!.axis!);
    expect(car.looks[10]!.axis).toBeLessThan(car.looks[11]!.axis!);
  });

  it('without odometers by engine hours, without both by time', () => {
    const shape = (hours: boolean) => (entry: LogbookEntry, i: number) => ({
      ...entry,
      distance: null,
      engineHours: hours ? 800 + 25 * i : null,
    });
    const hours = trendsOf(bookOf({ months: 24, value: falling(3), shape: shape(true) }), [], options);
    expect(hours.axis).toMatchObject({ kind: 'engineHours', unit: 'h' });
    expect(hours.measures[0]!.slope!.perUse!.of).toBe('100 h');
    const time = trendsOf(bookOf({ months: 24, value: falling(3), shape: shape(false) }), [], options);
    expect(time.axis).toMatchObject({ kind: 'time', unit: null, perYear: null });
    expect(time.measures[0]).toMatchObject({ state: 'drifting', slope: { perUse: null } });
    expect(time.measures[0]!.forecast!.crossing!.earliest.axis).toBeNull();
  });

  it('missing weather: filled up where most drives tell it, the season in its place where few do', () => {
    const without = (every: number) => (entry: LogbookEntry, i: number) =>
      i % every === 0 ? entry : { ...entry, covariates: { ...entry.covariates, ambientTemperature: null } };
    const most = trendsOf(
      bookOf({ months: 30, value: falling(2), shape: (e, i) => (i % 4 === 1 ? without(999)(e, i) : e) }),
      [],
      options,
    ).measures[0]!;
    expect(most).toMatchObject({ state: 'drifting', weather: { fitted: ['ambientTemperature', 'load'], unknown: [] } });
    const few = trendsOf(bookOf({ months: 30, value: falling(2), shape: without(6) }), [], options).measures[0]!;
    expect(few).toMatchObject({
      state: 'drifting',
      weather: { fitted: ['season', 'load'], unknown: ['ambientTemperature'] },
    });
    const none = trendsOf(bookOf({ months: 30, value: steady, shape: without(999) }), [], options).measures[0]!;
    expect(none.state).toBe('steady');
  });

  it('a measure that many drives lack, gaps of months, a drive without a date', () => {
    const entries = bookOf({
      months: 48,
      value: (month) => (month.i % 3 === 1 || (month.i > 20 && month.i < 27) ? undefined : falling(2)(month)),
    });
    const car = trendsOf([...entries, { ...entries[0]!, hash: 'x', recordedAt: 'unknown' }], [], options);
    expect(car.undated).toBe(1);
    expect(car.measures[0]).toMatchObject({
      state: 'drifting',
      looks: entries.filter((e) => e.measures.length > 0).length,
    });
  });

  it('another unit, other ids and standard errors that nobody knows', () => {
    const entries = bookOf({ months: 24, value: falling(3) });
    const change = (part: object) =>
      entries.map((entry) => ({ ...entry, measures: entry.measures.map((each) => ({ ...each, ...part })) }));
    expect(trendsOf(change({ unit: 'kPa' }), [], options)).toMatchObject({
      measures: [],
      otherUnits: ['oil.pressure'],
    });
    expect(trendsOf(change({ id: 'other' }), [], options).measures).toEqual([]);
    expect(trendsOf(change({ standardError: null }), [], options).measures[0]!.state).toBe('drifting');
  });

  it('a value that never moves is no alarm and no error', () => {
    const [found] = trendsOf(bookOf({ months: 24, value: () => 3 }), [], options).measures;
    expect(found).toMatchObject({ state: 'steady', reason: null, needed: null, alarms: [], evidence: null });
    expect(found!.points).toHaveLength(24);
  });

  it('the worst stands first', () => {
    const measures = ['a', 'b', 'c'].map((id) => ({ ...PRESSURE, id }));
    const car = trendsOf(
      bookOf({ months: 30, measures, value: (month, { id }) => (id === 'b' ? falling(3) : steady)(month) }),
      [],
      { measures },
    );
    expect(car.measures[0]!.measure.id).toBe('b');
    expect(car.measures[0]!.q).toBeLessThan(0.01);
    expect(car.alarm.tests).toBe(3);
  });
});
