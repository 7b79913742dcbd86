import type { AxleSpeeds } from '../../derived/axle-speeds.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import type { Limit } from '../rule.js';

/** One time that an axle spun while the coupling was told to close. */
export interface Spin {
  readonly from: number;
  readonly to: number;
  /** Largest difference between the axles, km/h, and the smallest after it within the time allowed. */
  readonly difference: number;
  readonly left: number;
  readonly command: number;
  readonly halved: boolean;
  readonly samples: number;
}

/** Coupling command has to stand for this long (s): hydraulics and clutch travel come first. Common practice, no source. */
const STANDS = 0.5;
/** Noise of a wheel speed, km/h, standard deviation. Common practice, no source. */
const NOISE = 0.1;

/**
 * Stretches of command with the axles apart, straight and unbraked (`usable` 1). Each counts once; it has halved when
 * the difference falls to half of its largest value within the time allowed.
 */
export function spinsOf(
  axles: AxleSpeeds,
  command: Float64Array,
  time: Float64Array,
  usable: Uint8Array,
  limits: Readonly<Record<string, Limit>>,
): Spin[] {
  const { front, rear, fresh } = axles;
  const least = limits.command!.value;
  const within = limits.halved!.value;
  const sure = ONE_SIDED_95 * Math.sqrt(axles.quantum ** 2 / 12 + NOISE ** 2);
  const apart = (i: number): boolean => {
    const difference = Math.abs(rear[i]! - front[i]!) - sure;
    const faster = Math.max(rear[i]!, front[i]!);
    return difference > limits.difference!.value && difference > (limits.share!.value / 100) * faster;
  };
  const asked = (i: number): boolean => command[i]! >= least && usable[i] === 1;
  const found: Spin[] = [];
  for (let k = 0; k < fresh.length; k++) {
    if (!asked(fresh[k]!) || !apart(fresh[k]!)) continue;
    const from = time[fresh[k]!]!;
    let peak = 0;
    let left = Number.POSITIVE_INFINITY;
    let halved = false;
    let samples = 0;
    let end = k;
    // The difference may still grow while the coupling closes: it is followed for both times together.
    for (; end < fresh.length && time[fresh[end]!]! - from <= STANDS + within + 1e-6; end++) {
      const i = fresh[end]!;
      if (!asked(i) && !halved) break;
      const difference = Math.abs(rear[i]! - front[i]!);
      samples++;
      if (difference > peak) {
        peak = difference;
        left = difference;
      } else left = Math.min(left, difference);
      if (left <= 0.5 * peak) halved = true;
    }
    const to = time[fresh[Math.max(k, end - 1)]!]!;
    // Command or straight driving ended too soon to tell.
    const told = halved || to - from >= STANDS + within - 1.5 / axles.hz;
    if (told && samples >= 3)
      found.push({ from, to, difference: peak, left, command: command[fresh[k]!]!, halved, samples });
    // On to where the axles run together again, or the command has ended.
    while (end < fresh.length && asked(fresh[end]!) && apart(fresh[end]!)) end++;
    k = Math.max(k, end);
  }
  return found;
}
