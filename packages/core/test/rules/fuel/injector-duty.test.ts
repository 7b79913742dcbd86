import { describe, expect, it } from 'vitest';
import { injectorDuty } from '../../../src/rules/fuel/injector-duty.js';
import { runRule, type Signal } from '../helpers.js';
import { inPull, measure, partsOf, pullDrive, rpmAt } from './fuel-drive.js';

type Engine = Parameters<typeof pullDrive>[1];
const engine = (injection?: 'port' | 'direct' | 'both'): NonNullable<Engine> => ({
  displacement: 2,
  cylinders: 4,
  revLimit: 7000,
  ...(injection === undefined ? {} : { injection }),
});
/** Opening time (ms) that takes a constant share (%) of the cycle over the last seconds of each pull. */
const port = (duty: number): Signal => ({
  values: (t) => (inPull(t) < 5 ? 2 + 0.01 * (Math.round(t * 10) % 2) : (duty * 1200) / rpmAt(t)),
  quality: { rate: 10, quantum: 0.004 },
});
const direct = (angle: number): Signal => port(angle / 7.2);
const judged = (time: Signal | undefined, injection?: 'port' | 'direct' | 'both', rate = 10) =>
  runRule(injectorDuty, pullDrive({ injectionTime: time }, engine(injection), rate));

describe('fuel.injector-duty', () => {
  it.each([
    ['port', 85, 'clear', undefined],
    ['port', 88, 'finding', 'watch'],
    ['port', 95, 'finding', 'watch'],
    ['port', 98, 'finding', 'repair'],
    ['direct', 200, 'clear', undefined],
    ['direct', 207, 'finding', 'watch'],
    ['direct', 240, 'finding', 'watch'],
    ['direct', 247, 'finding', 'repair'],
  ] as const)('%s at %i: %s %s', (kind, value, outcome, severity) => {
    const result = judged(kind === 'port' ? port(value) : direct(value), kind);
    expect(result.outcome).toBe(outcome);
    if (result.outcome === 'finding') {
      expect(result.severity).toBe(severity);
      expect(result.summary).toMatch(/rpm/);
    }
    expect(Math.abs(measure(result, kind === 'port' ? 'duty' : 'angle') - value)).toBeLessThan(0.01 * value);
  });

  it('knows where the injectors sit from the rail pressure, or leaves it open when it matters', () => {
    const rail =
      (kPa: number): Signal =>
      (t) =>
        kPa + (inPull(t) < 0 ? 0 : 30);
    const time = direct(220);
    const withRail = (kPa: number) =>
      runRule(injectorDuty, pullDrive({ injectionTime: time, fuelRailPressure: rail(kPa) }, engine()));
    expect(withRail(12000)).toMatchObject({ outcome: 'finding', severity: 'watch' });
    // 220 degrees are 31 % of the cycle: nothing for a port injector.
    expect(withRail(400)).toMatchObject({ outcome: 'clear' });
    const unknown = judged(time);
    expect(unknown.outcome === 'unproven' && unknown.missing.channels).toEqual(['fuelRailPressure']);
    expect(judged(direct(150))).toMatchObject({ outcome: 'clear' });
    // No direct injector is open for more than 45 % of the cycle.
    expect(judged(port(90))).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  it('leaves two sets of injectors open', () => {
    const result = judged(port(60), 'both');
    expect(result.outcome === 'unproven' && result.missing.conditions[0]).toContain('both sets');
  });

  it('is not fooled by long openings at low speed, cranking or single samples', () => {
    // 12 ms at 1900 rpm are 19 %.
    expect(judged((t) => (inPull(t) < 0 ? 12 + 0.01 * (Math.round(t * 10) % 2) : 6), 'port')).toMatchObject({
      outcome: 'clear',
    });
    const spike: Signal = {
      values: (t) => (Math.abs(t - 26) < 0.06 ? 30 : 4 + 0.01 * (Math.round(t * 10) % 2)),
      quality: { rate: 10 },
    };
    expect(judged(spike, 'port')).toMatchObject({ outcome: 'clear' });
    const crank = pullDrive(
      {
        injectionTime: (t) => (t < 3 ? 40 : 4 + 0.01 * (Math.round(t * 10) % 2)),
        engineSpeed: (t) => (t < 3 ? 250 : rpmAt(t)),
      },
      engine('port'),
    );
    expect(runRule(injectorDuty, crank)).toMatchObject({ outcome: 'clear' });
  });

  it('says what is missing: the channel, full load, the rate', () => {
    const none = judged(undefined, 'port');
    expect(none.outcome === 'unproven' && none.missing.channels).toContain('injectionTime');
    const gentle = pullDrive(
      { injectionTime: port(60), pedalPosition: (t) => 20 + (Math.round(t) % 3) },
      engine('port'),
    );
    const lazy = runRule(injectorDuty, gentle);
    expect(lazy.outcome === 'unproven' && lazy.missing.conditions[0]).toContain('full-load pull');
    const slow = judged(
      { values: (t) => (port(60) as { values: (t: number) => number }).values(t), quality: { rate: 1 } },
      'port',
      1,
    );
    expect(slow.outcome === 'unproven' && slow.missing.conditions[0]).toContain('4 Hz');
  });

  it('takes the limit of the profile, and the worst of several drives', () => {
    const limits = { 'fuel.injector-duty': { 'angle-watch': { value: 170, unit: 'deg' } } };
    const drive = (angle: number, input: number) =>
      pullDrive({ injectionTime: direct(angle) }, engine('direct'), 10, input, { limits });
    const result = runRule(injectorDuty, [drive(150, 0), drive(180, 1)]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(partsOf(result).limit('angle-watch')).toMatchObject({ value: 170, source: 'profile' });
    expect(partsOf(result).events[0]?.input).toBe(1);
  });
});
