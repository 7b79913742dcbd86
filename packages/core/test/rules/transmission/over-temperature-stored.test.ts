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

describe('a stored peak beside a drive', () => {
  // A drive of ten minutes with fluid at 88 degC, then with ten seconds at 118 degC (watch).
  const drive = (top: number): string =>
    `Time [s],RPM,VSS [km/h],TFT [°C]\n${Array.from({ length: 1201 }, (_, i) => {
      const hot = i > 600 && i < 700 ? 1 - Math.abs(i - 650) / 50 : 0;
      return `${i / 2},2000,70,${(88 + 0.2 * (i % 3) + hot * (top - 88)).toFixed(1)}`;
    }).join('\n')}\n`;
  const peak = (celsius: number): string => values({ 'Maximum transmission oil temperature': `${celsius} degC` });

  it('leads where it is the worse of the two, and keeps what was seen', async () => {
    const result = await judgeTexts(rule, [drive(119), peak(143)]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair', measures: { storedPeak: { value: 143 } } });
    expect(result.summary).toContain('stored a highest fluid temperature of 143 °C');
    expect(JSON.stringify(result)).toContain('Seen in the recordings');
  });

  it('stands in the notes where the drive shows as much', async () => {
    const result = await judgeTexts(rule, [drive(119), peak(128)]);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toContain('reached');
    expect(JSON.stringify(result)).toContain('stored a highest fluid temperature of 128 °C');
  });

  it('near a limit is told and is none; at the end of its range it is left out', async () => {
    const near = await judgeTexts(rule, [drive(90), peak(116)]);
    expect(near).toMatchObject({ outcome: 'clear' });
    expect(JSON.stringify(near)).toContain('near the limit of 115 °C');
    const end = await judgeTexts(rule, [drive(90), peak(215)]);
    expect(end).toMatchObject({ outcome: 'clear' });
    expect(JSON.stringify(end)).toContain('end of its range');
  });
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
