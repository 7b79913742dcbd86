import type { Channel } from '../recording/recording.js';
import { CLOSED_LOOP } from './closed-loop.js';
import { FUEL_CUT } from './fuel-cut.js';
import { firstAtOrAfter, type Segment } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { freshRate, heldValues } from './refresh.js';

/** Step of a trim by SAE J1979 (PID 06 to 09: 100/128 %), for a column that never moves and so shows none. */
const J1979_STEP = 100 / 128;
/** Mixture is out of the controller's hands this long after a fuel cut (s). Common practice, no source. */
const AFTER_CUT = 3;
/** Above this duty (%) fuel vapour from the canister moves the trim. Common practice, no source. */
const PURGE_HIGH = 50;

export interface BankTrim {
  /** `bank1`, … */
  readonly name: string;
  readonly long: Channel;
  readonly short?: Channel;
  /** Total trim, %, row by row; NaN where it is not in the controller's hands. */
  readonly total: Float64Array;
  /** Short-term trim, %, row by row; absent when not recorded. */
  readonly shortValues?: Float64Array;
  /** Step of the total, percentage points. */
  readonly quantum: number;
  /** Fresh values per second; infinite when nothing tells. */
  readonly hz: number;
}

export interface TotalTrim {
  readonly banks: readonly BankTrim[];
  /** False when closed loop had to be inferred. */
  readonly closedLoopCertain: boolean;
  /** The duty of the tank ventilation is recorded, and high duty left out. */
  readonly purgeKnown: boolean;
}

export const TOTAL_TRIM = recipe<TotalTrim>({
  id: 'totalTrim',
  about:
    'Total fuel trim per bank, (1 + short)(1 + long) - 1 in %, in closed loop, without the three seconds after fuel cuts, high purge duty (> 50 %) and the first minute after codes were cleared.',
  compute(drive) {
    const loop = drive.derive(CLOSED_LOOP);
    if (isRefusal(loop)) return loop;
    const banks = banksOf(drive);
    if (banks.length === 0)
      return refuse('no total trim, because fuelTrimLong is absent', { channels: ['fuelTrimLong.bank1'] });
    const cut = drive.derive(FUEL_CUT);
    const mask = withoutCuts(loop.mask, isRefusal(cut) ? [] : cut.segments, drive.time, AFTER_CUT);
    const purge = drive.channel('purgeDuty');
    exclude(mask, purge, drive.time, (x) => x > PURGE_HIGH);
    exclude(mask, drive.channel('timeSinceClear'), drive.time, (x) => x < 1);
    return {
      banks: banks.map((bank) => ({ ...bank, ...totalOf(bank, drive.time, mask) })),
      closedLoopCertain: loop.certain,
      purgeKnown: purge !== undefined,
    };
  },
});

/**
 * Total trim in percent: (1 + short)(1 + long) - 1. The sum that is often used for it is 1 point short at +10 and +10.
 * NaN in either gives NaN.
 */
export function totalTrim(short: number, long: number): number {
  return 100 * ((1 + short / 100) * (1 + long / 100) - 1);
}

type Bank = Pick<BankTrim, 'name' | 'long' | 'short'>;

function banksOf(view: Pick<Drive, 'family'>): Bank[] {
  const shorts = new Map(view.family('fuelTrimShort').map((channel) => [bankName(channel), channel]));
  return view.family('fuelTrimLong').map((long) => {
    const name = bankName(long);
    const short = shorts.get(name);
    return { name, long, ...(short === undefined ? {} : { short }) };
  });
}

function bankName({ id }: Channel): string {
  return id.split('.')[1] ?? 'bank1';
}

function totalOf(
  bank: Bank,
  time: Float64Array,
  mask: Uint8Array,
): Pick<BankTrim, 'total' | 'shortValues' | 'quantum' | 'hz'> {
  const long = heldValues(bank.long.values, time);
  const short = bank.short === undefined ? undefined : heldValues(bank.short.values, time);
  const total = new Float64Array(time.length).fill(Number.NaN);
  for (let i = 0; i < total.length; i++) if (mask[i] === 1) total[i] = totalTrim(short?.[i] ?? 0, long[i]!);
  const channels = bank.short === undefined ? [bank.long] : [bank.long, bank.short];
  const quantum = Math.hypot(...channels.map(({ quality }) => (quality.quantum > 0 ? quality.quantum : J1979_STEP)));
  const hz = freshRate(bank.short ?? bank.long).hz;
  return {
    total,
    ...(short === undefined ? {} : { shortValues: short }),
    quantum,
    hz: Number.isNaN(hz) ? Number.POSITIVE_INFINITY : hz,
  };
}

function exclude(
  mask: Uint8Array,
  channel: Channel | undefined,
  time: Float64Array,
  when: (x: number) => boolean,
): void {
  if (channel === undefined) return;
  const values = heldValues(channel.values, time);
  for (let i = 0; i < mask.length; i++) if (when(values[i]!)) mask[i] = 0;
}

/** Rows that count for trims: 1 in `base`, not within `after` seconds of the end of a fuel cut, purge and reset aside. */
function withoutCuts(base: Uint8Array, cuts: readonly Segment[], time: Float64Array, after: number): Uint8Array {
  const mask = base.slice();
  for (const { start, to } of cuts) mask.fill(0, start, firstAtOrAfter(time, to + after));
  return mask;
}
