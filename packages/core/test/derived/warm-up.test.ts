import { describe, expect, it } from 'vitest';
import { drawDrive, record, type Simulation, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { isRefusal, type Refusal } from '../../src/derived/recipe.js';
import { WARM_UPS, type WarmUp } from '../../src/derived/warm-up.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { readProfile } from '../../src/vehicle/profile.js';
import { clock, driveOf } from '../rules/helpers.js';

function told(found: WarmUp | Refusal): WarmUp {
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('a balance that is known by hand', () => {
  /** Oil that follows the coolant in 90 s with 0.02 K/s of its own; coolant by 2 g/s of air at 0.03 K/g, losing in 2000 s. */
  function drive(quantum: number, tau = 90) {
    const coolant: number[] = [10];
    const oil: number[] = [10];
    for (let i = 1; i <= 12_000; i++) {
      const c = coolant[i - 1]!;
      const o = oil[i - 1]!;
      coolant.push(Math.min(88, c + 0.1 * (0.03 * (4 + Math.sin(i / 200)) - (c - 10) / 2000)));
      oil.push(o + 0.1 * ((c - o) / tau + 0.02));
    }
    const at = (values: number[]) => (t: number) => Math.round(values[Math.round(t * 10)]! / quantum) * quantum;
    return driveOf(clock(1000, 2), {
      engineSpeed: (t) => (t < 1 ? 0 : 1500 + (Math.round(t) % 3)),
      airMassFlow: (t) => 4 + Math.sin(t / 20),
      ambientTemperature: { values: () => 10, quality: { quantum: 0.5 } },
      coolantTemperature: { values: at(coolant), quality: { rate: 1 } },
      engineOilTemperature: { values: at(oil), quality: { rate: 1 } },
    });
  }

  it.each([0.1, 1])('is found again within its own uncertainty, read in steps of %f K', (quantum) => {
    const found = drive(quantum).derive(WARM_UPS);
    if (isRefusal(found)) throw new Error(found.reason);
    const oil = told(found.oil);
    expect(Math.abs(oil.rate - 1 / 90)).toBeLessThan(1.96 * oil.rateU);
    expect(Math.abs(oil.tau / 90 - 1)).toBeLessThan(0.1);
    expect(oil.heat).toBeGreaterThan(0);
    const coolant = told(found.coolant);
    expect(Math.abs(coolant.heat / 0.03 - 1)).toBeLessThan(0.08);
    expect(Math.abs(coolant.rate - 1 / 2000)).toBeLessThan(1.96 * coolant.rateU + 1e-4);
    expect(coolant.residual).toBeLessThan(0.6 * Math.max(1, quantum));
  });

  it('tells a slower oil apart', () => {
    const [quick, slow] = [45, 240].map((tau) => {
      const found = drive(1, tau).derive(WARM_UPS);
      if (isRefusal(found)) throw new Error(found.reason);
      return told(found.oil);
    });
    expect(quick!.rate - slow!.rate).toBeGreaterThan(2 * Math.hypot(quick!.rateU, slow!.rateU));
  });
});

describe('on simulated cold starts', () => {
  async function driven(seed: number, car: string, open = 0) {
    const drawn = drawDrive({ seed, kind: 'inspection', car, plain: true, rate: 5 });
    const script = [
      { kind: 'coldStart', keyOn: 3, duration: 60 },
      { kind: 'town', duration: 240, limit: 50 },
      { kind: 'cruise', speed: 70, duration: 200 },
      { kind: 'town', duration: 200, limit: 60 },
      { kind: 'cruise', speed: 90, duration: 300 },
      { kind: 'cruise', speed: 110, duration: 500 },
    ] as const;
    const sim = simulate({
      ...drawn.spec,
      script: [...script],
      ambient: { temperature: 8 },
      disturb: (plant) => {
        plant.thermostatOpen = open;
      },
    });
    const channels = [
      'engineSpeed',
      'vehicleSpeed',
      'airMassFlow',
      'ambientTemperature',
      'coolantTemperature',
      'engineOilTemperature',
      'transmissionOilTemperature',
    ];
    const recorded = record(sim, { seed: 1, rate: 5, channels });
    const read = await readTable(toCsv(recorded, drawn.dialect).bytes, { name: 'drive.csv' });
    if (!read.ok) throw new Error(read.fault.message);
    const built = buildRecording(read.table);
    if (!built.ok) throw new Error(built.fault.message);
    const profile = readProfile(drawn.profile, 'profile');
    if (!profile.ok) throw new Error('profile');
    const found = openDrive(built.recording, profile.value, 0).derive(WARM_UPS);
    if (isRefusal(found)) throw new Error(found.reason);
    return { found, sim };
  }

  /** Heat capacity over exchange, as the simulator has them (its own balance, heat.ts), at the mean speed of the fit. */
  function trueOilTau(sim: Simulation, from: number, to: number): number {
    const { displacement, ratedPower } = sim.car.engine;
    const rpm = sim.signals.get('engineSpeed')!;
    const speed = sim.signals.get('vehicleSpeed')!;
    let sum = 0;
    let count = 0;
    for (let i = Math.round(from * sim.rate); i < to * sim.rate; i++) {
      const turning = (rpm[i]! * Math.PI) / 30;
      sum += 420 + ((260 * ratedPower) / 300) * Math.min(1, turning / 300) + 4 + (0.5 * speed[i]!) / 3.6;
      count++;
    }
    return (6000 * displacement + 6000) / (sum / count);
  }

  it.each([
    [71, 'demo-saloon'],
    [72, 'demo-hatch'],
    [73, 'demo-coupe'],
    [74, 'demo-estate'],
  ] as const)(
    'seed %i, %s: oil follows the coolant by capacity over exchange; the model passes the truth',
    async (seed, car) => {
      const { found, sim } = await driven(seed, car);
      const oil = told(found.oil);
      const truth = trueOilTau(sim, oil.from, oil.to);
      expect(Math.abs(oil.tau / truth - 1), `${oil.tau} against ${truth} s`).toBeLessThan(0.35);
      expect(Math.abs(oil.rate - 1 / truth)).toBeLessThan(1.96 * oil.rateU);
      for (const [model, id] of [
        [oil, 'engineOilTemperature'],
        [told(found.coolant), 'coolantTemperature'],
        [told(found.transmission), 'transmissionOilTemperature'],
      ] as const) {
        const signal = sim.signals.get(id)!;
        for (let t = 0; t + 2 < model.to - model.from; t += 20) {
          const real = signal[Math.round((model.from + t) * sim.rate)]!;
          expect(Math.abs(model.at(t) - real), `${id} at ${t} s`).toBeLessThan(6);
        }
        expect(model.residual).toBeLessThan(2.5);
      }
      // The fluid follows far behind the oil in these cars.
      expect(told(found.transmission).tau).toBeGreaterThan(2 * oil.tau);
    },
  );

  it('a thermostat that stands open loses its heat faster', async () => {
    const sound = told((await driven(71, 'demo-saloon')).found.coolant);
    const stuck = told((await driven(71, 'demo-saloon', 0.12)).found.coolant);
    expect(stuck.rate).toBeGreaterThan(2 * sound.rate);
    expect(stuck.rate - sound.rate).toBeGreaterThan(Math.hypot(stuck.rateU, sound.rateU));
  });
});

describe('what it takes', () => {
  const signals = {
    engineSpeed: (t: number) => 1500 + (t % 3),
    airMassFlow: () => 5,
    coolantTemperature: (t: number) => Math.min(90, 60 + t / 10),
    engineOilTemperature: (t: number) => Math.min(90, 20 + t / 10),
  };
  it('refuses with its reason: warm at the start, too short, not recorded', () => {
    const found = driveOf(clock(400, 1), signals).derive(WARM_UPS);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.coolant).toMatchObject({ refused: true, reason: expect.stringContaining('not cold at the start') });
    expect(isRefusal(found.oil)).toBe(false);
    expect(found.transmission).toMatchObject({ missing: { channels: ['transmissionOilTemperature'] } });
    const short = driveOf(clock(100, 1), signals).derive(WARM_UPS);
    expect(!isRefusal(short) && isRefusal(short.oil) && short.oil.reason).toContain('rose by 10 K in 100 s');
  });
});
