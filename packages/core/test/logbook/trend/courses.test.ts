import { describe, expect, it } from 'vitest';
import { trendCourses, trendsOf } from '../../../src/logbook/trend/index.js';
import { bookOf, type Month, noteOf, PRESSURE } from './book.js';

const options = { measures: [PRESSURE] };
const steady = ({ ambient, load, noise }: Month): number => 10 - 0.1 * ambient + 5 * load + noise;
const courseOf = (months: number, value: (month: Month) => number, notes = [] as ReturnType<typeof noteOf>[]) =>
  trendCourses(trendsOf(bookOf({ months, value }), notes, options))[0]!;

describe('trends in the report of a car', () => {
  it('a drift: since when, by how much, and when the limit is met', () => {
    const course = courseOf(30, (month) => steady(month) - 2 * month.years);
    expect(course).toMatchObject({ state: 'drifting', drivesNeeded: 0, changes: [], slope: { per: '10000 km' } });
    expect(course.says).toMatch(
      /^Goes lower since about 2021-\d\d-\d\d \(between .*\), by \d\.\d+ bar \(.*\) a year\.$/,
    );
    expect(course.alarm).toMatch(/^202[123]-/);
    expect(course.forecast!.date!.low! < course.forecast!.date!.value!).toBe(true);
    expect(course.forecast!.distance!.low).toBeLessThan(course.forecast!.distance!.value!);
    expect(course.band).toHaveLength(30);
  });

  it('a step, a steady measure, a new baseline', () => {
    const step = courseOf(30, (month) => steady(month) - (month.i >= 20 ? 6 : 0));
    expect(step.state).toBe('changed');
    expect(step.changes).toHaveLength(1);
    expect(step.says).toMatch(/^Stepped lower about 2022-/);
    const calm = courseOf(30, steady, [noteOf('oil', '2022-03-01')]);
    expect(calm).toMatchObject({ state: 'steady', alarm: null, baselines: [{ date: '2022-03-01', kind: 'oil' }] });
    expect(calm.says).toMatch(
      /^No change beyond weather and chance\. A drift of .* bar a year would most likely show by now\.$/,
    );
    expect(calm.band.length).toBe(calm.drives);
  });

  it('what is missing', () => {
    expect(courseOf(2, steady)).toMatchObject({
      state: 'too-few-drives',
      slope: null,
      forecast: null,
      says: 'Too few drives: 4 more monthly drives are needed.',
    });
    expect(courseOf(11, steady)).toMatchObject({
      state: 'weather-or-wear',
      says: 'Weather and wear not separable yet: less than a year on record, no answer before 2022-01-05.',
    });
  });
});
