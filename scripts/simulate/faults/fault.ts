import type { CarSpec } from '../car.js';
import type { Plant } from '../plant.js';
import type { Random } from '../random.js';
import type { ChannelSetting, Disturbance, Tampering } from '../record.js';
import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';

/** A drive while it is being put together; faults and decoys change it. */
export interface DriveDraft {
  car: CarSpec;
  /** The car of the profile, where it is not the one that drives: a tuned engine under an untouched name plate. */
  listed?: CarSpec;
  /** What the seller says, for the profile. */
  claims?: Readonly<Record<string, string | number>>;
  script: Phase[];
  /** Changes of the healthy car. */
  readonly disturb: ((plant: Plant) => void)[];
  /** What the logger does wrong. */
  readonly disturbances: Disturbance[];
  /** What somebody did to the file afterwards. */
  readonly tampered: Tampering[];
  ambient: {
    temperature: number;
    altitude?: number;
    wind?: number;
    grip?: number;
    hills?: { height: number; length: number };
  };
  /** Rows per second that the fault needs to show; drawn when absent. */
  rate?: number;
  /** Channels (stems) that the logger must not leave out, because the fault shows nowhere else. */
  readonly kept: Set<string>;
  /** Further lines of the vehicle profile. */
  readonly profile: string[];
  /** Channels that the logger records besides its set. */
  readonly added: Set<string>;
  /** Channels (stems) that the logger leaves out. */
  readonly dropped: Set<string>;
  /** How single channels (stems) are logged, over the settings of the set. */
  readonly tuned: Map<string, Partial<ChannelSetting>>;
  /** Writing wishes for the dialect (for instance a unit). */
  readonly units: Map<string, string>;
}
export type Level = 'watch' | 'repair' | 'stop';
/** What the injected fault should measure; the truth of the finished drive decides. */
export interface Expectation {
  readonly rule: string;
  /** Level that the dial was set for, 'under' = just below the lowest limit. */
  readonly level: Level | 'under';
  readonly note: string;
  /** Values that were dialled, by measure name. */
  readonly dialled: Readonly<Record<string, number>>;
}
/** The level a perfect observer of the true state would give, and the quantities behind it. */
export interface TrueFinding {
  readonly level: Level | 'none';
  readonly measures: Readonly<Record<string, number>>;
  /** Distance (in the unit of the leading measure) to the nearest limit of any level; for cases at the border. */
  readonly margin: number;
}
/** The faults of one rule: one file each. */
export interface FaultFamily {
  /** Cars to which the rule applies; all when absent. */
  readonly suits?: (car: CarSpec) => boolean;
  readonly rule: string;
  readonly levels: readonly Level[];
  /**
   * Puts the fault into the draft. `dial` 0..1 runs from just over the level's limit to well inside the level;
   * level 'under' runs from well below the lowest limit to just below it.
   */
  readonly apply: (draft: DriveDraft, level: Level | 'under', dial: number, random: Random) => Expectation;
  /** What the finished drive really holds, by the limits of the rule catalogue (kept here on purpose, apart from the library). */
  readonly truth: (sim: Simulation) => TrueFinding;
  /** For a rule that never gives a finding: it has shown what it looks for when this measure is above 0. */
  readonly flag?: string;
  /** Things that look like the fault and are none, by name. */
  readonly decoys: Readonly<Record<string, (draft: DriveDraft, random: Random) => void>>;
}

/** Inserts phases before the closing idle of a script, where everything is warm. */
export function insertWarm(script: Phase[], phases: readonly Phase[]): void {
  let at = script.length;
  while (
    at > 0 &&
    ['hotIdle', 'keyOff', 'fullLock', 'idle', 'stop', 'hotStop', 'automaticStop'].includes(script[at - 1]!.kind)
  )
    at--;
  script.splice(at, 0, ...phases);
}

/** Smallest distance of a value to any of the limits. */
export function nearest(value: number, limits: readonly number[]): number {
  let best = Number.POSITIVE_INFINITY;
  for (const limit of limits) best = Math.min(best, Math.abs(value - limit));
  return best;
}

/** The fault needs this many rows a second to show; another fault of the same drive may have asked for more. */
export function atLeast(draft: DriveDraft, rate: number): void {
  draft.rate = Math.max(draft.rate ?? 0, rate);
}
