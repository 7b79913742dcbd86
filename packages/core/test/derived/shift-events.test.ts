import { describe, expect, it } from 'vitest';
import { drawDrive, fullSet, PLAIN, record, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { SHIFT_EVENTS } from '../../src/derived/shift-events.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { readProfile } from '../../src/vehicle/profile.js';

/** Shifts of a simulated drive logged at `rate`, beside the simulated truth. */
async function shiftsOf(seed: number, car: string, rate: number, without: readonly string[]) {
  const drawn = drawDrive({ seed, kind: 'inspection', car, plain: true, rate });
  const sim = simulate({ ...drawn.spec, signalRate: 100 });
  const channels = fullSet(sim.car).filter(({ id }) => !without.includes(id.split('.')[0]!));
  const { bytes } = toCsv(record(sim, { seed, rate, channels, disturbances: [], jitter: 0, lostRows: 0 }), PLAIN);
  const read = await readTable(bytes, { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table);
  if (!built.ok) throw new Error(built.fault.message);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('profile');
  const found = openDrive(built.recording, profile.value, 0).derive(SHIFT_EVENTS);
  if (isRefusal(found)) throw new Error(found.reason);
  const pairs = found.events.flatMap((event) => {
    const truth = sim.truth.shifts.find(
      (shift) =>
        shift.t10 > event.from - 0.5 &&
        shift.t90 < event.to + 0.5 &&
        shift.gearAfter === event.gearAfter &&
        shift.gearBefore === event.gearBefore,
    );
    return truth === undefined ? [] : [{ event, truth }];
  });
  return { found, pairs, sim };
}

describe('shift events against simulated shifts', () => {
  it.each([
    ['demo-saloon', 50],
    ['demo-saloon', 20],
    ['demo-estate', 20],
    ['demo-hatch', 10],
  ])(
    '%s at %i Hz: 10 to 90 percent of the change within one sample interval and 10 ms for 95 in 100',
    async (car, rate) => {
      const { found, pairs, sim } = await shiftsOf(5, car, rate, []);
      const real = sim.truth.shifts.filter(({ t10, t90 }) => t90 > t10);
      expect(pairs.length).toBeGreaterThan(0.75 * real.length);
      const errors = pairs.map(({ event, truth }) => event.duration - (truth.t90 - truth.t10));
      const sorted = errors.map(Math.abs).sort((a, b) => a - b);
      expect(sorted[Math.floor(sorted.length * 0.95)]).toBeLessThan(1 / rate + 0.01);
      expect(found.numbered).toBe(true);
      for (const { event } of pairs) expect(event.kind).toBe(event.gearAfter > event.gearBefore ? 'up' : 'down');
      // A healthy gearbox does not let the engine run over by more than a few tens of revolutions.
      for (const { event } of pairs)
        if (event.power === 'on' && event.kind === 'up') expect(event.flare).toBeLessThan(100);
    },
    60000,
  );
});
