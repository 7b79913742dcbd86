import { describe, expect, it } from 'vitest';
import { judgeTexts } from '../read-outs.js';

const rule = 'codes.monitor-results';
const one = (value: number, low: number | string, high: number | string, name = 'Catalyst test') =>
  judgeTexts(rule, [
    `name,value,unit,min,max\n${name},${value},ratio,${low},${high}\nOther test,5,count,1,9\nLaunch count,1,,,\n`,
  ]);

describe('margins', () => {
  it.each([
    // Upper limit 100 alone with 0 below: 10 % of it are left at 90.
    [89.9, 0, 100, 'clear'],
    [90, 0, 100, 'clear'],
    [90.1, 0, 100, 'finding', 'watch'],
    [100, 0, 100, 'finding', 'watch'],
    [100.1, 0, 100, 'finding', 'repair'],
    // Lower limit 2 of a wide band.
    [2.21, 2, 100, 'clear'],
    [2.2, 2, 100, 'clear'],
    [2.19, 2, 100, 'finding', 'watch'],
    [2, 2, 100, 'finding', 'watch'],
    [1.99, 2, 100, 'finding', 'repair'],
    // A band narrower than its limits: a share of the band.
    [100.6, 100, 104, 'clear'],
    [100.3, 100, 104, 'finding', 'watch'],
    // Limits on one side only.
    [95, '', 100, 'finding', 'watch'],
    [1.9, 2, '', 'finding', 'repair'],
  ] as const)('%s between %s and %s', async (value, low, high, outcome, severity?: string) =>
    expect(await one(value, low, high)).toMatchObject(severity === undefined ? { outcome } : { outcome, severity }),
  );

  it('names test, value and limit', async () => {
    const result = await one(96, 0, 100);
    expect(result.summary).toContain('Catalyst test at 96 ratio, upper limit 100 ratio, 4 % left');
  });
});

describe('must not be fooled by', () => {
  it('a test that has not run', async () => {
    expect(await one(0, 0, 0)).toMatchObject({
      outcome: 'clear',
      measures: { notRun: { value: 1 }, tests: { value: 1 } },
    });
    expect(await judgeTexts(rule, ['name,value,unit,min,max\nA test,0,,0,0\nB test,0,,0,0\n'])).toMatchObject({
      outcome: 'unproven',
    });
  });
  it('a limit at the end of its number range, and a lower limit of 0', async () => {
    expect((await one(3, 0, 65535, 'Misfire count cylinder 1 test')).outcome).toBe('clear');
    expect((await one(0, 0, 100)).outcome).toBe('clear');
  });
});

it('is unproven without results', async () =>
  expect(await judgeTexts(rule, ['name,value\nLaunch count,1\nIgnition cycles,900\n'])).toMatchObject({
    outcome: 'unproven',
  }));
