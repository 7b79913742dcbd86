import { describe, expect, it } from 'vitest';
import { type Changes, changesOf } from '../../src/recording/changes.js';
import { creeps, groupRates, refreshRate } from '../../src/recording/refresh.js';
import { scanRuns } from '../../src/recording/run.js';
import { clock, held, noise, sampled } from './helpers.js';

function rateOf(values: Float64Array, time: Float64Array): number {
  return refreshRate(values, time, scanRuns(values, new Int32Array(values.length)));
}

function changesIn(values: Float64Array): Changes {
  return changesOf(scanRuns(values, new Int32Array(values.length)), values.length);
}

describe('refresh rate', () => {
  const time = clock(300, 20);
  const random = noise(3);
  const drive = sampled(time, (t) => 2500 + 1500 * Math.sin(t / 7) + 40 * random());

  it('is the row rate of a channel that changes with every row', () => {
    expect(rateOf(drive, time)).toBeCloseTo(20, 6);
  });

  it.each([
    [2, 10],
    [4, 5],
    [20, 1],
  ])('sees through values held for %i rows', (hold, rate) => {
    expect(rateOf(held(drive, hold), time)).toBeCloseTo(rate, 6);
    expect(rateOf(held(drive, hold, 1), time)).toBeCloseTo(rate, 6);
  });

  it.each([
    [5, 4],
    [10, 7],
    [10, 4],
    [10, 3],
    [20, 12],
    [25, 10],
  ])('in rows of %i Hz sees through %i values a second, which rows do not divide', (rows, rate) => {
    const axis = clock(400, rows);
    const stirred = noise(rows + rate);
    const signal = (t: number) => 2500 + 1500 * Math.sin(t / 7) + 40 * stirred();
    let last = Number.NaN;
    let value = 0;
    const values = sampled(axis, (t) => {
      const tick = Math.floor(t * rate + 1e-6);
      if (tick !== last) value = signal(t);
      last = tick;
      return value;
    });
    expect(rateOf(values, axis) / rate).toBeGreaterThan(0.97);
    expect(rateOf(values, axis) / rate).toBeLessThan(1.03);
  });

  it('is the row rate although one row in fifty is lost', () => {
    const kept = time.filter((_, i) => i % 50 !== 49);
    expect(
      rateOf(
        sampled(kept, (t) => 2500 + 1500 * Math.sin(t / 7) + 40 * random()),
        kept,
      ),
    ).toBeCloseTo(20, 6);
  });

  it('is not told by a channel that creeps one step at a time, nor by a constant', () => {
    const warming = sampled(time, (t) => Math.round(20 + t / 5));
    expect(rateOf(warming, time)).toBeNaN();
    expect(
      rateOf(
        sampled(time, () => 90),
        time,
      ),
    ).toBeNaN();
    expect(rateOf(new Float64Array(0), new Float64Array(0))).toBeNaN();
  });

  it('does not mistake a foot that rests for a slow logger', () => {
    const steps = [0, 30, 5, 80, 100, 12, 55, 0, 70, 20, 90];
    let next = 0;
    let level = 0;
    let k = 0;
    const stepped = sampled(time, (t) => {
      if (t >= next) {
        level = steps[k++ % steps.length]!;
        next = t + 1 + 3 * Math.abs(Math.sin(k * 7));
      }
      return level;
    });
    const rate = rateOf(stepped, time);
    expect(Number.isNaN(rate) || rate > 5).toBe(true);
    let smooth = 0;
    const ramped = sampled(time, (_t, i) => {
      smooth += Math.max(-8, Math.min(8, stepped[i]! - smooth));
      return smooth;
    });
    expect(rateOf(ramped, time)).toBeGreaterThan(15);
  });

  /** Levels held in turn, each from its start (s) on. */
  const inTurn = (levels: readonly number[], starts: readonly number[], seconds: number) => {
    const axis = clock(seconds, 10);
    return rateOf(
      sampled(axis, (t) => levels[starts.findLastIndex((start) => t >= start)]!),
      axis,
    );
  };

  it('does not take a few levels that come again and again for a slow logger', () => {
    const levels = Array.from({ length: 120 }, (_, k) => [0, 100, 50, 100, 0, 2][k % 6]!);
    expect(
      inTurn(
        levels,
        levels.map((_, k) => k),
        120,
      ),
    ).toBeNaN();
  });

  it('does not take the shortest of unlike holds for a logger that reads every ten seconds', () => {
    const levels = [0, 22, 100, 5, 31, 90, 3, 25, 78, 12, 64, 40, 41, 42];
    expect(inTurn(levels, [0, 60, 70, 90, 120, 130, 170, 220, 230, 250, 300, 310, 340, 370], 400)).toBeNaN();
  });

  it('does not take a handful of like holds for a logger that reads every eight seconds', () => {
    const levels = [0, 100, 20, 120, 40, 140, 60, 61, 62];
    expect(
      inTurn(
        levels,
        levels.map((_, k) => 8 * k),
        100,
      ),
    ).toBeNaN();
  });

  it('does not take a torque that is held in each phase of a drive for a slow smooth channel', () => {
    // Standstill, hold, start, cruise, overrun and pull in turn (N.m), and when each begins (s).
    const levels = [
      40, 150, 500, 110, 0, 40, 150, 500, 110, 0, 40, 200, 110, 0, 40, 110, 560, 0, 110, 560, 0, 110, 100,
    ];
    const starts = [0, 44, 46, 49.3, 89.3, 97.3, 104.3, 106.3, 110, 150, 158, 165, 171.7, 211.7, 219.7, 222.7].concat([
      242.7, 248.7, 268.7, 288.7, 294.7, 314.7, 384.7,
    ]);
    expect(inTurn(levels, starts, 680)).toBeNaN();
  });

  it('is read from a logger that jitters by a row', () => {
    let row = 0;
    let value = 0;
    const jittered = sampled(time, (_t, i) => {
      if (i >= row) {
        value = drive[i]!;
        row = i + 3 + (i % 3);
      }
      return value;
    });
    expect(rateOf(jittered, time)).toBeGreaterThan(3.5);
    expect(rateOf(jittered, time)).toBeLessThan(7);
  });

  it('does not mistake standstill for a slow refresh', () => {
    const speed = sampled(time, (t) => Math.max(0, Math.round(80 * Math.sin(t / 20) + 2 * Math.sin(t * 9))));
    const rate = rateOf(speed, time);
    expect(Number.isNaN(rate) || rate > 10).toBe(true);
  });

  it('reads the cells of a multi-rate log, not its rows', () => {
    const sparse = sampled(time, (_t, i) => (i % 10 === 0 ? drive[i]! : Number.NaN));
    expect(rateOf(sparse, time)).toBeCloseTo(2, 6);
  });
});

