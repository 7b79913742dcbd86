import { describe, expect, it } from 'vitest';
import { car } from '../helpers.js';
import { assessTexts, judgeTexts } from '../read-outs.js';

const rule = 'driveline.front-drive';
const CAR = car({ driveline: { driven: 'all' } });

/** Two minutes at 60 km/h with spins at 30 and 60 s; `failing` of them go on under 80 % command. */
function log(failing: number): string {
  const lines = [
    'time (s),coupling duty (%),wheel speed front left (km/h),wheel speed front right (km/h),wheel speed rear left (km/h),wheel speed rear right (km/h),brake switch,steering angle (deg)',
  ];
  for (let k = 0; k < 2400; k++) {
    const t = k / 20;
    const spin = [30, 60].findIndex((at) => t >= at && t < at + 2);
    const from = spin < 0 ? 0 : [30, 60][spin]!;
    const front = (spin < 0 ? 60 : 30) + 0.3 * Math.sin(3 * t);
    const left = spin < failing ? 12 : 2;
    const rear = front + (spin < 0 ? 0 : t < from + 0.6 ? 12 : left);
    const speeds = [front, front, rear, rear].map((x) => x.toFixed(2)).join(',');
    lines.push(`${t.toFixed(2)},${spin < 0 ? 12 : 80},${speeds},${t > 119 ? 1 : 0},${(3 * Math.sin(t)).toFixed(1)}`);
  }
  return `${lines.join('\n')}\n`;
}

const codes = (...rows: string[]): string => `code,status,module\n${rows.join('\n')}\n`;
const told = async (...texts: string[]): Promise<string | undefined> => {
  const result = await judgeTexts(rule, texts, CAR);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('a stored code of the coupling', () => {
  it('makes two failed spins a stop, named in the answer', async () => {
    expect(await told(log(2))).toBe('repair');
    const result = await judgeTexts(rule, [log(2), codes('U0114,stored,Engine')], CAR);
    expect(result).toMatchObject({ outcome: 'finding', severity: 'stop', measures: { codes: { value: 1 } } });
    expect(result.summary).toContain('The stored code agrees (U0114).');
  });

  it('counts from the control unit of the coupling itself, whatever the maker means by it', async () => {
    expect(await told(log(2), codes('C1234,stored,All-wheel drive'))).toBe('stop');
    expect(await told(log(2), codes('C1234,stored,Steering', 'C1235,stored,All-wheel steering'))).toBe('repair');
  });

  it('neither pending codes, nor voltage, nor complaints about others', async () => {
    expect(await told(log(2), codes('U0114,pending,Engine'))).toBe('repair');
    expect(await told(log(2), codes('P0562,stored,All-wheel drive', 'U0100,stored,All-wheel drive'))).toBe('repair');
    expect(await told(log(2), codes('P0300,stored,Engine'))).toBe('repair');
  });

  it('is no finding of this rule without failed spins', async () => {
    const code = codes('U0114,stored,Engine');
    expect(await told(log(0), code)).toBe('clear');
    expect(await told(log(1), code)).toBe('unproven');
    expect(await judgeTexts(rule, [code], CAR)).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['couplingDuty', 'wheelSpeed'] },
    });
    expect(await told(codes('P0300,stored,Engine'))).toBe('unproven');
  });

  it('is still confirmed by the drive among the codes', async () => {
    const { results } = await assessTexts([rule, 'codes.stored'], [log(2), codes('U0114,stored,Engine')], CAR);
    expect(results.find((each) => each.rule === 'codes.stored')).toMatchObject({
      measures: { confirmed: { value: 1 } },
    });
    expect(results.find((each) => each.rule === rule)).toMatchObject({ severity: 'stop' });
  });

  it('counts as often as the user says', async () => {
    const limits = { [rule]: { stop: { value: 2, unit: '1' } } };
    const own = car({ driveline: { driven: 'all' }, limits });
    const one = await judgeTexts(rule, [log(2), codes('U0114,stored,Engine')], own);
    const two = await judgeTexts(rule, [log(2), codes('U0114,stored,Engine', 'U0102,stored,Engine')], own);
    expect([one, two]).toMatchObject([{ severity: 'repair' }, { severity: 'stop' }]);
  });
});
