import { describe, expect, it } from 'vitest';
import { drawDrive, type Phase, PLAIN, record, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { AIR_TORQUE } from '../../src/derived/air-torque.js';
import { AMBIENT } from '../../src/derived/ambient.js';
import { BMEP } from '../../src/derived/bmep.js';
import { ENGINE_TORQUE } from '../../src/derived/engine-torque.js';
import { PULL_POWER } from '../../src/derived/pull-power.js';
import { type Drive, isRefusal, type Recipe } from '../../src/derived/recipe.js';
import { ROAD_TORQUE } from '../../src/derived/road-torque.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { readProfile } from '../../src/vehicle/profile.js';

/** A simulated inspection drive with every torque source, one of them scaled. */
async function driven(
  seed: number,
  car: string,
  {
    rate = 10,
    scaled = {} as Readonly<Record<string, number>>,
    without = [] as readonly string[],
    slow = {} as Readonly<Record<string, number>>,
    script = undefined as readonly Phase[] | undefined,
  } = {},
) {
  const drawn = drawDrive({ seed, kind: 'inspection', car, plain: true, rate });
  const sim = simulate(script === undefined ? drawn.spec : { ...drawn.spec, script });
  const ids = ['engineTorque', 'airMassFlow', 'pedalPosition', 'barometricPressure', 'ambientTemperature'];
  const idOf = (each: string | { readonly id: string }) => (typeof each === 'string' ? each : each.id);
  const others = drawn.record.channels.filter((each) => !ids.includes(idOf(each)));
  const channels = [...others, ...ids]
    .filter((each) => !without.includes(idOf(each)))
    .map((each) => {
      const refresh = slow[idOf(each)];
      return refresh === undefined ? each : { id: idOf(each), refresh };
    });
  const recorded = record(sim, { ...drawn.record, channels });
  for (const column of recorded.columns) {
    const factor = scaled[column.id];
    if (factor !== undefined) for (let i = 0; i < column.values.length; i++) column.values[i]! *= factor;
  }
  const read = await readTable(toCsv(recorded, PLAIN).bytes, { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('profile');
  return { drive: openDrive(built.recording, profile.value, 0), sim, profile: profile.value };
}

function told<T>(drive: Drive, recipe: Recipe<T>): T {
  const found = drive.derive(recipe);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

const CASES = [
  [61, 'demo-saloon', 10],
  [62, 'demo-hatch', 5],
  [63, 'demo-coupe', 20],
  [64, 'demo-estate', 10],
  [65, 'demo-mid-engine', 10],
  [66, 'demo-tourer', 10],
] as const;

describe('engine torque from three sides, on simulated drives', () => {
  it.each(CASES)(
    'seed %i, %s at %i Hz: estimates agree, power within a twentieth and inside its interval',
    async (seed, car, rate) => {
      const { drive, sim } = await driven(seed, car, { rate });
      const torque = told(drive, ENGINE_TORQUE);
      expect(Object.keys(torque.estimates).sort()).toEqual(['air', 'channel', 'road']);
      expect(torque.agreements.filter(({ differs }) => differs)).toEqual([]);
      expect(torque.u).toBeLessThan(0.06);
      const powers = told(drive, PULL_POWER);
      expect(powers.pulls.length).toBeGreaterThanOrEqual(2);
      const speed = sim.signals.get('engineSpeed')!;
      const crank = sim.signals.get('engineTorque')!;
      const hz = Math.round((speed.length - 1) / sim.truth.duration);
      for (const pull of powers.pulls) {
        let top = 0;
        const width = Math.round(0.4 * hz);
        for (let i = Math.round(pull.from * hz); i + width <= Math.round(pull.to * hz); i++) {
          let sum = 0;
          for (let j = i; j < i + width; j++) sum += (crank[j]! * speed[j]! * Math.PI) / 30_000;
          top = Math.max(top, sum / width);
        }
        if (!(top > 0)) continue;
        expect(Math.abs(pull.power / top - 1), `${pull.from} s`).toBeLessThan(0.05);
        expect(Math.abs(pull.power / top - 1)).toBeLessThan(1.96 * powers.u);
      }
    },
  );

  it.each([
    ['engineTorque', 1.15],
    ['engineTorque', 1 / 1.15],
    ['airMassFlow', 1.15],
    ['airMassFlow', 1 / 1.15],
  ] as const)('%s scaled by %f is seen, whatever the car', async (id, factor) => {
    for (const [seed, car] of [CASES[0], CASES[2], CASES[4]]) {
      const { drive } = await driven(seed, car, { scaled: { [id]: factor } });
      const { agreements, u } = told(drive, ENGINE_TORQUE);
      const pair = agreements.find(({ first, second }) => first === 'channel' && second === 'air');
      expect(pair?.differs).toBe(true);
      expect(u).toBeGreaterThan(0.035);
    }
  });

  it('reads an engine speed of one value a second as lines, or the quotient with the air would swing by a third', async () => {
    const { drive } = await driven(61, 'demo-saloon', { slow: { engineSpeed: 1 } });
    const { agreements } = told(drive, ENGINE_TORQUE);
    const pair = agreements.find(({ first, second }) => first === 'channel' && second === 'air')!;
    expect(Math.abs(Math.log(pair.ratio))).toBeLessThan(0.02);
    expect(pair.scatter).toBeLessThan(0.02);
    expect(pair.differs).toBe(false);
  });

  it('compares nothing below 8 bar: hours of idle and creeping tell friction, not torque', async () => {
    const { drive } = await driven(61, 'demo-saloon', {
      script: [
        { kind: 'idle', duration: 90 },
        { kind: 'town', duration: 90, limit: 30 },
      ],
    });
    const { agreements, values, estimates } = told(drive, ENGINE_TORQUE);
    expect(Object.keys(estimates)).toContain('air');
    expect(values.some((each) => each > 20)).toBe(true);
    const pairs = agreements.filter(({ first, second }) => first === 'channel' && second === 'air');
    expect(pairs).toEqual([]);
  });

  it('marks what could be compared in a cold engine only: thick oil and late ignition cost torque', async () => {
    const script: Phase[] = [
      { kind: 'coldStart', duration: 10 },
      { kind: 'rollingAcceleration', from: 30, to: 90, acceleration: 1.8, repeats: 3 },
    ];
    const cold = await driven(61, 'demo-saloon', { script });
    expect(cold.sim.signals.get('coolantTemperature')!.every((each) => each < 50)).toBe(true);
    const agreements = (drive: Drive) => told(drive, ENGINE_TORQUE).agreements.filter(({ second }) => second === 'air');
    expect(agreements(cold.drive)).toMatchObject([{ first: 'channel', cold: true }]);
    const warm = await driven(61, 'demo-saloon', { script: script.slice(1) });
    expect(agreements(warm.drive)).toMatchObject([{ first: 'channel', cold: false, differs: false }]);
  });

  it('does with what there is: air alone, road alone', async () => {
    const air = await driven(61, 'demo-saloon', { without: ['engineTorque'] });
    expect(told(air.drive, ENGINE_TORQUE).basis).toBe('air');
    const road = await driven(61, 'demo-saloon', { without: ['engineTorque', 'airMassFlow', 'manifoldPressure'] });
    const torque = told(road.drive, ENGINE_TORQUE);
    expect(torque.basis).toBe('road');
    expect(torque.factor).toBe(1);
  });

  it('mean effective pressure is 4 pi T / Vd of it (Heywood 1988 eq. 2.20)', async () => {
    const { drive, profile } = await driven(61, 'demo-saloon');
    const torque = told(drive, ENGINE_TORQUE);
    const bmep = told(drive, BMEP);
    const row = torque.values.findIndex((each) => each > 200);
    expect(bmep.values[row]).toBeCloseTo((4 * Math.PI * torque.values[row]!) / profile.engine.displacement! / 100, 9);
  });
});

describe('what is missing is named', () => {
  it('displacement, mass, channels', async () => {
    const { drive } = await driven(61, 'demo-saloon');
    const bare = openDrive(drive.recording, { ...drive.vehicle, engine: {}, body: {} }, 0);
    expect(bare.derive(AIR_TORQUE)).toMatchObject({
      refused: true,
      missing: { conditions: ['vehicle profile with engine.displacement'] },
    });
    expect(bare.derive(ROAD_TORQUE)).toMatchObject({
      refused: true,
      missing: { conditions: ['vehicle profile with body.mass'] },
    });
    expect(bare.derive(BMEP)).toMatchObject({ refused: true });
  });

  it('air around the car: from channels, else standard air with its doubt', async () => {
    const { drive, sim } = await driven(61, 'demo-saloon');
    const ambient = told(drive, AMBIENT);
    expect(ambient.pressureSource).toBe('barometricPressure');
    expect(ambient.density).toBeCloseTo((ambient.pressure * 1000) / (287.05287 * (ambient.temperature + 273.15)), 9);
    expect(Math.abs(ambient.temperature - sim.signals.get('ambientTemperature')![0]!)).toBeLessThan(2);
    const blind = await driven(61, 'demo-saloon', {
      without: ['barometricPressure', 'ambientTemperature', 'manifoldPressure', 'intakeAirTemperature'],
    });
    expect(told(blind.drive, AMBIENT).densityU).toBeGreaterThan(2 * ambient.densityU);
  });
});
