import { describe, expect, it } from 'vitest';
import { lambdaSensor } from '../../../src/rules/fuel/lambda-sensor.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';
import { measure, partsOf } from './fuel-drive.js';

/** Cuts of 3 s every 12 s; seconds into the cut, -1 outside. */
const into = (t: number, length = 3): number => (t < 10 || (t - 10) % 12 > length ? -1 : (t - 10) % 12);
/** Lambda that comes to 2.0 in a ramp and passes 1.8 after `delay` seconds. */
const sensor = (delay: number, rate: number, end = 2, length = 3): Signal => ({
  values: (t) =>
    into(t, length) < 0 ? 1 + 0.002 * (Math.round(t * rate) % 3) : Math.min(end, 1 + (0.8 * into(t, length)) / delay),
  quality: { rate, quantum: 0.001 },
});
interface Wish {
  readonly one?: number;
  readonly two?: number;
  readonly rate?: number;
  readonly end?: number;
  readonly length?: number;
  readonly seconds?: number;
  readonly flag?: boolean;
  readonly cut?: boolean;
  readonly unit?: string;
  /** Seconds from the release of the pedal until the control unit cuts. */
  readonly delay?: number;
}
function drive({
  one = 0.4,
  two,
  rate = 20,
  end = 2,
  length = 3,
  seconds = 90,
  flag = true,
  cut = true,
  unit,
  delay = 0,
}: Wish) {
  const bank1 = sensor(one, rate, end, length) as { values: (t: number) => number };
  const signals: Record<string, Signal> = {
    'lambda.bank1': cut
      ? { ...bank1, ...(unit === undefined ? {} : { unit }) }
      : (t) => 1 + 0.002 * (Math.round(t * rate) % 3),
    engineSpeed: (t) => 2500 + (Math.round(t * 5) % 4),
    vehicleSpeed: (t) => (t < 3 ? 0 : 70 + (Math.round(t) % 2)),
    pedalPosition: {
      values: (t) => (t < 3 || into(t, length) >= 0 || into(t + delay, length) >= 0 ? 0 : 30 + (Math.round(t * 3) % 3)),
      quality: { rate },
    },
    ...(two === undefined ? {} : { 'lambda.bank2': sensor(two, rate, end, length) }),
    ...(flag ? { fuelCut: (t: number) => (into(t, length) >= 0 ? 1 : 0) } : {}),
  };
  return driveOf(clock(seconds, rate), signals, car());
}
const judged = (wish: Wish = {}) => runRule(lambdaSensor, drive(wish));

