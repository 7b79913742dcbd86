import { describe, expect, it } from 'vitest';
import { car } from '../helpers.js';
import { judgeTexts, values } from '../read-outs.js';

const OIL = { rule: 'engine.oil-temperature', name: 'Maximum engine oil temperature', needs: 'engineOilTemperature' };
const COOLANT = { rule: 'engine.cooling', name: 'Maximum coolant temperature', needs: 'coolantTemperature' };
type Kind = typeof OIL;

const read = (name: string, peak: number) => values({ [name]: `${peak} degC`, 'Launch count': 0 });
const stored = ({ rule, name }: Kind, peak: number) => judgeTexts(rule, [read(name, peak)]);

/** Twelve minutes at 90 degC and 50 km/h, with a plateau of 60 s. */
function log(column: string, plateau: number): string {
  const lines = [`time (s),${column} (degC),engine speed (rpm),vehicle speed (km/h)`];
  for (let k = 0; k < 1440; k++) {
    const t = k / 2;
    const share = Math.max(0, Math.min(1, (t - 300) / 120, (620 - t) / 120));
    const temperature = 90 + (k % 40 < 20 ? 0 : 0.5) + (plateau - 90) * share;
    lines.push(`${t.toFixed(1)},${temperature.toFixed(1)},${2000 + (k % 9)},${50 + (k % 7) / 10}`);
  }
  return `${lines.join('\n')}\n`;
}

describe('a stored peak alone counts one step less than a seen one', () => {
  // The bound takes 1.645 x 1.19 K = 1.96 K off.
  it.each([
    [OIL, 129, 'unproven'],
    [OIL, 130, 'unproven'],
    [OIL, 131, 'unproven'],
    [OIL, 132, 'watch'],
    [OIL, 142, 'watch'],
    [OIL, 151, 'watch'],
    [OIL, 152, 'repair'],
    // Heat soak: the watch limit of the coolant, 112 for half a minute, does not count for a peak.
    [COOLANT, 115, 'unproven'],
    [COOLANT, 117, 'unproven'],
    [COOLANT, 118, 'unproven'],
    [COOLANT, 119, 'watch'],
    [COOLANT, 123, 'watch'],
    [COOLANT, 124, 'repair'],
  ] as const)('$rule at %d °C: %s', async (kind, peak, expected) => {
    const result = await stored(kind, peak);
    expect(result).toMatchObject({ measures: { storedPeak: { value: peak, unit: 'degC' } } });
    if (expected === 'unproven')
      expect(result).toMatchObject({ outcome: 'unproven', missing: { channels: [kind.needs] } });
    else expect(result).toMatchObject({ outcome: 'finding', severity: expected });
  });
});

describe.each([OIL, COOLANT])('$rule', (kind) => {
  it('leaves the ends of the range out', async () => {
    for (const end of [215, -40]) {
      const result = await stored(kind, end);
      expect(result).toMatchObject({ outcome: 'unproven' });
      expect('measures' in result && result.measures?.storedPeak).toBeUndefined();
    }
  });

  it('says nothing of a read-out without the value', async () => {
    expect(await judgeTexts(kind.rule, [values({ 'Launch count': 3, Odometer: '42000 km' })])).toMatchObject({
      outcome: 'unproven',
      missing: { channels: [kind.needs] },
    });
  });

  it('a highest of several read-outs counts, by the limits of the user', async () => {
    const two = [read(kind.name, 100), read(kind.name, 126), read(kind.name, 101)];
    const limits = { [kind.rule]: { repair: { value: 160, unit: 'degC' }, watch: { value: 160, unit: 'degC' } } };
    expect(await judgeTexts(kind.rule, two)).toMatchObject({ measures: { storedPeak: { value: 126 } } });
    const own = { [kind.rule]: { ...limits[kind.rule], stop: { value: 120, unit: 'degC' } } };
    expect(await judgeTexts(kind.rule, two, car({ limits: own }))).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      limits: expect.arrayContaining([expect.objectContaining({ name: 'stop', source: 'profile' })]),
    });
  });
});

describe('a drive beside a stored peak', () => {
  const drive = (kind: Kind, column: string, seen: number, peak: number) =>
    judgeTexts(kind.rule, [log(column, seen), read(kind.name, peak)]);

  it.each([
    [OIL, 'engine oil temperature', 100, 120, 'clear'],
    [OIL, 'engine oil temperature', 100, 155, 'repair'],
    [OIL, 'engine oil temperature', 134, 155, 'repair'],
    [OIL, 'engine oil temperature', 155, 155, 'stop'],
    [COOLANT, 'coolant temperature', 95, 104, 'clear'],
    [COOLANT, 'coolant temperature', 95, 120, 'watch'],
    [COOLANT, 'coolant temperature', 125, 126, 'stop'],
  ] as const)('$rule, %s at %d °C with %d °C stored: %s', async (kind, column, seen, peak, expected) => {
    const result = await drive(kind, column, seen, peak);
    expect(result).toMatchObject({ measures: { storedPeak: { value: peak } } });
    expect(result.outcome === 'finding' ? result.severity : result.outcome).toBe(expected);
  });

  it('what was seen is told where the stored peak leads, and the other way round', async () => {
    const older = await drive(OIL, 'engine oil temperature', 134, 155);
    expect('notes' in older && older.notes?.join()).toContain('Seen in the recordings: Engine oil reached 134');
    const seen = await drive(OIL, 'engine oil temperature', 155, 155);
    expect(seen.summary).toMatch(/^Engine oil reached 155/);
    expect('notes' in seen && seen.notes?.join()).toContain('has stored a highest oil temperature of 155');
  });
});
