import { describe, expect, it } from 'vitest';
import { recentClear } from '../../../src/rules/provenance/recent-clear.js';
import { clock, driveOf, runRule } from '../helpers.js';
import { judgeTexts, values } from '../read-outs.js';

const rule = 'provenance.recent-clear';
const KM = 'Distance since codes cleared';
const WARM = 'Warm-ups since codes cleared';

describe('limits', () => {
  it.each([
    [99, 200, 'finding'],
    [100, 200, 'clear'],
    [5000, 9, 'finding'],
    [5000, 10, 'clear'],
  ])('%d km and %d warm-ups: %s', async (km, warm, outcome) =>
    expect(await judgeTexts(rule, [values({ [KM]: `${km} km`, [WARM]: warm, Odometer: '60000 km' })])).toMatchObject({
      outcome,
    }),
  );

  it.each([
    ['00 07 65 65', 'finding'],
    ['00 07 65 05', 'finding'],
    ['00 07 65 04', 'unproven'],
    ['00 07 65 00', 'clear'],
  ])('readiness %s alone: %s', async (hex, outcome) =>
    expect(await judgeTexts(rule, [`name,value\nMonitor status,${hex}\nLaunch count,1\n`])).toMatchObject({ outcome }),
  );

  it('a limit of the profile counts and is shown as the user’s', async () => {
    const { UNKNOWN_VEHICLE } = await import('../../../src/vehicle/vehicle.js');
    const vehicle = { ...UNKNOWN_VEHICLE, limits: { [rule]: { distance: { value: 500, unit: 'km' } } } };
    const result = await judgeTexts(rule, [values({ [KM]: '400 km', [WARM]: 90 })], vehicle);
    expect(result).toMatchObject({ outcome: 'finding' });
    expect(
      (result as unknown as { limits: { name: string; source: string }[] }).limits.find(
        ({ name }) => name === 'distance',
      )?.source,
    ).toBe('profile');
  });
});

describe('permanent codes', () => {
  it('without their stored code were cleared', async () => {
    const list = 'code,status\nP0420,permanent\nP0171,pending\n';
    const result = await judgeTexts(rule, [list, values({ [KM]: '9000 km', [WARM]: 200 })]);
    expect(result).toMatchObject({ outcome: 'finding', measures: { permanentAlone: { value: 1 } } });
    expect(result.summary).toContain('P0420');
  });
  it('beside their stored code, or in a list of permanent codes only, say nothing', async () => {
    const long = values({ [KM]: '9000 km', [WARM]: 200 });
    for (const list of ['code,status\nP0420,permanent\nP0420,stored\n', 'code,status\nP0420,permanent\n'])
      expect((await judgeTexts(rule, [list, long])).outcome).toBe('clear');
  });
});

describe('must not be fooled by', () => {
  it('counters at the end of their range', async () => {
    const result = await judgeTexts(rule, [
      `${values({ [KM]: '65535 km', [WARM]: 255 })}Monitor status,00 07 65 00,\n`,
    ]);
    expect(result).toMatchObject({ outcome: 'clear' });
    expect('distance' in (result as { measures: object }).measures).toBe(false);
  });
  it('a battery change: monitors open, counters long', async () => {
    const rows = values({ [KM]: '9000 km', [WARM]: 200, 'Battery change distance': '59990 km', Odometer: '60000 km' });
    expect((await judgeTexts(rule, [`${rows}Monitor status,00 07 65 65,\n`])).outcome).toBe('clear');
  });
  it('a new car', async () =>
    expect((await judgeTexts(rule, [values({ [KM]: '70 km', [WARM]: 5, Odometer: '82 km' })])).outcome).toBe('clear'));
});

it('reads the counters of a drive as well', () => {
  const drive = driveOf(clock(60, 1), { distanceSinceClear: () => 12, warmUpsSinceClear: () => 2 });
  expect(runRule(recentClear, drive)).toMatchObject({ outcome: 'finding', severity: 'watch' });
});

it('is unproven without anything that tells', () => {
  const result = runRule(recentClear, driveOf(clock(60, 1), { engineSpeed: () => 800 }));
  expect(result).toMatchObject({
    outcome: 'unproven',
    missing: { channels: ['distanceSinceClear', 'warmUpsSinceClear', 'monitorsOpen'] },
  });
});
