import { quantile } from '../math/quantile.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { runningOrAll } from './warm.js';

export interface ThrottleFull {
  /** % as the sensor shows it, held over empty cells. */
  readonly values: Float64Array;
  /** Own reading of a throttle that is open: 95th percentile at full pedal. Many read 75 to 90 % there. */
  readonly level: number;
  readonly source: string;
  /** Fresh samples behind `level`. */
  readonly samples: number;
}

/** % of the pedal's travel that is the floor. */
export const FLOOR = 95;
const FEWEST = 10;

export const THROTTLE_FULL = recipe<ThrottleFull>({
  id: 'throttleFull',
  about: 'What the throttle of this car reads when it is open: 95th percentile at relative pedal >= 95 %.',
  compute(drive) {
    const channel = throttleOf(drive);
    if (channel === undefined)
      return refuse('no full-load throttle, because throttlePosition is absent', { channels: ['throttlePosition'] });
    const pedal = drive.derive(PEDAL_RELATIVE);
    if (isRefusal(pedal)) return refuse(`no full-load throttle: ${pedal.reason}`, pedal.missing);
    const samples = samplesOf(drive);
    const values = samples.held(channel)!;
    const running = runningOrAll(drive);
    const open: number[] = [];
    const fresh = samples.fresh(channel);
    for (let k = 0; k < fresh.length; k++) {
      const i = fresh[k]!;
      if (running[i] === 1 && pedal.values[i]! >= FLOOR) open.push(values[i]!);
    }
    if (open.length < FEWEST)
      return refuse(`no full-load throttle: only ${open.length} samples with the pedal on the floor`, {
        conditions: ['accelerator pressed to the floor for >= 2 s'],
      });
    return { values, level: quantile(open, 0.95), source: channel, samples: open.length };
  },
});

function throttleOf(drive: Drive): string | undefined {
  for (const base of ['throttlePosition', 'throttlePositionRelative', 'throttleAngle']) {
    const found = drive.family(base).find(({ quality }) => quality.samples > 0 && !quality.constant);
    if (found !== undefined) return found.id;
  }
  return undefined;
}
