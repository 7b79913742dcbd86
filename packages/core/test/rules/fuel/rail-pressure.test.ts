import { describe, expect, it } from 'vitest';
import { railPressure } from '../../../src/rules/fuel/rail-pressure.js';
import { runRule, type Signal } from '../helpers.js';
import { inPull, measure, partsOf, pullDrive } from './fuel-drive.js';

interface Wish {
  /** Share of the target that is missing in the last three seconds of each pull. */
  readonly rail?: number;
  readonly feed?: number | undefined;
  readonly lean?: number;
  readonly seconds?: number;
  readonly more?: Readonly<Record<string, Signal | undefined>>;
  readonly rate?: number;
}
const late = (t: number, seconds = 3): boolean => inPull(t) >= 8 - seconds;
const noise = (t: number): number => ((Math.round(t * 10) * 7) % 5) - 2;

function drive({ rail = 0, feed, lean = 0, seconds = 3, more = {}, rate = 10 }: Wish = {}) {
  const target = (t: number) => (inPull(t) < 0 ? 8000 : inPull(t) < 1 ? 8000 + 11000 * inPull(t) : 19000);
  const signals: Record<string, Signal | undefined> = {
    fuelRailPressureTarget: { values: target, quality: { rate } },
    fuelRailPressure: {
      values: (t) => target(t) * (1 - (late(t, seconds) ? rail : 0)) + 10 * noise(t),
      quality: { rate, quantum: 10 },
    },
    lambda: (t) => (late(t, seconds) ? 0.86 + lean : inPull(t) < 0 ? 1 : 0.86) + 0.0005 * noise(t),
    lambdaTarget: (t) => (inPull(t) < 0 ? 1 : 0.86),
    ...(feed === undefined
      ? {}
      : {
          fuelFeedPressureTarget: () => 550,
          fuelFeedPressure: (t: number) => 550 * (1 - (inPull(t) >= 4 ? feed : 0)) + noise(t),
        }),
    ...more,
  };
  return pullDrive(signals, { displacement: 2, cylinders: 4, revLimit: 7000 }, rate);
}
const judged = (wish?: Wish) => runRule(railPressure, drive(wish));

