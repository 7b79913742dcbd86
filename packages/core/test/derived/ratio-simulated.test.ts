import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import {
  carById,
  drawDrive,
  PLAIN,
  record,
  rollingRadius,
  simulate,
  toCsv,
} from '../../../../scripts/simulate/index.js';
import { LEARNED_RATIOS, type LearnedRatios } from '../../src/derived/ratio-clusters.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';
import { hasData } from '../math/published.js';

async function learned(bytes: Uint8Array): Promise<LearnedRatios> {
  const read = await readTable(bytes, { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  const found = openDrive(built.recording, UNKNOWN_VEHICLE, 0).derive(LEARNED_RATIOS);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('gears of simulated drives against the gearbox that was simulated', () => {
  it.each([
    [1, 'hot day, dual clutch with creeping take-ups, seven gears'],
    [2, 'town, converter, six of eight gears driven'],
    [5, 'circuit, dual clutch with much tyre slip'],
    [7, 'town, converter without turbine speed, 5 Hz'],
    [8, 'short drive, manual gearbox'],
    [9, 'motorway, converter without turbine speed'],
  ])('seed %i: %s', async (seed) => {
    const drawn = drawDrive({ seed });
    const sim = simulate(drawn.spec);
    const { ratios } = await learned(toCsv(record(sim, drawn.record), drawn.dialect).bytes);
    const { gears, finalDrive } = sim.car.transmission;
    const { tyreFront, tyreRear } = sim.car.driveline;
    const circumference = Math.PI * (rollingRadius(tyreFront) + rollingRadius(tyreRear));
    const driven = new Set(sim.truth.shifts.map(({ gearAfter }) => gearAfter));
    expect(ratios).toHaveLength(driven.size);
    ratios.forEach(({ value, u, number }, g) => {
      const truth = (gears[g]! * finalDrive * 1000) / 60 / circumference;
      // Tyres that slip, and displays that read off by a percent, are part of the drive; so is first gear behind an open
      // converter, whose doubt is told.
      expect(Math.abs(value / truth - 1)).toBeLessThan(Math.max(0.025, (2 * u) / value));
      expect(Math.abs(value - truth)).toBeLessThan(4 * u + 0.015 * truth);
      if (!Number.isNaN(number)) expect(number).toBe(g + 1);
    });
  });
});

describe.skipIf(!hasData)('road trip at 1 Hz through the public door (JRC; skipped when absent)', () => {
  it('holds six gears near 23, 29, 37.5, 52, 76 and 140 rpm per km/h (SOURCE.md)', async () => {
    const path = '../../../../../shared/data/jrc-rde-sample/Sample_Data_Exchange_File.csv';
    const { ratios } = await learned(new Uint8Array(readFileSync(fileURLToPath(new URL(path, import.meta.url)))));
    expect(ratios).toHaveLength(6);
    [140, 76, 52, 37.5, 29, 23].forEach((near, g) => {
      expect(Math.abs(ratios[g]!.value / near - 1)).toBeLessThan(0.02);
    });
  });
});

/** Every gear of an invented gearbox held for some seconds, read as engine and road speed alone. */
async function driven(id: string, gears: readonly number[], seed: number, rate: number, quantum: number) {
  const base = carById(id);
  const { transmission } = base;
  const finalDrive = (transmission.finalDrive * transmission.gears.at(-1)!) / gears.at(-1)!;
  const car = { ...base, transmission: { ...transmission, gears, finalDrive } };
  const sim = simulate({
    seed,
    car,
    ambient: { temperature: 14, altitude: 300, wind: -2, hills: { height: 20, length: 1600 } },
    script: [
      { kind: 'hotIdle', duration: 10 },
      { kind: 'town', duration: 200, limit: 50 },
      { kind: 'gentleGears', to: 135, acceleration: 0.9 },
      { kind: 'motorway', speed: 125, duration: 60 },
      { kind: 'cruise', speed: 80, duration: 40 },
      { kind: 'rollingAcceleration', from: 50, to: 120, acceleration: 1.4, repeats: 3 },
      { kind: 'stop', stand: 3 },
    ],
  });
  const channels = [{ id: 'engineSpeed' }, { id: 'vehicleSpeed', quantum }, { id: 'pedalPosition' }];
  const { ratios } = await learned(toCsv(record(sim, { seed, channels, rate, jitter: 0.03 }), PLAIN).bytes);
  const { tyreFront, tyreRear } = car.driveline;
  const circumference = Math.PI * (rollingRadius(tyreFront) + rollingRadius(tyreRear));
  // Gears that the car moved in for some seconds with the converter closed: behind an open one no ratio shows.
  const [engaged, moving] = [sim.signals.get('gear')!, sim.signals.get('vehicleSpeed')!];
  const closed = sim.signals.get('converterClutchState');
  const seconds = new Float64Array(gears.length);
  for (let i = 0; i < engaged.length; i++)
    if (engaged[i]! >= 1 && moving[i]! > 6 && !((closed?.[i] ?? 2) < 2)) seconds[engaged[i]! - 1]! += 1 / sim.rate;
  const truth = gears.map((gear) => (gear * finalDrive * 1000) / 60 / circumference);
  return { ratios, truth, held: gears.flatMap((_, g) => (seconds[g]! >= 5 ? [g] : [])) };
}

const EIGHT = [4.7, 3.1, 2.1, 1.67, 1.29, 1, 0.84, 0.67];
const NINE = [4.7, 2.84, 1.91, 1.38, 1, 0.81, 0.7, 0.58, 0.48];

describe('gears by engine and road speed alone, the kind of transmission unknown', () => {
  it.each([
    ['demo-tourer', NINE, 702, 10, 0.01],
    ['demo-tourer', NINE, 712, 5, 1],
    ['demo-estate', [3.9, 2.5, 1.75, 1.3, 1.02, 0.82, 0.66], 703, 20, 1],
    ['demo-coupe', [2.8, 1.55, 1, 0.72], 713, 10, 0.01],
    ['demo-hatch', EIGHT, 701, 5, 1],
    ['demo-hatch', EIGHT, 714, 50, 0.01],
    ['demo-compact', [3.6, 2.1, 1.4, 1.03, 0.82], 715, 10, 1],
    ['demo-estate', [3.9, 2.5, 1.75, 1.3, 1.02, 0.82, 0.66], 9101, 1, 0.01],
  ])(
    '%s with gears %j, seed %i at %i Hz in steps of %f km/h: each gear that was driven once, no heap of an open converter',
    async (id, gears, seed, rate, quantum) => {
      const { ratios, truth, held } = await driven(id, gears, seed, rate, quantum);
      // A display reads off by a share, the same in every gear.
      const scale = ratios.at(-1)!.value / truth.at(-1)!;
      expect(Math.abs(scale - 1)).toBeLessThan(0.025);
      const found = ratios.map(({ value, u }) => {
        const off = truth.map((each) => value / (scale * each) - 1);
        const gear = off.findIndex((x) => Math.abs(x) === Math.min(...off.map(Math.abs)));
        expect(Math.abs(off[gear]!)).toBeLessThan(Math.max(0.012, (2 * u) / value));
        return gear;
      });
      expect(found).toHaveLength(new Set(found).size);
      expect(found).toEqual(expect.arrayContaining(held));
    },
  );
});
