import { describe, expect, it } from 'vitest';
import { drawDrive, PLAIN, record, simulate, toCsv } from '../../../../../scripts/simulate/index.js';
import { assess } from '../../../src/engine/assess.js';
import { judge, observe, openNotebooks } from '../../../src/engine/judge.js';
import { breathing } from '../../../src/rules/engine/breathing.js';
import { sensorAgreement } from '../../../src/rules/provenance/sensor-agreement.js';
import { readProfile } from '../../../src/vehicle/profile.js';
import { systemVerdicts, verdictOf } from '../../../src/verdict/verdict.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** kPa that the manifold sensor reads over the barometer, key on. */
  readonly offset?: number;
  /** Times the air that the filling tells. */
  readonly air?: number;
  readonly keyOn?: number;
  readonly rate?: number;
  readonly barometer?: (t: number) => number;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Ignition on, then steady driving at 2500 rpm with the manifold at 92 kPa. */
function drive(wish: Wish = {}) {
  const { offset = 0, air = 1, keyOn = 6, rate = 5 } = wish;
  const barometer = wish.barometer ?? (() => 100);
  const running = (t: number) => t >= keyOn;
  const flutter = (t: number) => 0.1 * (Math.round(t * rate) % 2);
  // Filling 0.92 of 2 L at 2500 rpm: p Vd n / (120 R T), by hand.
  const flow = (kPa: number) => (0.92 * kPa * 1000 * 2 * 2500) / (287.05 * 303.15 * 120);
  const signals: Record<string, Signal> = {
    engineSpeed: (t) => (running(t) ? 2500 + 10 * flutter(t) : 0),
    manifoldPressure: {
      values: (t) => (running(t) ? 92 : barometer(t) + offset) + flutter(t),
      quality: { rate, quantum: 0.1 },
    },
    barometricPressure: { values: barometer, quality: { quantum: 0.1 } },
    airMassFlow: (t) => (running(t) ? air * flow(92) + flutter(t) : 0),
    intakeAirTemperature: { values: () => 30, quality: { quantum: 1 } },
    ...wish.more,
  };
  for (const id of wish.without ?? []) delete signals[id];
  return driveOf(
    clock(60, rate),
    signals,
    car({ engine: { displacement: 2 }, ...(wish.limits === undefined ? {} : { limits: wish.limits }) }),
  );
}
const judged = (wish?: Wish) => runRule(sensorAgreement, drive(wish));
const contradictions = (wish?: Wish): unknown => {
  const result = judged(wish);
  return 'measures' in result ? result.measures?.contradictions?.value : undefined;
};

describe('limits', () => {
  // Guard: 1.645 times two tolerances of 1 kPa, rectangular.
  it.each([
    [0, 0],
    [3, 0],
    [4.2, 0],
    [4.5, 1],
    [-4.5, 1],
    [9, 1],
  ])('manifold %f kPa over the barometer with the engine at rest: %i contradictions', (offset, count) => {
    expect(contradictions({ offset })).toBe(count);
  });

  // Filling known to 9 %, charge to 10 K: 10 % shows as contradiction from about 26 % on.
  it.each([
    [1, 0],
    [1.12, 0],
    [1.24, 0],
    [1.34, 1],
    [0.9, 0],
    [0.72, 1],
  ])('%f times the air of the filling: %i contradictions', (air, count) => {
    expect(contradictions({ air })).toBe(count);
  });

  it('says which, by how much and against which limit', () => {
    const result = judged({ offset: 8 });
    expect(result.outcome).toBe('unproven');
    expect(result.summary).toMatch(/\+8 kPa ± 1\.\d against/);
    expect(result.summary).toContain('limit 3 kPa');
    expect(result.summary).toContain('No fault of the car');
    expect(judged().summary).toContain('2 pairs of sensors compared, none contradicts');
  });

  it('leaves open what lies beyond its limit, but not surely, and says how far it may be off', () => {
    const result = judged({ air: 1.2 });
    expect(result).toMatchObject({ outcome: 'unproven', measures: { contradictions: { value: 0 } } });
    expect(result.summary).toMatch(/not surely: air mass flow \+\d+(\.\d)? % ± \d+/);
    expect(judged({ air: 1.05 }).outcome).toBe('clear');
  });

  it('takes the limit of the profile', () => {
    const limits = { 'provenance.sensor-agreement': { keyOn: { value: 12, unit: 'kPa' } } };
    expect(judged({ offset: 9, limits })).toMatchObject({
      outcome: 'clear',
      limits: [{ name: 'keyOn', value: 12, source: 'profile' }, { name: 'air' }],
    });
  });
});

