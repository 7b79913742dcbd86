import { GEAR, SHIFTS } from './gear-shifts.js';
import { maskOf } from './intervals.js';
import { LEARNED_RATIOS } from './ratio-clusters.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';

export interface HeldGear {
  /** Row by row: gear (or number of the learned ratio, 1 = lowest gear seen); NaN = neutral, reverse, shift, unknown. */
  readonly values: Float64Array;
  /** True when the numbers are those of the gearbox, false when they count the learned ratios. */
  readonly numbered: boolean;
  readonly source: 'gear' | 'ratio';
}

export const HELD_GEAR = recipe<HeldGear>({
  id: 'heldGear',
  about:
    'Forward gear that the gearbox holds, also while a clutch slips: the gear channel outside shifts, else the learned ratio, held over a stretch off every ratio when the same gear stands before and after it.',
  compute(drive) {
    const shifts = drive.derive(SHIFTS);
    const shifting = isRefusal(shifts) ? undefined : maskOf(shifts, drive.time.length);
    const gear = drive.derive(GEAR);
    if (!isRefusal(gear)) {
      const values = new Float64Array(gear.length);
      for (let i = 0; i < gear.length; i++) {
        const g = gear[i]!;
        values[i] = g >= 1 && g <= 12 && shifting?.[i] !== 1 ? g : Number.NaN;
      }
      return { values, numbered: true, source: 'gear' };
    }
    return fromRatios(drive, shifting);
  },
});

/** Longest stretch off every ratio that is taken for slip and no unseen shift, s. Common practice, no source. */
const LONGEST = 20;

function fromRatios(drive: Drive, shifting: Uint8Array | undefined): HeldGear | Refusal {
  const learned = drive.derive(LEARNED_RATIOS);
  if (isRefusal(learned))
    return refuse(`no gear: ${learned.reason}`, {
      channels: ['gear', ...learned.missing.channels],
      conditions: learned.missing.conditions,
    });
  const values = learned.gear.slice();
  let last = -1;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!)) continue;
    if (last >= 0 && i - last > 1 && values[last] === values[i] && drive.time[i]! - drive.time[last]! <= LONGEST)
      values.fill(values[i]!, last + 1, i);
    last = i;
  }
  if (shifting !== undefined) for (let i = 0; i < values.length; i++) if (shifting[i] === 1) values[i] = Number.NaN;
  const count = drive.vehicle.transmission.gears?.length;
  return { values, numbered: count !== undefined && count === learned.ratios.length, source: 'ratio' };
}