describe('fuel.lambda-sensor', () => {
  it.each([
    [0.4, 'clear'],
    [1.5, 'clear'],
    [1.7, 'finding'],
    [2.6, 'finding'],
  ])('%f s: %s', (one, outcome) => {
    const result = judged({ one });
    expect(result.outcome).toBe(outcome);
    if (result.outcome === 'finding') expect(result.severity).toBe('watch');
    expect(Math.abs(measure(result, 'response.bank1') - one)).toBeLessThan(0.08);
  });

  it('compares the banks', () => {
    expect(judged({ one: 0.4, two: 0.8 }).outcome).toBe('clear');
    const result = judged({ one: 0.4, two: 1.2 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('bank 2');
    expect(result.outcome === 'finding' && String(result.advice)).toContain('Swap the sensors');
  });

  it('compares the delays behind a target that moves, where no fuel cut was driven', () => {
    const target = (t: number) => (t < 5 ? 1 : 0.94 + 0.06 * Math.sign(Math.sin(t / 3) + 0.4 * Math.sin(t / 1.7)));
    const late = (by: number) => ({
      values: (t: number) => target(t - by) + 0.001 * (Math.round(t * 20) % 3),
      quality: { rate: 20 },
    });
    const told = (one: number, two: number) => {
      const signals: Record<string, Signal> = {
        'lambda.bank1': late(one),
        'lambda.bank2': late(two),
        lambdaTarget: { values: target, quality: { rate: 20 } },
        engineSpeed: (t) => 2500 + (Math.round(t * 5) % 4),
        vehicleSpeed: (t) => (t < 3 ? 0 : 70 + (Math.round(t) % 2)),
        pedalPosition: { values: (t) => (t < 3 ? 0 : 30 + (Math.round(t * 3) % 3)), quality: { rate: 20 } },
      };
      return runRule(lambdaSensor, driveOf(clock(180, 20), signals, car()));
    };
    expect(told(0.2, 0.2).outcome).toBe('unproven');
    expect(told(0.2, 0.35).outcome).toBe('unproven');
    expect(told(0.1, 0.45).outcome).toBe('unproven');
    const result = told(0.2, 0.9);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('bank 2 follows its target 0.9 s late, bank 1 0.2 s');
  });

  it.each([10, 20])('tells one slow bank beside a very quick one at %i Hz, and leaves two quick ones alone', (rate) => {
    const result = judged({ one: 0.15, two: 1.1, rate });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(judged({ one: 0.15, two: 0.45, rate }).outcome).toBe('clear');
  });

  it('is not fooled by overrun without a cut, a column that ends low, short cuts, volts', () => {
    const noCut = judged({ cut: false, flag: false });
    expect(noCut.outcome).toBe('unproven');
    const ends = judged({ end: 1.6 });
    expect(ends.outcome === 'unproven' && ends.summary).toContain('ends below');
    expect(judged({ one: 1.9, length: 1.5 }).outcome).toBe('unproven');
    const volts = judged({ unit: 'V' });
    expect(volts.outcome === 'unproven' || volts.outcome === 'clear').toBe(true);
    // Without the flag the pedal tells when the cut began.
    expect(judged({ one: 2.2, flag: false }).outcome).toBe('finding');
    expect(judged({ one: 0.4, flag: false }).outcome).toBe('clear');
  });

  it('times the cut, not the pedal, where the control unit waits', () => {
    const seen = judged({ one: 0.4, two: 0.4, delay: 1.8 });
    expect(seen.outcome).toBe('clear');
    expect(Math.abs(measure(seen, 'response.bank1') - 0.4)).toBeLessThan(0.08);
    // A slow sensor is found behind a late cut as well.
    expect(judged({ one: 1.8, delay: 1.8 })).toMatchObject({ outcome: 'finding', severity: 'watch' });
    // Neither flag nor injection time: the sensor may be late, or the cut.
    const unseen = judged({ one: 0.4, delay: 1.8, flag: false });
    expect(unseen.outcome === 'unproven' && unseen.missing.channels).toContain('injectionTime');
    expect(judged({ one: 1.9, delay: 1.8, flag: false, length: 4 }).outcome).toBe('finding');
  });

  describe('a sensor that is lean in the first row of a cut', () => {
    // Pulse width falls to 0 between two rows; lambda is at `first` by then, and was at `before` in the row before.
    const quick = (before: number, first = 1.5, rate = 10) => {
      const values = (t: number) =>
        into(t) >= 0 ? Math.min(2, first + 4 * into(t)) : into(t + 1.05 / rate) >= 0 || into(t + 0.6) >= 0 ? before : 1;
      const signals: Record<string, Signal> = {
        'lambda.bank1': { values: (t) => values(t) + 0.001 * (Math.round(t * rate) % 3), quality: { rate } },
        injectionTime: { values: (t) => (into(t) >= 0 ? 0 : 2 + 0.02 * (Math.round(t * 7) % 5)), quality: { rate } },
        engineSpeed: (t) => 2500 + (Math.round(t * 5) % 4),
        vehicleSpeed: (t) => (t < 3 ? 0 : 70 + (Math.round(t) % 2)),
        pedalPosition: { values: (t) => (t < 3 || into(t) >= 0 ? 0 : 30 + (Math.round(t * 3) % 3)), quality: { rate } },
      };
      return runRule(lambdaSensor, driveOf(clock(90, rate), signals, car()));
    };
    it.each([5, 10, 20])('is quicker than a log of %i Hz shows, within a bound', (rate) => {
      const result = quick(1, 1.5, rate);
      expect(result.outcome).toBe('clear');
      expect(result.summary).toMatch(/at most .* quicker than the log shows/);
      expect(measure(result, 'response.bank1')).toBeLessThan(0.1 + 2.1 / rate);
      expect(measure(result, 'response.bank1')).toBeGreaterThanOrEqual(1 / rate);
    });
    it('is left out where it was lean before as well', () => {
      expect(quick(1.6)).toMatchObject({ outcome: 'unproven' });
    });
  });

  it('says what is missing: cuts, rate', () => {
    const few = judged({ seconds: 30 });
    expect(few.outcome === 'unproven' && few.missing.conditions[0]).toContain('3 overrun fuel cuts');
    const slow = judged({ rate: 2 });
    expect(slow.outcome === 'unproven' && slow.missing.conditions[0]).toContain('5 Hz');
  });

  it('takes the limit of the profile and the drive with most cuts', () => {
    const limits = { 'fuel.lambda-sensor': { watch: { value: 0.6, unit: 's' } } };
    const own = (wish: Wish, input: number) => ({ ...drive(wish), input, vehicle: { ...car(), limits } });
    const result = runRule(lambdaSensor, [own({ one: 0.4, seconds: 50 }, 0), own({ one: 0.9 }, 1)] as ReturnType<
      typeof drive
    >[]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(partsOf(result).limit('watch')).toMatchObject({ value: 0.6, source: 'profile' });
  });
});
