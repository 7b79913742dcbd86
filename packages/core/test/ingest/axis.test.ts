import { describe, expect, it } from 'vitest';
import { codes, tableOf } from './read.js';

const log = (times: readonly (string | number)[], label = 'Time [s]') =>
  `${label},RPM\n${times.map((t, i) => `${t},${1000 + i}`).join('\n')}\n`;
const range = (count: number, of: (i: number) => string | number) => Array.from({ length: count }, (_, i) => of(i));
const clock = (seconds: number) =>
  [Math.floor(seconds / 3600) % 24, Math.floor(seconds / 60) % 60, seconds % 60]
    .map((n) => String(n).padStart(2, '0'))
    .join(':');

describe('time axis', () => {
  it('spreads the rows of a coarse clock evenly inside each tick and says so once', async () => {
    const t = await tableOf(log([0, 0, 0, 0, 2, 2, 2, 2, 4, 4, 4, 4, 6, 6]));
    expect([...t.time]).toEqual([0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5]);
    expect(t.problems.filter((p) => p.code === 'time-coarse')).toMatchObject([{ count: 10, line: 3 }]);
  });

  it('does not fill a gap with the rows before it', async () => {
    const t = await tableOf(log([0, 0, 1, 1, 2, 2, 62, 62, 63, 63]));
    expect([...t.time]).toEqual([0, 0.5, 1, 1.5, 2, 2.5, 62, 62.5, 63, 63.5]);
    expect(t.problems.find((p) => p.code === 'time-gap')).toMatchObject({ from: 2.5, to: 62, line: 8 });
  });

  it('places rows at their usual spacing where the clock stands still', async () => {
    const t = await tableOf(
      log([...range(20, (i) => i >> 1), ...range(60, () => 10), ...range(20, (i) => 11 + (i >> 1))]),
    );
    expect(t.time[99]! - t.time[0]!).toBeCloseTo(49.5, 6);
    expect(codes(t)).toContain('time-standing');
  });

  it('leaves out single repeated, backward and stray rows, counted with the first line', async () => {
    const times = range(100, (i) => i / 10);
    times[20] = 1.9;
    times[50] = 1.2;
    times[70] = 900;
    const t = await tableOf(log(times));
    expect(t.rows).toBe(97);
    expect(t.problems.map((p) => [p.code, p.count, p.line])).toEqual([
      ['time-backward', 1, 52],
      ['time-ahead', 1, 72],
      ['time-repeated', 1, 22],
    ]);
    for (let i = 1; i < t.rows; i++) expect(t.time[i]).toBeGreaterThan(t.time[i - 1]!);
    expect(t.columns[1]!.values[20]).toBe(1021);
  });

  it('runs over midnight', async () => {
    const t = await tableOf(
      log(
        range(60, (i) => clock(86_370 + i)),
        'Clock',
      ),
    );
    expect([...t.time]).toEqual(range(60, (i) => i));
    expect(codes(t)).toEqual([]);
    const minutes = await tableOf(
      log(
        range(100, (i) => `${clock(3550 + i).slice(3)}.5`),
        'Time',
      ),
    );
    expect(minutes.time[99]).toBe(99);
  });

  it.each([
    [16, 'ms', 1000, 65_500],
    [8, 's', 1, 250],
    [32, 'ms', 1000, 2 ** 32 - 40],
  ])('continues a counter of %i bits that overflows', async (bits, unit, perSecond, start) => {
    const step = unit === 'ms' ? 10 : 1;
    const t = await tableOf(
      log(
        range(40, (i) => (start + i * step) % 2 ** bits),
        `Time [${unit}]`,
      ),
    );
    expect(t.time[39]).toBeCloseTo((39 * step) / perSecond, 9);
    expect(codes(t)).toEqual(['time-wrap']);
  });

  it('joins a second recording in the same file with a gap and says where', async () => {
    const t = await tableOf(log([...range(50, (i) => i / 10), ...range(50, (i) => i / 10)]));
    expect(t.rows).toBe(100);
    const restart = t.problems.find((p) => p.code === 'time-restart')!;
    expect(restart).toMatchObject({ line: 52, from: t.time[50] });
    expect(t.problems.find((p) => p.code === 'time-gap')).toMatchObject({ from: t.time[49], to: t.time[50] });
  });

  it('places few rows without a time between their neighbours and leaves many out', async () => {
    const times: (string | number)[] = range(100, (i) => i);
    times[10] = '';
    times[50] = '-';
    const t = await tableOf(log(times));
    expect(t.rows).toBe(100);
    expect([t.time[10], t.time[50]]).toEqual([10, 50]);
    expect(t.problems.find((p) => p.code === 'time-missing')).toMatchObject({ count: 2, line: 12 });
    const many = await tableOf(log(range(100, (i) => (i % 3 === 1 ? '' : i))));
    expect(many.rows).toBe(67);
  });

  it('doubts jumps of the local clock by exactly one hour', async () => {
    const stamp = (s: number) => `2024-10-27 ${clock(s)}`;
    const back = await tableOf(
      log(
        range(60, (i) => stamp(i < 30 ? 10_770 + i : 7200 + i - 30)),
        'Time',
      ),
    );
    expect(codes(back)).toEqual(['clock-change']);
    expect(back.time[59]).toBe(59);
    const ahead = await tableOf(
      log(
        range(60, (i) => stamp(i < 30 ? 7170 + i : 10_800 + i - 30)),
        'Time',
      ),
    );
    expect(codes(ahead)).toContain('clock-change');
    const zoned = await tableOf(
      log(
        range(60, (i) => (i < 30 ? `${stamp(10_770 + i)}+02:00` : `${stamp(7200 + i - 30)}+01:00`)),
        'Time',
      ),
    );
    expect(codes(zoned)).toEqual([]);
    expect(zoned.time[59]).toBe(59);
  });

  it('settles day and month over the whole column', async () => {
    const monthFirst = await tableOf(
      log(
        range(40, (i) => `03/${i < 20 ? 14 : 15}/2024 ${i < 20 ? clock(86_380 + i) : clock(i - 20)}`),
        'Date time',
      ),
    );
    expect(monthFirst.time[39]).toBe(39);
    expect(codes(monthFirst)).toEqual([]);
    const open = await tableOf(
      log(
        range(40, (i) => `03/04/2024 ${clock(3600 + i)}`),
        'Date time',
      ),
    );
    expect(codes(open)).toEqual(['date-order-doubt']);
  });
});

