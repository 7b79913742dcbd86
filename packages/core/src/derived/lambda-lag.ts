import { type Lag, lagOf } from './aligned.js';
import { FUEL_CUT } from './fuel-cut.js';
import { type Segment, segmentsOf, widened } from './intervals.js';
import { isRefusal, type Refusal, recipe } from './recipe.js';
import { samplesOf } from './samples.js';

/** Lag of each front lambda sensor behind the lambda target, by channel id. */
export type LambdaLags = ReadonlyMap<string, Lag | Refusal>;

/** Sensors in front of the catalyst that measure a mixture: not those behind it, not single cylinders, no volts. */
export function isFrontLambda(channel: { readonly id: string; readonly sourceUnit: string }): boolean {
  return !/sensor[2-9]|cylinder/i.test(channel.id) && !/^m?V$/.test(channel.sourceUnit);
}

/** The target of the same bank, else the common one. */
export function targetIdOf(id: string, targets: readonly { readonly id: string }[]): string | undefined {
  const bank = /\.(bank\d+)/.exec(id)?.[1];
  const own = bank === undefined ? undefined : targets.find((target) => target.id.includes(bank));
  return (own ?? targets.find((target) => target.id === 'lambdaTarget') ?? targets[0])?.id;
}

/** The target has to move by this much within two seconds to tell a lag: while it rests, the sensor shows only the control's own swing. */
const MOVES = 0.02;

/** Stretches in which the target rests, two seconds around included in what moves. */
function stillStretches(target: Float64Array, time: Float64Array): Segment[] {
  const n = target.length;
  const mask = new Uint8Array(n).fill(1);
  let back = 0;
  // Rows before this one are marked already.
  let marked = 0;
  for (let i = 0; i < n; i++) {
    while (time[i]! - time[back]! > 1) back++;
    if (Math.abs(target[i]! - target[back]!) < MOVES) continue;
    for (let k = back; k >= 0 && time[back]! - time[k]! <= 1 && mask[k] === 1; k--) mask[k] = 0;
    for (marked = Math.max(marked, back); marked < n && time[marked]! - time[i]! <= 2; marked++) mask[marked] = 0;
  }
  return segmentsOf(mask, time);
}

export const LAMBDA_LAGS = recipe<LambdaLags>({
  id: 'lambdaLags',
  about:
    'Delay of each front lambda sensor behind the lambda target: exhaust travel and sensor, by correlation of their changes outside fuel cuts.',
  compute(drive) {
    const lags = new Map<string, Lag | Refusal>();
    const targets = drive.family('lambdaTarget');
    const cut = drive.derive(FUEL_CUT);
    const except: readonly Segment[] = isRefusal(cut) ? [] : widened(cut.segments, drive.time, 0.5, 3);
    const stills = new Map<string, Segment[]>();
    const derivatives = new Map<string, Float64Array>();
    for (const channel of drive.family('lambda').filter(isFrontLambda)) {
      const target = targetIdOf(channel.id, targets);
      if (target === undefined) continue;
      const still = stills.get(target) ?? stillStretches(samplesOf(drive).held(target)!, drive.time);
      stills.set(target, still);
      lags.set(channel.id, lagOf(drive, target, channel.id, [...except, ...still], derivatives));
    }
    return lags;
  },
});
