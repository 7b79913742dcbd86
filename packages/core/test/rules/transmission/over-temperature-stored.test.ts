import { describe, expect, it } from 'vitest';
import { judgeTexts, values } from '../read-outs.js';

const rule = 'transmission.over-temperature';
const stored = (peak: number) =>
  judgeTexts(rule, [values({ 'Maximum transmission oil temperature': `${peak} degC`, 'Launch count': 0 })]);

describe('a stored peak alone', () => {
  // Limits 115, 125, 140; the bound takes 1.645 x 1.19 K off; a peak of the past counts one step less.
  it.each([
    [110, 'unproven', undefined],
    [116, 'unproven', undefined],
    [118, 'finding', 'watch'],
    [128, 'finding', 'watch'],
    [141, 'finding', 'watch'],
    [143, 'finding', 'repair'],
  ] as const)('%d °C', async (peak, outcome, severity) =>
    expect(await stored(peak)).toMatchObject(
      severity === undefined ? { outcome } : { outcome, severity, measures: { storedPeak: { value: peak } } },
    ),
  );
});

describe('stored launches beside a drive', () => {
  it('count by themselves', async () => {
    const result = await judgeTexts('usage.launches', [values({ 'Launch count': 61, Odometer: '42000 km' })]);
    expect(result).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      measures: { storedLaunches: { value: 61 } },
    });
  });
});
