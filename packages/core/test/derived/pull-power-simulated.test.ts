import { describe, expect, it } from 'vitest';
import { CARS, drawDrive, type Phase, PLAIN, record, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { ENGINE_TORQUE } from '../../src/derived/engine-torque.js';
import { PULL_POWER } from '../../src/derived/pull-power.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { readProfile } from '../../src/vehicle/profile.js';

const DRIVES = 20;
/** Sources of torque that a recording holds, beside mass and drag of the profile: most have both, some only one. */
const LEFT_OUT: readonly (readonly string[])[] = [[], [], ['engineTorque'], ['airMassFlow']];

interface Judged {
  readonly seed: number;
  /** Measured over true power, less 1, pull by pull. */
  readonly errors: readonly number[];
  readonly u: number;
  /** Torque channel against air mass; undefined where one of them is absent. */
  readonly differs: boolean | undefined;
}

/** One short drive with two pulls. */
function driven(seed: number) {
  const car = CARS[seed % CARS.length]!;
  const drawn = drawDrive({ seed, kind: 'inspection', car: car.id, plain: true, rate: [5, 10, 20][seed % 3]! });
  const gear = car.transmission.gears.length > 6 ? 4 : 3;
  const pull: Phase = { kind: 'pull', gear, fromRpm: 2300, toRpm: car.engine.revLimit - 500 };
  const script: Phase[] = [
    { kind: 'idle', duration: 15 },
    { kind: 'gentleGears', to: 90 },
    { kind: 'rollingAcceleration', from: 65, to: 110, acceleration: 1.6, repeats: 2 },
    pull,
    { kind: 'cruise', speed: 80, duration: 25 },
    pull,
    { kind: 'cruise', speed: 80, duration: 15 },
  ];
  return { drawn, sim: simulate({ ...drawn.spec, script }) };
}

/** The drive written, read back, judged and set beside the truth. */
async function judged(
  seed: number,
  { drawn, sim }: ReturnType<typeof driven>,
  scaled: Readonly<Record<string, number>> = {},
): Promise<Judged> {
  const ids = ['engineTorque', 'airMassFlow', 'pedalPosition', 'barometricPressure', 'ambientTemperature'];
  const without = Object.keys(scaled).length > 0 ? [] : LEFT_OUT[seed % LEFT_OUT.length]!;
  const idOf = (each: string | { readonly id: string }) => (typeof each === 'string' ? each : each.id);
  const others = drawn.record.channels.filter((each) => !ids.includes(idOf(each)));
  const channels = [...others, ...ids].filter((each) => !without.includes(idOf(each)));
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
  const drive = openDrive(built.recording, profile.value, 0);
  const torque = drive.derive(ENGINE_TORQUE);
  const powers = drive.derive(PULL_POWER);
  if (isRefusal(torque)) throw new Error(`seed ${seed}: ${torque.reason}`);
  if (isRefusal(powers)) throw new Error(`seed ${seed}: ${powers.reason}`);
  const crank = sim.signals.get('engineTorque')!;
  const speed = sim.signals.get('engineSpeed')!;
  const hz = Math.round((speed.length - 1) / sim.truth.duration);
  const width = Math.round(0.4 * hz);
  const errors = powers.pulls.map(({ from, to, power }) => {
    let top = 0;
    for (let i = Math.round(from * hz); i + width <= Math.round(to * hz); i++) {
      let sum = 0;
      for (let j = i; j < i + width; j++) sum += (crank[j]! * speed[j]! * Math.PI) / 30_000;
      top = Math.max(top, sum / width);
    }
    return power / top - 1;
  });
  const pair = torque.agreements.find(({ first, second }) => first === 'channel' && second === 'air');
  return { seed, errors, u: powers.u, differs: pair?.differs };
}

describe(`power of simulated pulls, ${DRIVES} drives of all cars`, () => {
  const drives = Array.from({ length: DRIVES }, (_, k) => 9000 + 7 * k).map((seed) => ({ seed, made: driven(seed) }));

  it('lies within a twentieth of the truth, and its own 95 % interval holds it that often; no source is called wrong', async () => {
    const found: Judged[] = [];
    for (const { seed, made } of drives) found.push(await judged(seed, made));
    for (const { errors, seed } of found) expect(errors.length, `seed ${seed}`).toBeGreaterThanOrEqual(1);
    const pulls = found.flatMap(({ errors, u }) => errors.map((error) => ({ error, u })));
    expect(pulls.length).toBeGreaterThanOrEqual(2 * DRIVES - 6);
    const near = pulls.filter(({ error }) => Math.abs(error) < 0.05).length;
    const covered = pulls.filter(({ error, u }) => Math.abs(error) < 1.96 * u).length;
    expect(near / pulls.length).toBeGreaterThanOrEqual(0.95);
    expect(covered / pulls.length).toBeGreaterThanOrEqual(0.95);
    // An interval that holds everything because it is wide says nothing.
    expect(Math.max(...found.map(({ u }) => u))).toBeLessThan(0.08);
    expect(found.filter(({ differs }) => differs === true).map(({ seed }) => seed)).toEqual([]);
    expect(found.filter(({ differs }) => differs === false).length).toBeGreaterThanOrEqual(DRIVES / 3);
  }, 240_000);

  it('is told to be in doubt when torque or air mass is scaled by 15 %, in every case', async () => {
    const missed: string[] = [];
    let cases = 0;
    for (const { seed, made } of drives.filter((_, k) => k % 2 === 0)) {
      for (const [id, factor] of [
        ['engineTorque', 1.15],
        ['engineTorque', 1 / 1.15],
        ['airMassFlow', 1.15],
        ['airMassFlow', 1 / 1.15],
      ] as const) {
        cases++;
        const { differs } = await judged(seed, made, { [id]: factor });
        if (differs !== true) missed.push(`seed ${seed}: ${id} x ${factor.toFixed(2)}`);
      }
    }
    expect(cases).toBe(2 * DRIVES);
    expect(missed).toEqual([]);
  }, 240_000);
});
