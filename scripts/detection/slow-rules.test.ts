import { describe, expect, it } from 'vitest';
import { openDrive } from '../../packages/core/src/engine/drive.js';
import { inTenths } from '../../packages/core/src/engine/in-tenths.js';
import { judge, observe, openNotebooks } from '../../packages/core/src/engine/judge.js';
import { readTable } from '../../packages/core/src/ingest/index.js';
import { buildRecording } from '../../packages/core/src/recording/build.js';
import type { Recording } from '../../packages/core/src/recording/recording.js';
import { RULES } from '../../packages/core/src/rules/index.js';
import { readProfile } from '../../packages/core/src/vehicle/profile.js';
import type { Vehicle } from '../../packages/core/src/vehicle/vehicle.js';
import { type DriveWish, drawDrive, FAULTS, record, simulate, toCsv } from '../simulate/index.js';

// Rules marked `slow` see the last value of each tenth of a second of a long recording. Here drives of 50 and 100 Hz are
// judged both ways, whatever their length: what a rule says must not depend on it.
const slow = RULES.filter((rule) => rule.slow === true);

interface Drive {
  readonly recording: Recording;
  readonly vehicle: Vehicle;
}

async function drive(wish: DriveWish): Promise<Drive> {
  const drawn = drawDrive(wish);
  const { bytes } = toCsv(record(simulate(drawn.spec), drawn.record), drawn.dialect);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('the profile is broken');
  const read = await readTable(bytes, { name: 'drive.csv' });
  if (!read.ok) throw new Error(read.fault.message);
  const built = buildRecording(read.table, {});
  if (!built.ok) throw new Error(built.fault.message);
  return { recording: built.recording, vehicle: profile.value };
}

function saysTheSame(rule: string, { recording, vehicle }: Drive): void {
  const judged = (seen: Recording) => {
    const notebooks = openNotebooks(RULES.filter(({ id }) => id === rule));
    observe(notebooks, openDrive(seen, vehicle, 0));
    return judge(notebooks, vehicle)[0]!;
  };
  const thinned = inTenths(recording, 0);
  expect(thinned.rows).toBeLessThan(0.3 * recording.rows);
  const whole = judged(recording);
  const tenths = judged(thinned);
  expect(tenths.outcome, tenths.summary).toBe(whole.outcome);
  if (whole.outcome !== 'finding' || tenths.outcome !== 'finding') return;
  expect(tenths.severity).toBe(whole.severity);
  expect(Math.abs(tenths.confidence - whole.confidence)).toBeLessThan(0.1);
}

describe('slow rules on thinned drives', () => {
  it.each(slow.map(({ id }, k) => [id, k] as const))('%s says the same of a faulty drive', async (rule, k) => {
    const { levels } = FAULTS.find((family) => family.rule === rule)!;
    const faults = [{ rule, level: levels[levels.length - 1]!, dial: 0.6 }];
    saysTheSame(rule, await drive({ seed: 880 + k, rate: k % 2 === 0 ? 50 : 100, plain: true, faults }));
  });

  it.each([50, 100])('all say the same of a healthy drive at %i Hz', async (rate) => {
    expect(slow.length).toBeGreaterThan(8);
    const healthy = await drive({ seed: 980 + rate, rate, plain: true });
    for (const { id } of slow) saysTheSame(id, healthy);
  });
});
