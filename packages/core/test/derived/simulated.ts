import {
  type DriveWish,
  drawDrive,
  record,
  type Simulation,
  simulate,
  toCsv,
} from '../../../../scripts/simulate/index.js';
import type { Drive } from '../../src/derived/recipe.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { readProfile } from '../../src/vehicle/profile.js';

/** A simulated drive, written and read back through the public door, with its profile and the truth. */
export async function simulatedDrive(wish: DriveWish): Promise<{ drive: Drive; sim: Simulation }> {
  const drawn = drawDrive(wish);
  const sim = simulate(drawn.spec);
  const read = await readTable(toCsv(record(sim, drawn.record), drawn.dialect).bytes, { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('profile');
  return { drive: openDrive(built.recording, profile.value, 0), sim };
}
