import { describe, expect, it } from 'vitest';
import { distance } from '../../../src/rules/provenance/distance.js';
import { clock, driveOf, runRule } from '../helpers.js';
import { judgeTexts, values } from '../read-outs.js';

const rule = 'provenance.distance';
const read = (rows: Record<string, number>) =>
  judgeTexts(rule, [values(Object.fromEntries(Object.entries(rows).map(([name, km]) => [name, `${km} km`])))]);
const I = 'Odometer instrument cluster';
const T = 'Odometer transmission control unit';
const E = 'Odometer engine control unit';

describe('limits', () => {
  it.each([
    // 30 000 km: 0.3 % are 90 km, so 100 km counts.
    [29900, 30000, 'clear', undefined],
    [29899, 30000, 'finding', 'watch'],
    // 100 000 km: 0.3 % are 300 km.
    [99700, 100000, 'clear', undefined],
    [99699, 100000, 'finding', 'watch'],
    // 2 % are 2000 km.
    [98000, 100000, 'finding', 'watch'],
    [97999, 100000, 'finding', 'repair'],
    // 500 km count where 2 % are less.
    [9500, 10000, 'finding', 'watch'],
    [9499, 10000, 'finding', 'repair'],
  ] as const)('instrument %d km, transmission %d km', async (instrument, transmission, outcome, severity) =>
    expect(await read({ [I]: instrument, [T]: transmission })).toMatchObject(
      severity === undefined ? { outcome } : { outcome, severity },
    ),
  );
});

it('an exchanged control unit is a watch, a changed instrument a repair', async () => {
  expect(await read({ [I]: 60000, [T]: 12000, [E]: 59995 })).toMatchObject({ outcome: 'finding', severity: 'watch' });
  expect(await read({ [I]: 26000, [T]: 60000, [E]: 59995 })).toMatchObject({ outcome: 'finding', severity: 'repair' });
});

it('a past event beyond the present distance is a finding', async () => {
  expect(await read({ [I]: 26000, [E]: 26004, 'Odometer at last launch': 41150 })).toMatchObject({
    outcome: 'finding',
  });
  expect(await read({ [I]: 26000, [E]: 26004, 'Odometer at last launch': 21150 })).toMatchObject({ outcome: 'clear' });
  expect(await read({ [I]: 26000, 'Distance since codes cleared': 41150 })).toMatchObject({ outcome: 'finding' });
});

it('miles are told as such', async () => {
  const result = await read({ [I]: 37282, [T]: 60000 });
  expect(result.summary).toContain('miles');
  expect(result).toMatchObject({ severity: 'watch' });
});

it('read-outs of different days are not set against each other', async () => {
  const early = values({ [I]: '40000 km', [T]: '40004 km' });
  const later = values({ [I]: '43000 km', [T]: '43002 km' });
  expect((await judgeTexts(rule, [early, later])).outcome).toBe('clear');
});

describe('over a recording', () => {
  const drive = (seconds: number, factor: number) =>
    driveOf(clock(seconds, 1), { vehicleSpeed: () => 90, odometer: (t) => 42000 + Math.floor((t / 40) * factor) });
  it('an odometer that grows as the speed says is clear, one that does not is a watch', () => {
    expect(runRule(distance, drive(1200, 1)).outcome).toBe('clear');
    expect(runRule(distance, drive(1200, 0.5))).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });
  it('a short one says nothing', () => expect(runRule(distance, drive(200, 0.5)).outcome).toBe('unproven'));
});

it('one distance alone is unproven, and so is none', async () => {
  expect((await read({ [I]: 26000, 'Ignition cycles': 3 })).outcome).toBe('unproven');
  expect(runRule(distance, driveOf(clock(60, 1), { engineSpeed: () => 800 }))).toMatchObject({ outcome: 'unproven' });
});
