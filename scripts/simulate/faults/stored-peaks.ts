import type { CarSpec } from '../car.js';
import type { MemoryPeaks } from '../memory.js';
import type { Simulation } from '../simulate.js';
import { type DriveDraft, type Level, nearest, type TrueFinding } from './fault.js';

/** Rules that judge a highest value of control-unit memory without a drive. */
export type StoredRule =
  | 'transmission.over-temperature'
  | 'engine.cooling'
  | 'engine.oil-temperature'
  | 'usage.over-rev';

interface Kept {
  readonly peak: 'fluid' | 'coolant' | 'oil' | 'over';
  /** From where a stored value is told, one step below what is seen: `watch`, and `repair`. */
  readonly limits: (car: CarSpec) => readonly [watch: number, repair: number];
  /** What a coarse sensor, or a speed in steps of 25 rpm, leaves open at a limit. */
  readonly open: number;
  /** How far a fault of a level lies beyond its limit, from dial 0 to 1. */
  readonly beyond: Readonly<Record<'watch' | 'repair', readonly [number, number]>>;
}

const KEPT: Readonly<Record<StoredRule, Kept>> = {
  'transmission.over-temperature': {
    peak: 'fluid',
    limits: (car) => (car.transmission.kind === 'converter' ? [120, 145] : [115, 140]),
    open: 2.5,
    beyond: { watch: [4, 20], repair: [4, 20] },
  },
  'engine.oil-temperature': {
    peak: 'oil',
    limits: () => [130, 150],
    open: 2.5,
    beyond: { watch: [4, 15], repair: [4, 15] },
  },
  // Of the two limits that a peak can break only the second is far enough from the other.
  'engine.cooling': {
    peak: 'coolant',
    limits: () => [117, 122],
    open: 2.5,
    beyond: { watch: [4, 15], repair: [4, 15] },
  },
  'usage.over-rev': { peak: 'over', limits: () => [4, 10], open: 1, beyond: { watch: [1.5, 4], repair: [1.5, 12] } },
};

/**
 * Whether the fault stands in the stored values only. Read from digits of the dial that shift nothing, so that drives of
 * older runs keep their course; undefined where it does not, and for a level that no stored value reaches.
 */
export function onlyStored(rule: StoredRule, level: Level | 'under', dial: number): 'watch' | 'repair' | undefined {
  const reached = level === 'repair' || (level === 'watch' && rule !== 'engine.cooling');
  return reached && (dial * 997) % 1 < 0.25 ? level : undefined;
}

/** Puts a highest value, or counts of a high range, into the memory of a car that drives without a fault. */
export function storePeak(draft: DriveDraft, rule: StoredRule, level: 'watch' | 'repair', dial: number): string {
  const { peak, limits, beyond } = KEPT[rule];
  const [low, high] = beyond[level];
  const value = limits(draft.car)[level === 'watch' ? 0 : 1] + low + (high - low) * dial;
  const counted = rule === 'usage.over-rev' && level === 'watch' && dial < 0.5;
  draft.disturb.push((plant) => {
    const { peaks } = plant.memory;
    if (counted) peaks.overRevs = [310, 44, 9, 1 + Math.round(6 * dial), 0, 0];
    else if (peak === 'over') peaks.over = value;
    else peaks[peak] = Math.round(value);
  });
  return counted ? 'counts of a high range stored' : `highest value of ${value.toFixed(1)} stored`;
}

/** What the stored values alone are worth: one step less than the same value seen in a drive. */
export function storedTruth(rule: StoredRule, peaks: MemoryPeaks, car: CarSpec): Pick<TrueFinding, 'level' | 'margin'> {
  const { peak, limits, open } = KEPT[rule];
  const [watch, repair] = limits(car);
  const value = peaks[peak] ?? Number.NaN;
  const high = rule === 'usage.over-rev' && (peaks.overRevs ?? []).slice(3).some((count) => count > 0);
  const level = value > repair ? 'repair' : value > watch || high ? 'watch' : 'none';
  const margin = Number.isNaN(value) ? Number.POSITIVE_INFINITY : nearest(value, [watch, repair]);
  // Within what is open at a limit: at the border, whatever the border of the drive is.
  return { level, margin: margin < open ? 0 : Number.POSITIVE_INFINITY };
}

const RANK = ['none', 'watch', 'repair', 'stop'] as const;

/** The worse of what the drive holds and of what is stored. */
export function withStored(rule: StoredRule, seen: TrueFinding, { plant, car }: Simulation): TrueFinding {
  const stored = storedTruth(rule, plant.memory.peaks, car);
  if (RANK.indexOf(stored.level) <= RANK.indexOf(seen.level))
    return { ...seen, margin: Math.min(seen.margin, stored.margin === 0 && seen.level === 'none' ? 0 : seen.margin) };
  return { level: stored.level, measures: seen.measures, margin: stored.margin };
}
