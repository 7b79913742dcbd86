import { describe, expect, it } from 'vitest';
import { readProfile } from '../../../src/vehicle/profile.js';
import { judgeTexts, values } from '../read-outs.js';

const rule = 'provenance.calibration';
const profile = readProfile(
  "schema: telltale/vehicle@1\ncalibration: { identification: [EC41-2207], verification: ['5F3A9C21'] }\n",
  'p',
);
if (!profile.ok) throw new Error('profile');
const own = profile.value;
const programs = (id: string, verification: string) =>
  values({ 'Calibration ID engine': id, 'Calibration verification number engine': verification, Odometer: '40000 km' });

describe('against the profile', () => {
  it.each([
    ['EC41-2207', '5F3A9C21', 'clear'],
    ['ec41_2207', '5f3a9c21', 'clear'],
    ['EC41-2208', '5F3A9C21', 'finding'],
    ['EC41-2207', '5F3A9C22', 'finding'],
  ])('%s, %s: %s', async (id, verification, outcome) =>
    expect(await judgeTexts(rule, [programs(id, verification)], own)).toMatchObject({ outcome }),
  );

  it('is unproven without one, and tells what was read', async () => {
    const result = await judgeTexts(rule, [programs('EC41-2207', '5F3A9C21')]);
    expect(result.outcome).toBe('unproven');
    expect(result.summary).toContain('EC41-2207');
  });
});

it('a verification number that changes under one identification is a finding', async () => {
  expect((await judgeTexts(rule, [programs('A1', '11111111'), programs('A1', '22222222')])).outcome).toBe('finding');
  expect((await judgeTexts(rule, [programs('A1', '11111111'), programs('B2', '22222222')])).outcome).toBe('unproven');
});

describe('counters set back', () => {
  it.each([
    [{ 'Ignition cycles': 80 }, 'unproven'],
    [{ 'Ignition cycles': 79 }, 'finding'],
    [{ 'Engine start count': 79 }, 'finding'],
    [{ 'Operating hours': '308 h' }, 'unproven'],
    [{ 'Operating hours': '307 h' }, 'finding'],
  ] as const)('%j at 40 000 km: %s', async (rows, outcome) =>
    expect(await judgeTexts(rule, [values({ ...rows, Odometer: '40000 km' })])).toMatchObject({ outcome }),
  );
  it('a car that is nearly new says nothing', async () =>
    expect((await judgeTexts(rule, [values({ 'Ignition cycles': 1, Odometer: '4000 km' })])).outcome).toBe('unproven'));
});
