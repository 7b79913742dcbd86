import { GEAR_KNOWLEDGE } from './gear-knowledge.js';
import { SHIFTS } from './gear-shifts.js';
import { type Segment, segmentsOf, widened } from './intervals.js';
import { TRACTION_BLIND } from './knock-decoys.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { PULLS } from './segments.js';
import { TORQUE_INTERVENTIONS } from './torque-interventions.js';

/** Part of a pull in one gear, with nothing but the driver asking. */
export interface FullLoadPiece extends Segment {
  /** Number of the pull it belongs to, from 0: pieces of one pull are no independent witnesses. */
  readonly pull: number;
  /** Seconds at which that pull began. */
  readonly began: number;
  /** Forward gear, NaN when unknown. */
  readonly gear: number;
}

export interface FullLoad {
  readonly pieces: readonly FullLoadPiece[];
  /** Pulls that hold a piece. */
  readonly pulls: number;
  /** True when neither flags nor wheel speeds would show the traction control at work. */
  readonly blind: boolean;
}

/** Seconds before and after a shift (itself widened already), and after traction control, that do not count. */
const BEFORE = 0.1;
const AFTER = 0.5;

export const FULL_LOAD = recipe<FullLoad>({
  id: 'fullLoad',
  about:
    'Full-load stretches in one gear: pulls less shifts and traction control, with 0.5 s after each for pressure and torque to settle.',
  compute(drive) {
    const pulls = drive.derive(PULLS);
    if (isRefusal(pulls)) return refuse(`full load cannot be told: ${pulls.reason}`, pulls.missing);
    const { time } = drive;
    const interventions = drive.derive(TORQUE_INTERVENTIONS);
    const shifts = drive.derive(SHIFTS);
    const mask = new Uint8Array(time.length);
    for (const { start, end } of pulls) mask.fill(1, start, end + 1);
    const cut = (segments: readonly Segment[], before: number): void => {
      for (const { start, end } of widened(segments, time, before, AFTER)) mask.fill(0, start, end + 1);
    };
    cut(isRefusal(shifts) ? stepsDown(drive, pulls) : shifts, BEFORE);
    if (!isRefusal(interventions)) cut(segmentsOf(interventions.traction, time), 0);
    const known = drive.derive(GEAR_KNOWLEDGE);
    const gear = isRefusal(known) ? undefined : known.gear;
    const pieces: FullLoadPiece[] = [];
    const seen = new Set<number>();
    pulls.forEach((pull, number) => {
      for (let i = pull.start; i <= pull.end; i++) {
        if (mask[i] === 0) continue;
        const start = i;
        while (i + 1 <= pull.end && mask[i + 1] === 1) i++;
        if (time[i]! - time[start]! < 0.5) continue;
        seen.add(number);
        const at = gear?.[(start + i) >> 1] ?? Number.NaN;
        pieces.push({
          start,
          end: i,
          from: time[start]!,
          to: time[i]!,
          pull: number,
          began: pull.from,
          gear: at >= 1 ? at : Number.NaN,
        });
      }
    });
    return {
      pieces,
      pulls: seen.size,
      blind: isRefusal(interventions) || interventions.blind.includes(TRACTION_BLIND),
    };
  },
});

/** Nothing tells gears or road speed: in a shift up at full pedal the engine falls by a tenth within half a second. */
function stepsDown(drive: Drive, pulls: readonly Segment[]): Segment[] {
  const { time } = drive;
  const speed = samplesOf(drive).held('engineSpeed');
  if (speed === undefined) return [];
  const mask = new Uint8Array(time.length);
  for (const { start, end } of pulls) {
    let low = start;
    for (let i = start; i <= end; i++) {
      while (time[i]! - time[low]! > 0.5) low++;
      if (speed[i]! < 0.9 * speed[low]!) mask.fill(1, low, i + 1);
    }
  }
  return segmentsOf(mask, time);
}
