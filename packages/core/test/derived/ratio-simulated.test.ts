import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { drawDrive, record, rollingRadius, simulate, toCsv } from '../../../../scripts/simulate/index.js';
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
