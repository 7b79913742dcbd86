import { describe, expect, it } from 'vitest';
import { car } from '../helpers.js';
import { judgeTexts, values } from '../read-outs.js';

const rule = 'usage.over-rev';
const CAR = car({ engine: { revLimit: 7000 } });
const peak = (rpm: number, vehicle = CAR) =>
  judgeTexts(rule, [values({ 'Maximum engine speed': `${rpm} rpm`, 'Launch count': 0 })], vehicle);
const counters = (rows: Record<string, number>, vehicle = CAR) =>
  judgeTexts(rule, [values({ ...rows, Odometer: '42000 km' })], vehicle);

describe('a stored highest engine speed', () => {
  // Limits +4 % = 7280 and +10 % = 7700 rpm; the bound takes 1.645 x 15.0 rpm = 24.7 rpm off; one step less than seen.
  it.each([
    [6900, 'unproven', undefined],
    [7280, 'unproven', undefined],
    [7304, 'unproven', undefined],
    [7306, 'finding', 'watch'],
    [7724, 'finding', 'watch'],
    [7726, 'finding', 'repair'],
  ] as const)('%d rpm: %s', async (rpm, outcome, severity) =>
    expect(await peak(rpm)).toMatchObject({
      outcome,
      measures: { storedPeak: { value: rpm, unit: 'rpm' } },
      ...(severity === undefined ? { missing: { channels: ['engineSpeed'] } } : { severity }),
    }),
  );

  it('is nothing without a rev limit, and no engine speed far beyond it', async () => {
    expect(await peak(9000, car({}))).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['engineSpeed'] },
    });
    const filler = await peak(10500);
    expect(filler).toMatchObject({ outcome: 'unproven', measures: {} });
    expect('notes' in filler && filler.notes?.join()).toContain('no engine speed');
  });

  it("follows the user's limits", async () => {
    const limits = { [rule]: { watch: { value: 8, unit: '%' } } };
    expect(await peak(7500)).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(await peak(7500, car({ engine: { revLimit: 7000 }, limits }))).toMatchObject({ outcome: 'unproven' });
    expect(await peak(7600, car({ engine: { revLimit: 7000 }, limits }))).toMatchObject({
      outcome: 'finding',
      limits: expect.arrayContaining([expect.objectContaining({ name: 'watch', source: 'profile' })]),
    });
  });
});

describe('stored over-rev counters', () => {
  it('low ranges begin at the limiter: told, not judged', async () => {
    const result = await counters({ 'Over rev counter range 1': 812, 'Over rev counter range 3': 4 });
    expect(result).toMatchObject({
      outcome: 'unproven',
      measures: { 'storedCount.range1': { value: 812 }, 'storedCount.range3': { value: 4 } },
    });
    expect('notes' in result && result.notes?.[0]).toContain('812 in range 1 and 4 in range 3');
  });

  it('a high range that has counted is a watch, with or without a rev limit', async () => {
    const rows = { 'Over rev counter range 3': 9, 'Over rev counter range 4': 2, 'Over rev counter range 5': 0 };
    for (const vehicle of [CAR, car({})]) {
      const result = await counters(rows, vehicle);
      expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
      expect(result.summary).toContain('2 over-revs in range 4');
      expect(result.summary).not.toContain('range 5');
    }
    expect(await counters({ 'Over rev counter range 4': 0 })).toMatchObject({ outcome: 'unproven' });
  });

  it('full counters are left out, and one without a range is told only', async () => {
    expect(await counters({ 'Over rev counter range 6': 65535 })).toMatchObject({ outcome: 'unproven', measures: {} });
    expect(await counters({ 'Over rev count': 7 })).toMatchObject({
      outcome: 'unproven',
      measures: { storedCount: { value: 7 } },
    });
  });
});

describe('a drive beside the stored values', () => {
  const log = (rpm: number): string => {
    const lines = ['time (s),engine speed (rpm),vehicle speed (km/h),pedal position (%)'];
    for (let k = 0; k < 2400; k++) {
      const t = k / 20;
      const over = t >= 60 && t < 61;
      lines.push(
        `${t.toFixed(2)},${over ? rpm : 3000 + (k % 7)},${t < 5 ? 0 : 90 + (k % 5) / 10},${t < 58 ? (t < 5 ? 0 : 40) : 0}`,
      );
    }
    return `${lines.join('\n')}\n`;
  };
  const both = (rpm: number, stored: number) =>
    judgeTexts(rule, [log(rpm), values({ 'Maximum engine speed': `${stored} rpm`, 'Launch count': 0 })], CAR);

  it('the worse of the two leads, and the drive stands', async () => {
    expect(await both(3000, 6900)).toMatchObject({ outcome: 'clear', measures: { storedPeak: { value: 6900 } } });
    expect(await both(3000, 7800)).toMatchObject({ outcome: 'finding', severity: 'repair' });
    const seen = await both(7850, 7850);
    expect(seen).toMatchObject({ outcome: 'finding', severity: 'stop', measures: { storedPeak: { value: 7850 } } });
    expect(seen.summary).toMatch(/^The engine turned/);
  });
});
