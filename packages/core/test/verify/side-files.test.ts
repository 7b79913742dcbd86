import { describe, expect, it } from 'vitest';
import { targetAt } from '../../src/verify/apply-targets.js';
import { readLimits } from '../../src/verify/limits-file.js';
import { readTargets } from '../../src/verify/targets-file.js';

const faults = (read: ReturnType<typeof readLimits> | ReturnType<typeof readTargets>): string[] =>
  read.ok ? [] : read.faults.map(({ message }) => message);

describe('limits file', () => {
  const yaml = (body: string) => readLimits(`schema: telltale/limits@1\n${body}`, 'own.yaml');

  it('is read in any unit, as YAML or CSV', () => {
    const a = yaml('limits: { boost.overshoot: 0.2 bar, injector.duty: 90 %, coolant.highest: null }');
    expect(a.ok && [...a.value.limits]).toEqual([
      ['boost.overshoot', 20],
      ['injector.duty', 90],
      ['coolant.highest', null],
    ]);
    const b = readLimits('limit,value,unit\nboost.overshoot,0.2,bar\ncoolant.highest,,\n', 'own.csv');
    expect(b.ok && [...b.value.limits]).toEqual([
      ['boost.overshoot', 20],
      ['coolant.highest', null],
    ]);
  });

  it('says what is wrong, and where', () => {
    expect(faults(yaml('limits: { knock.wurst: 3 deg }'))[0]).toMatch(
      /^own.yaml:2:\d+: knock.wurst: found knock.wurst, expected a measure/,
    );
    expect(faults(yaml('limits: { knock.worst: 3 kPa }'))[0]).toMatch(/expected a quantity convertible to deg/);
    expect(faults(yaml('limits: { power.mean: 300 kW }'))[0]).toMatch(/cannot be limited/);
    expect(faults(yaml('primary: [knock.worst, a, b, c, d, e]'))[0]).toMatch(/primary/);
    expect(faults(yaml('primary: [nothing]'))[0]).toMatch(/expected a measure/);
    expect(faults(readLimits('limit,value,unit\nx,3,deg\n', 'own.csv'))[0]).toMatch(/^own.csv:2:1: x/);
    expect(faults(readLimits('schema: telltale/vehicle@1', 'own.yaml'))[0]).toMatch(/--vehicle/);
  });
});

describe('targets file', () => {
  const yaml = (body: string) => readTargets(`schema: telltale/targets@1\n${body}`, 'map.yaml');

  it('is a number, a curve over engine speed, or a table over a load as well', () => {
    const read = yaml(
      'targets:\n  lambdaTarget: { values: 0.85 }\n  boostPressureTarget: { unit: bar, engineSpeed: [2000, 4000], values: [1.5, 2.5] }\n  ignitionAdvanceTarget: { engineSpeed: [2000, 4000], load: { channel: manifoldPressure, points: [100, 200] }, values: [[20, 24], [8, 12]] }\n',
    );
    if (!read.ok) throw new Error(faults(read)[0]);
    const of = (id: 'lambdaTarget' | 'boostPressureTarget' | 'ignitionAdvanceTarget') => read.value.targets.get(id)!;
    expect(targetAt(of('lambdaTarget'), 3000, Number.NaN)).toBe(0.85);
    expect(targetAt(of('boostPressureTarget'), 3000, Number.NaN)).toBeCloseTo(200, 9);
    expect(targetAt(of('boostPressureTarget'), 9000, Number.NaN)).toBeCloseTo(250, 9);
    expect(targetAt(of('ignitionAdvanceTarget'), 3000, 150)).toBeCloseTo(16, 9);
    expect(targetAt(of('ignitionAdvanceTarget'), 3000, Number.NaN)).toBeNaN();
    const csv = readTargets(
      'target,engineSpeed,value,unit\nlambdaTarget,2000,0.9,\nlambdaTarget,4000,0.8,\n',
      'map.csv',
    );
    expect(csv.ok && targetAt(csv.value.targets.get('lambdaTarget')!, 3000, Number.NaN)).toBeCloseTo(0.85, 9);
  });

  it('says what is wrong', () => {
    expect(faults(yaml('targets: { lambdaTarget: { engineSpeed: [1000, 2000], values: [1] } }'))[0]).toMatch(
      /expected 2/,
    );
    expect(faults(yaml('targets: { lambdaTarget: { engineSpeed: [2000, 1000], values: [1, 1] } }'))[0]).toMatch(
      /rising/,
    );
    expect(faults(yaml('targets: { boostPressureTarget: { unit: degC, values: 2 } }'))[0]).toMatch(
      /convertible to kPa/,
    );
    expect(faults(yaml('targets: { engineSpeed: { values: 2 } }')).length).toBeGreaterThan(0);
    expect(faults(yaml('tables: { load: { channel: nothing, points: [1, 2] } }'))[0]).toMatch(/catalogue/);
    expect(faults(readTargets('target,engineSpeed,value\nx,1,2\n', 'map.csv'))[0]).toMatch(/^map.csv:2:1/);
  });
});