describe('what must not fool it', () => {
  it('a manifold that still fills up after the engine has stopped', () => {
    const filling = (t: number) => (t < 6 ? 100 : t < 40 ? 92 : t < 41.9 ? 60 : 100) + 0.1 * (Math.round(5 * t) % 2);
    const more: Record<string, Signal> = {
      engineSpeed: (t) => (t >= 6 && t < 40 ? 2500 : 0),
      manifoldPressure: { values: filling, quality: { rate: 5 } },
    };
    expect(contradictions({ more })).toBe(0);
  });

  it('a climb: pressures of one moment are compared', () => {
    const climb = (t: number) => (t < 6 ? 100 : t < 50 ? 92 : 84);
    const more: Record<string, Signal> = {
      engineSpeed: (t) => (t >= 6 && t < 52 ? 2500 : 0),
      manifoldPressure: {
        values: (t) => (t < 6 ? 100 : t < 52 ? 75 : 84) + 0.1 * (Math.round(5 * t) % 2),
        quality: { rate: 5 },
      },
    };
    expect(contradictions({ barometer: climb, more, without: ['airMassFlow'] })).toBe(0);
  });

  it('a slow barometer that speaks first after the start', () => {
    const late = (t: number) => (t < 8 ? Number.NaN : 100);
    expect(contradictions({ barometer: late, more: { manifoldPressure: (t) => (t < 6 ? 100 : 92) } })).toBe(0);
  });
});

describe('what it takes', () => {
  it('names what is missing', () => {
    expect(judged({ without: ['engineSpeed'] })).toMatchObject({ missing: { channels: ['engineSpeed'] } });
    expect(judged({ without: ['barometricPressure', 'airMassFlow'] })).toMatchObject({
      outcome: 'unproven',
      missing: { channels: ['barometricPressure'] },
    });
    const late = judged({ keyOn: 1, without: ['airMassFlow'] });
    expect(late).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('ignition on'), expect.anything()] },
    });
  });
});

describe('what a contradiction does to the rest', () => {
  /** Warm idle, the same manifold; `breathing` reads it. */
  const idling = (offset: number) =>
    driveOf(
      clock(120, 5),
      {
        engineSpeed: (t) => (t < 6 ? 0 : 800 + 5 * (Math.round(5 * t) % 2)),
        vehicleSpeed: () => 0,
        pedalPosition: () => 0,
        coolantTemperature: { values: () => 90, quality: { rate: 1 } },
        manifoldPressure: {
          values: (t) => (t < 6 ? 100 + offset : 32) + 0.1 * (Math.round(5 * t) % 2),
          quality: { rate: 5 },
        },
        barometricPressure: { values: () => 100, quality: { quantum: 0.1 } },
      },
      car(),
    );
  const both = (offset: number) => {
    const notebooks = openNotebooks([breathing, sensorAgreement]);
    observe(notebooks, idling(offset));
    return judge(notebooks, car());
  };

  it('lowers the confidence of results that read the sensor by a fifth, says so, and changes no outcome', () => {
    const [sound] = both(0);
    const [less, agreement] = both(8);
    if (sound?.outcome !== 'clear' || less?.outcome !== 'clear') throw new Error(`${sound?.summary} ${less?.summary}`);
    expect(agreement?.outcome).toBe('unproven');
    expect(less.confidence).toBeCloseTo(0.8 * sound.confidence, 6);
    expect(less.notes).toContainEqual(expect.stringContaining('provenance.sensor-agreement'));
    expect(less.summary).toBe(sound.summary);
  });

  it('is no finding: neither verdict nor system shows a fault', () => {
    const results = both(8);
    expect(verdictOf(results, [breathing, sensorAgreement]).level).toBe('unproven');
    expect(systemVerdicts(results, [breathing, sensorAgreement]).find(({ id }) => id === 'provenance')?.level).toBe(
      'unproven',
    );
    expect(results.every(({ outcome }) => outcome !== 'finding')).toBe(true);
  });
});

describe('on simulated drives, through the reader', () => {
  async function assessed(scaled: Readonly<Record<string, number>>) {
    const drawn = drawDrive({ seed: 61, kind: 'inspection', car: 'demo-saloon', plain: true, rate: 10 });
    const recorded = record(simulate(drawn.spec), {
      ...drawn.record,
      channels: [
        ...drawn.record.channels.filter(
          (each) =>
            !['engineTorque', 'airMassFlow', 'barometricPressure'].includes(typeof each === 'string' ? each : each.id),
        ),
        'engineTorque',
        'airMassFlow',
        'barometricPressure',
      ],
    });
    for (const column of recorded.columns) {
      const factor = scaled[column.id];
      if (factor !== undefined) for (let i = 0; i < column.values.length; i++) column.values[i]! *= factor;
    }
    const profile = readProfile(drawn.profile, 'profile');
    if (!profile.ok) throw new Error('profile');
    const files = [{ name: 'drive.csv', source: toCsv(recorded, PLAIN).bytes }];
    const { results } = await assess(files, {
      vehicle: profile.value,
      only: ['provenance.sensor-agreement', 'engine.power'],
    });
    return {
      agreement: results.find(({ rule }) => rule === sensorAgreement.id)!,
      power: results.find(({ rule }) => rule === 'engine.power')!,
    };
  }
  const count = (result: Awaited<ReturnType<typeof assessed>>['agreement']) =>
    'measures' in result ? result.measures?.contradictions?.value : undefined;

  it('a healthy car shows none', async () => {
    const { agreement } = await assessed({});
    expect(agreement.outcome, agreement.summary).toBe('clear');
  });

  it.each([1.15, 1 / 1.15])(
    'torque of the control unit scaled by %f is flagged, and never a finding',
    async (factor) => {
      const { agreement } = await assessed({ engineTorque: factor });
      expect(count(agreement), agreement.summary).toBe(1);
      expect(agreement.outcome).toBe('unproven');
      expect(agreement.summary).toMatch(/torque/i);
    },
  );
});
