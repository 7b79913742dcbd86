import { GEAR } from './gear-shifts.js';
import { LEARNED_RATIOS } from './ratio-clusters.js';
import { type Matching, matchRatios, scaleOf } from './ratio-matching.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';

export interface GearKnowledge {
  /** Forward gear row by row, 1..n by the gearbox's own count; 0 neutral, -1 reverse only from the gear channel; NaN unknown. */
  readonly gear: Float64Array;
  /** Number of forward gears: profile, else NaN. */
  readonly count: number;
  /** `gear` channel, or learned ratios matched to the profile. */
  readonly source: 'gear' | 'ratio';
}

/** Learned ratios matched to the gears of the profile. */
export const RATIO_MATCHING = recipe<Matching>({
  id: 'ratioMatching',
  about: 'Learned ratios matched to the gears of the profile; overall scale kept apart from the steps.',
  compute(drive) {
    const learned = drive.derive(LEARNED_RATIOS);
    if (isRefusal(learned)) return learned;
    const { gears } = drive.vehicle.transmission;
    if (gears === undefined) {
      return refuse('no gears to compare with, because the profile names none', {
        conditions: ['vehicle profile with transmission.gears'],
      });
    }
    return matchRatios(learned.ratios, gears, scaleOf(drive.vehicle));
  },
});

export const GEAR_KNOWLEDGE = recipe<GearKnowledge>({
  id: 'gearKnowledge',
  about: 'Gear row by row from the gear channel, else from learned ratios matched to the profile.',
  compute(drive) {
    const logged = drive.derive(GEAR);
    const count = drive.vehicle.transmission.gears?.length ?? Number.NaN;
    // Learning ratios takes long: only where nothing else tells the gear.
    if (!isRefusal(logged)) return { gear: logged, count, source: 'gear' };
    const learned = numberedGear(drive);
    if (learned === undefined) {
      return refuse(
        'gears cannot be numbered: no gear channel, and no learned ratios with a profile that names the gears',
        {
          channels: ['gear'],
        },
      );
    }
    return { gear: learned, count, source: 'ratio' };
  },
});

/** How far gear channel and learned ratio agree. */
export const GEAR_AGREEMENT = recipe<number>({
  id: 'gearAgreement',
  about: 'Share of settled rows in which gear channel and learned ratio name the same gear; NaN when one is missing.',
  compute(drive) {
    const logged = drive.derive(GEAR);
    const learned = numberedGear(drive);
    return isRefusal(logged) || learned === undefined ? Number.NaN : agreementOf(logged, learned);
  },
});

function numberedGear(drive: Drive): Float64Array | undefined {
  const learned = drive.derive(LEARNED_RATIOS);
  const matching = drive.derive(RATIO_MATCHING);
  if (isRefusal(learned)) return undefined;
  const numbers = new Float64Array(learned.ratios.length + 1).fill(Number.NaN);
  if (isRefusal(matching)) {
    learned.ratios.forEach(({ number }, k) => {
      numbers[k + 1] = number;
    });
    if (numbers.every(Number.isNaN)) return undefined;
  } else for (const { index, gear } of matching.matches) numbers[index + 1] = gear;
  return learned.gear.map((g) => (g >= 1 ? numbers[g]! : Number.NaN));
}

function agreementOf(logged: Float64Array, learned: Float64Array): number {
  let same = 0;
  let total = 0;
  for (let i = 0; i < logged.length; i++) {
    if (!(logged[i]! >= 1 && learned[i]! >= 1)) continue;
    total++;
    if (logged[i] === learned[i]) same++;
  }
  return total >= 10 ? same / total : Number.NaN;
}
