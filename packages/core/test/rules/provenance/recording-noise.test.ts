import { describe, expect, test } from 'vitest';
import { type Columns, drive, judged, measure, noise, RATE } from './recording-drive.js';

/** A lively drive at 1 Hz with a smooth coast at 2 km/h per second in it, road speed in steps of `step` km/h. */
function coast(wheels: boolean, step = 1): { time: Float64Array; columns: Columns } {
  const random = noise(3);
  const time = Float64Array.from({ length: 700 }, (_, i) => i);
  const road = time.map((t) => {
    const lively = 62 + 22 * Math.sin(t / 9) + 9 * Math.sin(t / 2.1);
    return t < 350 ? lively : t < 390 ? 140 - 2 * (t - 350) : lively;
  });
  const column = (f: (t: number, i: number) => number, spread: number, step: number): Float64Array =>
    time.map((t, i) => Math.round((f(t, i) + spread * random()) / step) * step);
  const wheel = (): Float64Array => column((_, i) => road[i]!, 0.1, 0.05);
  return {
    time,
    columns: {
      engineSpeed: column((t, i) => 33 * road[i]! + 200 * Math.sin(t / 1.7), 9, 0.25),
      vehicleSpeed: column((_, i) => road[i]!, 0, step),
      manifoldPressure: column((t) => 60 + 20 * Math.sin(t / 6), 3, 0.1),
      airMassFlow: column((t) => 30 + 12 * Math.sin(t / 6), 2, 0.01),
      engineLoad: column((t) => 40 + 14 * Math.sin(t / 5), 2, 0.4),
      coolantTemperature: column((t) => 90 - 70 * Math.exp(-t / 160), 0.05, 1),
      engineOilTemperature: column((t) => 95 - 75 * Math.exp(-t / 260), 0.05, 1),
      ...(wheels ? { 'wheelSpeed.frontLeft': wheel(), 'wheelSpeed.frontRight': wheel() } : {}),
    },
  };
}

describe('a column that fell quiet', () => {
  test.each([true, false])('a coast of whole steps a row is driving, with wheel speeds: %s', (wheels) => {
    const { time, columns } = coast(wheels);
    expect(judged(time, columns)).toMatchObject({ outcome: 'clear' });
  });

  test('a coast that all wheels share is driving, however fine the steps', () => {
    const { time, columns } = coast(true, 0.1);
    expect(judged(time, columns)).toMatchObject({ outcome: 'clear' });
    const { 'wheelSpeed.frontLeft': _, 'wheelSpeed.frontRight': __, ...alone } = columns;
    expect(measure(judged(time, alone), 'edited')).toBe(1);
  });

  const averaged = (x: Float64Array, from: number, to: number, half: number): Float64Array =>
    x.map((y, i) => {
      if (i < from || i >= to) return y;
      const part = x.subarray(i - half, i + half + 1);
      return Math.round((100 * part.reduce((a, b) => a + b, 0)) / part.length) / 100;
    });

  test('one wheel averaged over a minute is told, its kin kept theirs', () => {
    const { time, columns } = drive(800);
    const id = 'wheelSpeed.frontLeft';
    const result = judged(time, { ...columns, [id]: averaged(columns[id]!, 1500, 2000, 3) });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toMatch(/front left has \d+ % of its usual noise from [45]:/);
  });

  test('air mass that is as quiet elsewhere, where its movement rests, is driving', () => {
    const { time, columns } = drive(800);
    const random = noise(8);
    // Hardly any noise of its own; its second differences are those of the pedal, which rests now and then.
    const rests = (t: number): boolean =>
      (t >= 300 && t < 350) || [100, 110, 500, 520, 640, 700].some((a) => t >= a && t < a + 10);
    const airMassFlow = time.map(
      (t) =>
        Math.round((30 + (rests(t) ? 0.3 * Math.sin(t / 3) : 12 * Math.sin(1.9 * t)) + 0.01 * random()) * 100) / 100,
    );
    expect(judged(time, { ...columns, airMassFlow })).toMatchObject({ outcome: 'clear' });
    // The same rest once only is told.
    const once = time.map((t, i) => (t >= 300 && t < 350 ? airMassFlow[i]! : 30 + 12 * Math.sin(1.9 * t)));
    expect(measure(judged(time, { ...columns, airMassFlow: once }), 'edited')).toBe(1);
  });
});

describe('rows computed from two ends', () => {
  const STATES = ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature', 'engineRunTime'];
  const bridged = (columns: Columns, from: number, to: number, only?: readonly string[]): Columns =>
    Object.fromEntries(
      Object.entries(columns).map(([id, x]) => [
        id,
        only !== undefined && !only.includes(id)
          ? x
          : x.map((y, i) => {
              if (i < from || i > to) return y;
              const line = x[from]! + ((x[to]! - x[from]!) * (i - from)) / (to - from);
              const step = STATES.includes(id) ? 1 : 0.01;
              return Math.round(line / step) * step;
            }),
      ]),
    );

  test.each([20, 40, 90])('%d s in which all columns run straight', (seconds) => {
    const { time, columns } = drive();
    const result = judged(time, bridged(columns, 200 * RATE, (200 + seconds) * RATE));
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(measure(result, 'bridged')).toBe(1);
    expect(result.summary).toMatch(/3:[12]\d to [345]:\d\d \d+ columns run along straight lines together/);
  });

  test('two columns alone are not all', () => {
    const { time, columns } = drive();
    const two = bridged(columns, 200 * RATE, 240 * RATE, ['engineSpeed', 'manifoldPressure']);
    expect(measure(judged(time, two), 'bridged')).toBe(0);
  });

  test('held values, and slow values that a logger joins by lines all along, are none', () => {
    const { time, columns } = drive();
    const held = Object.fromEntries(
      Object.entries(columns).map(([id, x]) => [id, x.map((y, i) => (i > 1000 && i < 1200 ? x[1000]! : y))]),
    );
    expect(measure(judged(time, held), 'bridged')).toBe(0);
    const every = 15 * RATE;
    const joined = Object.fromEntries(
      Object.entries(columns).map(([id, x]) => [
        id,
        x.map((y, i) => {
          const a = i - (i % every);
          const b = Math.min(a + every, x.length - 1);
          return b > a ? x[a]! + ((x[b]! - x[a]!) * (i - a)) / (b - a) : y;
        }),
      ]),
    );
    expect(measure(judged(time, joined), 'bridged')).toBe(0);
  });
});
