import { describe, expect, test } from 'vitest';
import { type Columns, drive, judged, measure, RATE, STEP } from './recording-drive.js';

/** Rows of the drive one after the other, the clock written anew. */
function joined(
  columns: Columns,
  pieces: readonly (readonly [number, number])[],
): { time: Float64Array; columns: Columns } {
  const rows = pieces.flatMap(([a, b]) => Array.from({ length: (b - a) * RATE }, (_, k) => a * RATE + k));
  return {
    time: Float64Array.from(rows, (_, k) => k / RATE),
    columns: Object.fromEntries(Object.entries(columns).map(([id, x]) => [id, Float64Array.from(rows, (i) => x[i]!)])),
  };
}

function without(columns: Columns, ...ids: string[]): Columns {
  return Object.fromEntries(Object.entries(columns).filter(([id]) => !ids.includes(id)));
}

describe('an untouched recording', () => {
  test('is clear', () => {
    const { time, columns } = drive();
    expect(judged(time, columns)).toMatchObject({ outcome: 'clear' });
  });

  test('is clear with values held over several rows, and with idle and standstill that repeat', () => {
    const { time, columns } = drive();
    const held = Object.fromEntries(Object.entries(columns).map(([id, x]) => [id, x.map((_, i) => x[i - (i % 4)]!)]));
    expect(judged(time, held)).toMatchObject({ outcome: 'clear' });
    const still = Object.fromEntries(
      Object.entries(columns).map(([id, x]) => [
        id,
        x.map((value, i) => {
          const idle = (i > 500 && i < 1100) || (i > 1900 && i < 2500);
          if (!idle || id.endsWith('Temperature') || id === 'engineRunTime') return value;
          return id.endsWith('Speed') && id !== 'engineSpeed' ? 0 : 10 + ((i >> 3) % 2);
        }),
      ]),
    );
    expect(measure(judged(time, still), 'copied')).toBe(0);
  });

  test('is unproven when it is too short, or has too few columns', () => {
    const { time, columns } = drive(50);
    expect(judged(time, columns)).toMatchObject({ outcome: 'unproven' });
    const long = drive();
    expect(judged(long.time, { vehicleSpeed: long.columns.vehicleSpeed! })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: expect.arrayContaining(['engineRunTime']) },
    });
  });
});

describe('a seam', () => {
  test('two parts in the wrong order: the temperatures leap together', () => {
    const { columns } = drive();
    const file = joined(without(columns, 'engineRunTime'), [
      [300, 600],
      [0, 300],
    ]);
    const result = judged(file.time, file.columns);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(measure(result, 'joined')).toBe(1);
    expect(result.summary).toContain('at 5:00');
    expect(result.summary).toMatch(/coolant temperature from 90 to 20 and/);
  });

  test('across a place where the clock of the file starts again nothing is compared', () => {
    const { columns } = drive();
    const file = joined(without(columns, 'engineRunTime'), [
      [300, 600],
      [0, 300],
    ]);
    const result = judged(file.time, file.columns, [{ code: 'time-restart', message: '', from: 300, to: 300 }]);
    expect(result).toMatchObject({ outcome: 'clear' });
    expect(JSON.stringify(result)).toContain('more than one recording');
  });

  test('after a link that was lost everything goes on from where the car is by then', () => {
    const { time, columns } = drive();
    // Twenty seconds of the last values, in which coolant and oil of this car would rise by 8 and 5 K.
    const quick = { ...columns, coolantTemperature: time.map((t) => Math.round(20 + 0.4 * Math.min(t, 180))) };
    const warm = { ...quick, engineOilTemperature: time.map((t) => Math.round(18 + 0.3 * Math.min(t, 250))) };
    const from = 60 * RATE;
    const lost = Object.fromEntries(
      Object.entries(without(warm, 'engineRunTime')).map(([id, x]) => [
        id,
        x.map((y, i) => (i >= from && i < from + 20 * RATE ? x[from]! : y)),
      ]),
    );
    expect(measure(judged(time, lost), 'joined')).toBe(0);
    // The same leap in a file that goes on telling is a seam.
    const file = joined(without(warm, 'engineRunTime'), [
      [0, 60],
      [80, 600],
    ]);
    expect(measure(judged(file.time, file.columns), 'joined')).toBe(1);
  });

  test('one sensor alone is a loose plug', () => {
    const { time, columns } = drive();
    const coolantTemperature = columns.coolantTemperature!.map((x, i) => (i > 1500 && i < 2000 ? 130 : x));
    expect(judged(time, { ...columns, coolantTemperature })).toMatchObject({ outcome: 'clear' });
  });
});