describe('fuel.rail-pressure', () => {
  it.each([
    [0, 'clear', undefined],
    [0.08, 'clear', undefined],
    [0.11, 'finding', 'watch'],
    [0.15, 'finding', 'watch'],
    [0.18, 'finding', 'repair'],
  ])('%f below: %s %s', (rail, outcome, severity) => {
    const result = judged({ rail });
    expect(result.outcome).toBe(outcome);
    if (result.outcome === 'finding') expect(result.severity).toBe(severity);
    expect(Math.abs(measure(result, 'rail.below') - 100 * rail)).toBeLessThan(0.7);
  });

  it('is a stop where the mixture is lean in the same moment, at load', () => {
    expect(judged({ rail: 0.18, lean: 0.04 })).toMatchObject({ severity: 'repair' });
    const result = judged({ rail: 0.18, lean: 0.08 });
    expect(result).toMatchObject({ severity: 'stop' });
    expect(result.summary).toContain('lambda is 0.08 over its target');
  });

  it('takes the mixture of the same stretch of full load, one exhaust travel later, and no other', () => {
    // Pressure lowest from 5 s to 6.2 s of the pull, still 11 % low after it; the sensor shows lean from 6.8 s to 7.6 s.
    const target = (t: number) => (inPull(t) < 0 ? 8000 : inPull(t) < 1 ? 8000 + 11000 * inPull(t) : 19000);
    const fuelRailPressure: Signal = (t) =>
      target(t) * (1 - (inPull(t) >= 5 ? (inPull(t) < 6.2 ? 0.2 : 0.11) : 0)) + 10 * noise(t);
    const leanFrom = (from: number, to: number, rise = 0.08): Signal => {
      return (t) => (inPull(t) < 0 ? 1 : 0.86) + (inPull(t) >= from && inPull(t) < to ? rise : 0) + 0.0005 * noise(t);
    };
    const at = (lambda: Signal, more = {}) => judged({ more: { fuelRailPressure, lambda, ...more } });
    expect(at(leanFrom(6.8, 7.6))).toMatchObject({ severity: 'stop' });
    expect(at(leanFrom(6.8, 7.6, 0.045))).toMatchObject({ severity: 'repair' });
    // Too short, before the pressure fell, or because the target itself was lean.
    expect(at(leanFrom(6.8, 7.2))).toMatchObject({ severity: 'repair' });
    expect(at(leanFrom(3, 4))).toMatchObject({ severity: 'repair' });
    const wanted: Signal = (t) => (inPull(t) < 0 ? 1 : 0.86) + (inPull(t) >= 6.6 && inPull(t) < 7.4 ? 0.08 : 0);
    expect(at(leanFrom(6.8, 7.6), { lambdaTarget: wanted })).toMatchObject({ severity: 'repair' });
  });

  it('watches pressure above its target', () => {
    expect(judged({ rail: -0.1 }).outcome).toBe('clear');
    const result = judged({ rail: -0.13 });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.outcome === 'finding' && result.causes?.[0]).toContain('regulator');
  });

  it('names the pump by which of the two fell first', () => {
    const causes = (wish: Wish) => {
      const result = judged(wish);
      return result.outcome === 'finding' ? [String(result.causes?.[0]), result.summary] : [];
    };
    const [tank, first] = causes({ rail: 0.18, feed: 0.14 });
    expect(tank).toContain('tank pump');
    expect(first).toContain('feed had fallen by 14 % before');
    const [high, held] = causes({ rail: 0.18, feed: 0.01 });
    expect(high).toContain('high-pressure pump');
    expect(held).toContain('feed held');
    const open = judged({ rail: 0.18 });
    expect(open.outcome === 'finding' && String(open.advice)).toContain('Record the feed pressure');
    // Without a target of its own the feed is compared with what it is at cruise.
    const lonely = judged({ rail: 0.18, feed: 0.14, more: { fuelFeedPressureTarget: undefined } });
    expect(lonely.outcome === 'finding' && lonely.summary).toMatch(/feed had fallen by 1[345] %/i);
  });

  it('is not fooled by short falls, moving targets, units, gauge beside absolute, or a regulator against the manifold', () => {
    expect(judged({ rail: 0.3, seconds: 0.3 }).outcome).toBe('clear');
    const ramp: Signal = (t) => 8000 + 1500 * Math.max(0, inPull(t));
    const lagging: Signal = (t) => 8000 + 1500 * Math.max(0, inPull(t) < 0 ? 0 : inPull(t) - 1.2) + noise(t);
    expect(judged({ more: { fuelRailPressureTarget: ramp, fuelRailPressure: lagging } }).outcome).toBe('unproven');
    const inBar: Signal = (t) => 80 + (inPull(t) < 0 ? 0 : 110) + 0.1 * noise(t);
    const units = judged({ more: { fuelRailPressure: inBar } });
    expect(units.outcome).toBe('unproven');
    expect(partsOf(units).notes).toContain('different units');
    const boost = (t: number) => (inPull(t) < 0 ? 60 : 101 + 12 * inPull(t));
    const port = (pressure: Signal, target: Signal) =>
      runRule(
        railPressure,
        pullDrive(
          {
            fuelRailPressure: pressure,
            fuelRailPressureTarget: target,
            manifoldPressure: boost,
            barometricPressure: () => 101,
          },
          { injection: 'port', revLimit: 7000 },
        ),
      );
    expect(
      port(
        (t) => 300 + boost(t) - 101 + noise(t),
        () => 300,
      ),
    ).toMatchObject({ outcome: 'clear' });
    expect(
      port(
        (t) => 300 + 0.5 * noise(t),
        () => 401,
      ),
    ).toMatchObject({ outcome: 'clear' });
    expect(
      port(
        (t) => 300 * (late(t) ? 0.8 : 1) + noise(t),
        () => 300,
      ),
    ).toMatchObject({ outcome: 'finding', severity: 'repair' });
  });

  it('says what is missing: target, full load, rate; takes the profile’s limit', () => {
    const none = judged({ more: { fuelRailPressureTarget: undefined } });
    expect(none.outcome === 'unproven' && none.missing.channels).toEqual([
      'fuelRailPressure',
      'fuelRailPressureTarget',
    ]);
    const gentle = judged({ more: { pedalPosition: (t) => 15 + (Math.round(t) % 3) } });
    expect(gentle.outcome === 'unproven' && gentle.missing.conditions[0]).toContain('full-load pull');
    const slow = judged({ rate: 2 });
    expect(slow.outcome === 'unproven' && slow.missing.conditions[0]).toContain('6 Hz');
    const limits = { 'fuel.rail-pressure': { 'below-watch': { value: 4, unit: '%' } } };
    const own = drive({ rail: 0.07 });
    expect(runRule(railPressure, own).outcome).toBe('clear');
    const strict = { ...own, vehicle: { ...own.vehicle, limits } };
    const result = runRule(railPressure, strict as typeof own);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(partsOf(result).limit('below-watch')).toMatchObject({ value: 4, source: 'profile' });
  });
});