describe('group rate', () => {
  const time = clock(600, 10);
  const random = noise(4);
  const fast = sampled(time, (t) => 2500 + 1000 * Math.sin(t / 5) + 60 * random());
  const slow = held(
    sampled(time, (t) => 50 + 40 * Math.sin(t / 9) + 3 * random()),
    10,
  );
  const cadence = (values: Float64Array) => ({
    rate: rateOf(values, time),
    changes: changesIn(values),
    fillRate: Number.NaN,
  });

  it('gives a creeping channel the rate of the group on whose rows it changes', () => {
    const coolant = held(
      sampled(time, (t) => Math.round(20 + t / 8)),
      10,
    );
    const oil = sampled(time, (t) => Math.round(20 + t / 9.7));
    const rates = groupRates([cadence(fast), cadence(slow), cadence(coolant), cadence(oil)], time.length, 10);
    expect([...rates].map((r) => Math.round(r * 100) / 100)).toEqual([10, 1, 1, 10]);
  });

  it('gives a constant channel the rate of the largest group', () => {
    const constant = sampled(time, () => 0);
    const rates = groupRates([cadence(fast), cadence(drift(fast)), cadence(slow), cadence(constant)], time.length, 10);
    expect(rates[3]).toBeCloseTo(10, 6);
  });

  it('does not take a plan of drives in full seconds for a logger that reads at these', () => {
    const plan = sampled(time, (t) => (t % 60 < 10 ? 100 : t % 60 < 30 ? 0 : 20));
    const runs = scanRuns(plan, new Int32Array(plan.length));
    expect(creeps(runs)).toBe(false);
    const channel = { ...cadence(plan), creeps: creeps(runs) };
    expect(groupRates([cadence(fast), channel], time.length, 10)[1]).toBe(10);
    const warming = sampled(time, (t) => Math.round(20 + t / 8));
    expect(creeps(scanRuns(warming, new Int32Array(warming.length)))).toBe(true);
  });

  it('falls back on the row rate when nothing moves', () => {
    const constant = sampled(time, () => 0);
    expect(groupRates([cadence(constant)], time.length, 10)[0]).toBe(10);
  });
});

function drift(values: Float64Array): Float64Array {
  return values.map((x) => x * 1.01 + 3);
}