describe('unit of time', () => {
  it.each([
    ['Time', (i: number) => i * 0.1, 'seconds', 0.1, ['time-unit-inferred']],
    ['Time', (i: number) => i, 'seconds', 1, ['time-unit-inferred']],
    ['Unix time', (i: number) => 1_709_640_000.5 + i / 10, 'epoch-seconds', 0.1, []],
    ['Time', (i: number) => i * 100, 'milliseconds', 0.1, ['time-unit-inferred']],
    ['Time', (i: number) => i * 20, 'milliseconds', 0.02, ['time-unit-doubt']],
    ['Time', (i: number) => i * 20_000, 'microseconds', 0.02, ['time-unit-doubt']],
    ['Time (min)', (i: number) => i / 60, 'minutes', 1, []],
    ['timestamp', (i: number) => 1_709_640_000 + i, 'epoch-seconds', 1, []],
    ['timestamp', (i: number) => 1_709_640_000_000 + i * 50, 'epoch-milliseconds', 0.05, []],
    ['Time_us', (i: number) => 5e6 + i * 10_000, 'microseconds', 0.01, []],
    ['Date', (i: number) => 45_000 + i / 86_400, 'day-serial', 1, ['time-unit-inferred']],
  ] as const)('%s in steps is %s', async (label, of, format, step, doubts) => {
    const t = await tableOf(log(range(50, of), label));
    expect(t.dialect.timeFormat).toBe(format);
    expect(t.time[10]).toBeCloseTo(10 * step, 5);
    expect(codes(t).filter((code) => code.startsWith('time-unit'))).toEqual(doubts);
  });

  it('takes the map file at its word', async () => {
    const t = await tableOf(log(range(50, (i) => i * 20)), { map: { time: { format: 'milliseconds' } } });
    expect(t.time[1]).toBe(0.02);
    expect(t.dialect.confidence.time).toBe(1);
  });
});

describe('time column', () => {
  it('prefers a column that behaves like a time over one that is only named so', async () => {
    const rows = range(40, (i) => `${i % 7},${i * 0.1},${(i * 37) % 11}`).join('\n');
    const t = await tableOf(`Injection time (ms),Elapsed (s),Time to limit (s)\n${rows}\n`);
    expect(t.timeColumn).toBe(1);
  });

  it('takes a run time that stands at 0 for long at first', async () => {
    const t = await tableOf(log([...range(4000, () => 0), ...range(4000, (i) => i * 0.1)]));
    expect(t.timeColumn).toBe(0);
  });

  it('asks for the rate when a counter is all there is', async () => {
    await expect(tableOf(`Index,RPM\n${range(20, (i) => `${i},900`).join('\n')}`)).rejects.toThrow(/^no-time:.*--rate/);
    const t = await tableOf(`Index,RPM\n${range(20, (i) => `${i},900`).join('\n')}`, { rate: 10 });
    expect([t.time[3], t.timeColumn, t.dialect.timeFormat]).toEqual([0.3, -1, 'rate']);
  });
});