describe('run time of the engine against the clock', () => {
  const cut = (from: number, seconds: number) => {
    const { columns } = drive();
    return joined(columns, [
      [0, from],
      [from + seconds, 600],
    ]);
  };

  test('minutes that are missing without a gap', () => {
    const file = cut(400, 120);
    const result = judged(file.time, file.columns);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(measure(result, 'missing')).toBe(1);
    expect(result.summary).toContain('2:00 min are missing');
  });

  test.each([
    [5, 0],
    [8, 1],
  ])('%d s that are missing: %d', (seconds, count) => {
    const file = cut(400, seconds);
    expect(measure(judged(file.time, file.columns), 'missing')).toBe(count);
  });

  test.each([
    [59, 'clear', 'engineRunTime'],
    [62, 'finding', 'engineRunTime'],
    [62, 'clear', 'none'],
  ])('a gap of %d s while the engine ran on: %s with %s', (seconds, outcome, with_) => {
    const file = cut(400, seconds);
    const time = file.time.map((t) => (t < 400 ? t : t + seconds));
    const columns = with_ === 'none' ? without(file.columns, 'engineRunTime') : file.columns;
    const result = judged(time, columns);
    expect(result).toMatchObject(outcome === 'finding' ? { outcome, severity: 'watch' } : { outcome });
  });

  test.each([
    [1.025, 'clear'],
    [1.04, 'finding'],
    [0.975, 'clear'],
    [0.96, 'finding'],
  ])('a clock at %d of the pace: %s', (pace, outcome) => {
    const { time, columns } = drive();
    expect(
      judged(
        time.map((t) => t * pace),
        columns,
      ),
    ).toMatchObject({ outcome });
  });

  test('an engine that was started again starts it again', () => {
    const { time, columns } = drive();
    const engineSpeed = columns.engineSpeed!.map((x, i) => (i > 1500 && i < 1600 ? 0 : x));
    const engineRunTime = columns.engineRunTime!.map((x, i) =>
      i < 1500 ? x : i < 1600 ? 0 : Math.floor((i - 1600) / RATE),
    );
    expect(measure(judged(time, { ...columns, engineSpeed, engineRunTime }), 'joined')).toBe(0);
  });

  test('going back while the engine runs is a seam', () => {
    const { time, columns } = drive();
    const engineRunTime = columns.engineRunTime!.map((x, i) => (i < 1500 ? x : x - 200));
    expect(judged(time, { ...columns, engineRunTime })).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });
});

describe('odometer', () => {
  test.each([
    [1, 'clear'],
    [4, 'finding'],
    [-2, 'finding'],
  ])('a step of %d km: %s', (step, outcome) => {
    const { time, columns } = drive();
    const odometer = time.map((t) => Math.floor(80_000 + t / 60) + (t > 300 ? step - 1 : 0));
    expect(judged(time, { ...columns, odometer })).toMatchObject({ outcome });
  });
});

describe('copied stretches', () => {
  const copied = (seconds: number) => {
    const { time, columns } = drive();
    return {
      time,
      columns: Object.fromEntries(
        Object.entries(columns).map(([id, x]) => {
          if (id.endsWith('Temperature') || id === 'engineRunTime') return [id, x];
          const values = x.slice();
          values.set(x.subarray(100 * RATE, (100 + seconds) * RATE), 400 * RATE);
          return [id, values];
        }),
      ),
    };
  };

  test('are found, with their twin', () => {
    const { time, columns } = copied(30);
    const result = judged(time, columns);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(measure(result, 'copied')).toBe(1);
    expect(result.summary).toContain('6:40 to 7:10 repeats 1:40');
  });

  test('shorter than ten seconds are none', () => {
    const { time, columns } = copied(9);
    expect(measure(judged(time, columns), 'copied')).toBe(0);
  });
});

describe('edited columns', () => {
  test.each([
    [1.03, 0],
    [1.08, 1],
    [0.9, 1],
  ])('a speed times %d over a minute and a half: %d', (factor, count) => {
    const { time, columns } = drive();
    const vehicleSpeed = columns.vehicleSpeed!.map((x, i) =>
      i > 1000 && i < 1450 ? Math.round(100 * x * factor) / 100 : x,
    );
    expect(measure(judged(time, { ...columns, vehicleSpeed }), 'edited')).toBe(count);
  });

  test('a stretch that lost its noise', () => {
    const { time, columns } = drive();
    const raw = columns.manifoldPressure!;
    const manifoldPressure = raw.map((x, i) => {
      if (i < 1000 || i > 1500) return x;
      return Math.round(10 * (raw.subarray(i - 6, i + 7).reduce((sum, y) => sum + y, 0) / 13)) / 10;
    });
    const result = judged(time, { ...columns, manifoldPressure });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('of its usual noise');
  });

  test('quiet driving quietens all columns, and is none', () => {
    const { time, columns } = drive();
    const calm = (x: Float64Array, i: number): number => x.subarray(i - 6, i + 7).reduce((sum, z) => sum + z, 0) / 13;
    // Written in the steps of each column, as a control unit does.
    const quiet = Object.fromEntries(
      Object.entries(columns).map(([id, x]) => [
        id,
        x.map((y, i) => (i < 1000 || i > 1500 ? y : Math.round(calm(x, i) / STEP[id]!) * STEP[id]!)),
      ]),
    );
    expect(measure(judged(time, { ...quiet, engineRunTime: columns.engineRunTime! }), 'edited')).toBe(0);
  });
});
