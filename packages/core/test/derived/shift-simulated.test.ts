import { describe, expect, it } from 'vitest';
import { drawDrive, record, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { SHIFT_EVENTS } from '../../src/derived/shift-events.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { judgedShifts } from '../../src/rules/transmission/shift-quality-reading.js';
import { readProfile } from '../../src/vehicle/profile.js';

/** Errors of every judged shift that the simulator tells apart, at 20 Hz or faster. */
async function errorsOf(seed: number) {
  const faults = [{ rule: 'transmission.shift-quality', level: 'watch' as const, dial: (seed % 10) / 10 }];
  const drawn = drawDrive({ seed, faults });
  const sim = simulate(drawn.spec);
  const read = await readTable(toCsv(record(sim, drawn.record), drawn.dialect).bytes, { name: 'drive.csv' });
  const profile = readProfile(drawn.profile, 'profile');
  if (!read.ok || !profile.ok) throw new Error('the drive or its profile cannot be read');
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  const drive = openDrive(built.recording, profile.value, 0);
  const shifts = drive.derive(SHIFT_EVENTS);
  if (isRefusal(shifts)) throw new Error(shifts.reason);
  expect(shifts.hz).toBeGreaterThan(19);
  const start = (drawn.record.from ?? 0) - drive.time[0]!;
  return judgedShifts([{ input: 0, shifts }], profile.value).flatMap((seen) => {
    const same = sim.truth.shifts.filter(
      ({ gearBefore, gearAfter, t10, t90 }) =>
        gearBefore === seen.gearBefore &&
        gearAfter === seen.gearAfter &&
        t10 < seen.to + start + 0.3 &&
        t90 > seen.from + start - 0.3,
    );
    const [shift] = same;
    if (same.length !== 1 || shift === undefined || !(shift.t90 > shift.t10)) return [];
    return [
      {
        interval: 1 / shifts.hz,
        duration: seen.steady ? seen.duration - (shift.t90 - shift.t10) : Number.NaN,
        flare: seen.shows ? seen.flare - shift.flare : Number.NaN,
      },
    ];
  });
}

describe('shifts of simulated drives against the shifts that were simulated', () => {
  it('durations are right within a sample interval and 10 ms in 95 % of the shifts, flares within 60 rpm in 95 %', async () => {
    const all = (await Promise.all([101, 104, 106, 113].map(errorsOf))).flat();
    const durations = all.filter(({ duration }) => !Number.isNaN(duration));
    expect(durations.length).toBeGreaterThan(100);
    const good = durations.filter(({ duration, interval }) => Math.abs(duration) <= interval + 0.01);
    expect(good.length / durations.length).toBeGreaterThanOrEqual(0.95);
    const flares = all.filter(({ flare }) => !Number.isNaN(flare));
    expect(flares.filter(({ flare }) => Math.abs(flare) <= 60).length / flares.length).toBeGreaterThanOrEqual(0.95);
  }, 180_000);
});
