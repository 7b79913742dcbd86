import { TAKEN_UP } from './clutch-slip-ratios.js';

/** Both sides of a clutch, one entry a measurement. */
export interface ClutchSides {
  /** s */
  readonly at: Float64Array;
  /** NaN = none held. */
  readonly gear: Float64Array;
  /** rpm: input side, output side drawn to it, and standard uncertainty of their difference. */
  readonly input: Float64Array;
  readonly output: Float64Array;
  readonly u: Float64Array;
}

/** A clutch has closed once its sides differ by less than this share, or this many rpm, whichever is more, for LOCKED seconds. */
const SHARE = 0.03;
const SPEED = 100;
const LOCKED = 0.2;
/** Longest take-up once the output side turns fast enough to be judged (s): pulling away in a high gear. */
const LONGEST = 10;
/** A gap this long (s) and nobody knows what the clutch did. */
const GAP = 3;

/**
 * 1 where a clutch is still taken up from rest or a crawl: from a difference at a speed at which the engine cannot run
 * closed, until both sides first run together, another gear carries or ten seconds have passed. NaN is no sample and
 * leaves the state as it is. That clutches slip while they take up is what they are for. Common practice, no source.
 */
export function takeUps({ at, gear, input, output, u }: ClutchSides): Uint8Array {
  const mask = new Uint8Array(at.length);
  let open = false;
  let carrying = Number.NaN;
  let fastFrom = Number.NaN;
  let togetherFrom = Number.NaN;
  for (let k = 0; k < at.length; k++) {
    if (k > 0 && at[k]! - at[k - 1]! > GAP) [open, togetherFrom] = [false, Number.NaN];
    const [g, n, out] = [gear[k]!, input[k]!, output[k]!];
    if (Number.isNaN(g) || Number.isNaN(n) || Number.isNaN(out)) {
      mask[k] = open ? 1 : 0;
      togetherFrom = Number.NaN;
      continue;
    }
    if (g !== carrying) {
      open = false;
      carrying = g;
      togetherFrom = Number.NaN;
    }
    const together = Math.abs(n - out) <= Math.max(SPEED, SHARE * n) + u[k]!;
    if (!together) togetherFrom = Number.NaN;
    else if (Number.isNaN(togetherFrom)) togetherFrom = at[k]!;
    if (!open && !together && out < TAKEN_UP) {
      open = true;
      fastFrom = Number.NaN;
    }
    if (open && Number.isNaN(fastFrom) && out >= TAKEN_UP) fastFrom = at[k]!;
    if (open && (at[k]! - togetherFrom >= LOCKED - 1e-6 || at[k]! - fastFrom > LONGEST)) open = false;
    mask[k] = open ? 1 : 0;
  }
  return mask;
}
