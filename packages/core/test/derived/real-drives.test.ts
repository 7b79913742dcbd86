import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { ACCELERATION } from '../../src/derived/acceleration.js';
import { totalDuration } from '../../src/derived/intervals.js';
import { LOAD_FRACTION } from '../../src/derived/load-fraction.js';
import { PEDAL_RELATIVE } from '../../src/derived/pedal-relative.js';
import { PULL_AWAYS } from '../../src/derived/pull-aways.js';
import { type Drive, isRefusal, type Recipe } from '../../src/derived/recipe.js';
import { IDLE, PULLS, STANDSTILL } from '../../src/derived/segments.js';
import { TRIP } from '../../src/derived/trip.js';
import { WARM } from '../../src/derived/warm.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';
import { hasData } from '../math/published.js';

const NOTE = hasData ? '' : ' (skipped: ../shared/data is absent)';

async function open(name: string): Promise<Drive> {
  const path = fileURLToPath(new URL(`../../../../../shared/data/${name}`, import.meta.url));
  const read = await readTable(new Uint8Array(readFileSync(path)), { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  return openDrive(built.recording, UNKNOWN_VEHICLE, 0);
}

function derive<T>(drive: Drive, recipe: Recipe<T>): T {
  const found = drive.derive(recipe);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

// European Commission JRC, EU RDE data-exchange sample (1 Hz road trip); facts as measured in its SOURCE.md.
describe.skipIf(!hasData)(`one road trip at 1 Hz (JRC)${NOTE}`, () => {
  let drive: Drive;
  beforeAll(async () => {
    drive = await open('jrc-rde-sample/Sample_Data_Exchange_File.csv');
  });

  it('is 90.55 km by the control unit, at most 127.9 km/h', () => {
    const trip = derive(drive, TRIP);
    expect(Math.abs(trip.distance - 90.553)).toBeLessThan(0.002);
    expect(trip.maxSpeed).toBeCloseTo(127.9, 1);
  });

  it('starts cold: 60 degC at 346 s, 80 degC at 552 s, so warm (70) in between', () => {
    const { since } = derive(drive, WARM);
    expect(since).toBeGreaterThan(346);
    expect(since).toBeLessThan(552);
  });

  it('has no start that comes near a launch, and idles although no pedal is recorded', () => {
    const starts = derive(drive, PULL_AWAYS);
    expect(starts.length).toBeGreaterThan(10);
    for (const { meanAcceleration } of starts)
      expect(meanAcceleration.value + 1.645 * meanAcceleration.u).toBeLessThan(3.5);
    expect(totalDuration(derive(drive, IDLE))).toBeGreaterThan(60);
  });

  it('never accelerates or brakes beyond what the trip’s own second-to-second speeds show', () => {
    const { values } = derive(drive, ACCELERATION);
    const speed = drive.channel('vehicleSpeed')!.values;
    let steepest = 0;
    for (let i = 1; i < speed.length; i++) steepest = Math.max(steepest, Math.abs(speed[i]! - speed[i - 1]!) / 3.6);
    for (const a of values) if (!Number.isNaN(a)) expect(Math.abs(a)).toBeLessThanOrEqual(steepest + 1e-9);
  });
});

// One petrol car, pedal rest 16 %, never floored, values repeated for several rows (carOBD, cited in its SOURCE.md).
describe.skipIf(!hasData).each(['drive5', 'live20', 'live6', 'idle1'])(`carOBD %s${NOTE}`, (name) => {
  let drive: Drive;
  beforeAll(async () => {
    drive = await open(`carobd/${name}.csv`);
  });

  it('pedal rests at 16 % and its end was never seen, so pulls are refused, not denied', () => {
    const pedal = derive(drive, PEDAL_RELATIVE);
    expect(pedal.rest).toBeCloseTo(16.08, 1);
    expect(pedal.fullSeen).toBe(false);
    expect(isRefusal(drive.derive(PULLS))).toBe(true);
  });

  it('high load is never seen, although calculated load passes 70 % at low speed in the drives', () => {
    expect(derive(drive, LOAD_FRACTION).high.includes(1)).toBe(false);
  });

  it('idles at standstill, and is not launched', () => {
    const standing = totalDuration(derive(drive, STANDSTILL));
    const idle = totalDuration(derive(drive, IDLE));
    expect(idle).toBeGreaterThan(0.5 * standing);
    expect(idle).toBeLessThanOrEqual(standing);
    const starts = drive.derive(PULL_AWAYS);
    if (name === 'idle1') expect(isRefusal(starts)).toBe(true);
    else for (const { meanAcceleration } of derive(drive, PULL_AWAYS)) expect(meanAcceleration.value).toBeLessThan(3.5);
  });
});
