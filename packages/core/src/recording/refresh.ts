import { sortedQuantile } from '../math/sorted.js';
import { anyChange, type Changes, countCommon, countMarked } from './changes.js';
import type { Runs } from './run.js';

/** Both neighbours of a held value must be this many typical steps away before its duration tells of the refresh. */
const MOVING_STEPS = 3;
const MIN_EVIDENCE = 5;
const SAMPLE = 4096;

/** A held value lasts about one refresh: this share of the durations lies within {@link LIKE} of their median. */
const REGULAR = 0.5;
const LIKE = 0.35;
/** Holds shorter than this share of the median prove that values come faster. */
const SHORTER = 0.6;
/**
 * Fresh measurements of something that moves by several steps seldom come back to the same few values: with fewer
 * different ones than this, or than this share of the holds, it is a switch, or a foot that knows rest and floor.
 */
const LEVELS = { enough: 12, share: 0.75 } as const;
/** No logger is trusted to read slower than this (Hz) on the word of its few shortest holds, or of a few levels. */
const SLOWEST_BY_FEW = 0.5;

/**
 * Rate (Hz) at which a channel brings fresh values: reciprocal of the typical duration of held values, counted only
 * where the channel moves by several steps at once on both sides, or of their mean where rows do not divide them. The durations must be regular, as a logger's are and a
 * driver's foot is not; and where a tenth of all changes follow each other much faster, that spacing is taken instead.
 * A channel that goes back and forth between a few levels tells of what was done, not of the logger: NaN.
 * A slow channel that creeps one step at a time says nothing about its refresh, so the answer is NaN there, as for a
 * channel that never changes.
 * @param time seconds, strictly increasing
 */
export function refreshRate(values: Float64Array, time: Float64Array, runs: Runs): number {
  const { count, starts } = runs;
  const moving = MOVING_STEPS * Math.max(runs.quantum, runs.typicalStep);
  if (count < MIN_EVIDENCE + 2 || !(moving > 0)) return fineRate(values, time, runs);
  const stride = Math.max(1, Math.floor(count / SAMPLE));
  const most = Math.floor((count - 2) / stride) + 1;
  const durations = new Float64Array(most);
  const between = new Float64Array(most);
  let seen = 0;
  let found = 0;
  const levels = new Set<number>();
  for (let k = 1; k + 1 < count; k += stride) {
    const here = values[starts[k]!]!;
    const duration = time[starts[k + 1]!]! - time[starts[k]!]!;
    durations[seen++] = duration;
    if (Math.abs(here - values[starts[k - 1]!]!) < moving) continue;
    if (Math.abs(values[starts[k + 1]!]! - here) < moving) continue;
    between[found++] = duration;
    if (levels.size < LEVELS.enough) levels.add(here);
  }
  const all = durations.subarray(0, seen).sort();
  const spacings = between.subarray(0, found);
  // A quarter of all changes one row after the other: nothing is held at all.
  const quick = sortedQuantile(all, 0.25);
  const row = (time[time.length - 1]! - time[0]!) / (time.length - 1);
  if (all.length >= 20 && quick <= 1.5 * row) return 1 / meanHold(spacings, quick, row);
  if (spacings.length < MIN_EVIDENCE) return fineRate(values, time, runs);
  if (levels.size < Math.min(LEVELS.enough, LEVELS.share * spacings.length)) return Number.NaN;
  const spacing = sortedQuantile(spacings.sort(), 0.5);
  const shortest = sortedQuantile(all, 0.1);
  if (shortest < SHORTER * spacing) return shortest > 1 / SLOWEST_BY_FEW ? Number.NaN : 1 / shortest;
  // A handful of holds that happen to be alike is no word for a logger that slow either.
  if (spacing > 1 / SLOWEST_BY_FEW && levels.size < LEVELS.enough) return Number.NaN;
  return regular(spacings, spacing) && spacing > 0 ? 1 / meanHold(spacings, spacing, row) : Number.NaN;
}

/** A mean hold this close to the typical one differs by lost rows and by values that happened to come again. */
const SAME_HOLD = 1.1;

/**
 * Where rows do not divide the time between two fresh values, holds are a row longer now and then: four values a second
 * in five rows are held for 1, 1, 1 and 2 rows, and only the mean tells. Much longer holds are other matters.
 * @param typical hold, s, which is also the answer while too few holds are known
 * @param row seconds between rows
 */
function meanHold(spacings: ArrayLike<number>, typical: number, row: number): number {
  const reach = LIKE * typical + 1.05 * row;
  let sum = 0;
  let count = 0;
  for (let i = 0; i < spacings.length; i++) {
    if (Math.abs(spacings[i]! - typical) > reach) continue;
    sum += spacings[i]!;
    count++;
  }
  if (count < 4 * MIN_EVIDENCE) return typical;
  const mean = sum / count;
  return mean > SAME_HOLD * typical || mean < typical / SAME_HOLD ? mean : typical;
}

/** Whether most of the spacings are like their median. */
function regular(spacings: ArrayLike<number>, median: number): boolean {
  let like = 0;
  for (let i = 0; i < spacings.length; i++) if (Math.abs(spacings[i]! - median) <= LIKE * median) like++;
  return like >= REGULAR * spacings.length;
}

/**
 * A smooth channel with fine resolution may never move by several *typical* steps at once, yet changes with every
 * fresh value. When the changes fill nearly every sample, or the steps are many quanta wide and of all sizes (not
 * always one and the same step of a coarse sensor), each change is a refresh.
 */
function fineRate(values: Float64Array, time: Float64Array, runs: Runs): number {
  const { count, starts, quantum, typicalStep, largeStep, samples } = runs;
  if (count < 20 || !(quantum > 0)) return Number.NaN;
  const smooth = typicalStep >= MOVING_STEPS * quantum && largeStep >= 1.5 * typicalStep;
  if (!smooth && count < 0.8 * samples) return Number.NaN;
  const stride = Math.max(1, Math.floor(count / SAMPLE));
  const spacings = new Float64Array(Math.floor((count - 2) / stride) + 1);
  let seen = 0;
  const levels = new Set<number>();
  for (let k = 0; k + 1 < count; k += stride) {
    spacings[seen++] = time[starts[k + 1]!]! - time[starts[k]!]!;
    if (levels.size < LEVELS.enough) levels.add(values[starts[k]!]!);
  }
  const spacing = sortedQuantile(spacings.sort(), 0.5);
  if (spacing > 1 / SLOWEST_BY_FEW && !(levels.size >= LEVELS.enough && regular(spacings, spacing))) return Number.NaN;
  return spacing > 0 ? 1 / spacing : Number.NaN;
}

/** What the grouping of channels by cadence needs of each one. */
interface Cadence {
  /** Own refresh rate (Hz), NaN when the channel does not tell. */
  readonly rate: number;
  /** Rows at which the value changed. */
  readonly changes: Changes;
  /** Filled cells per second when the column has empty cells in a regular pattern, else NaN. */
  readonly fillRate: number;
  /** False when it goes in leaps between levels, so that the rows of its changes tell of what was done; true when left out. */
  readonly creeps?: boolean;
}

/** Three quarters of the steps of a creeping channel are smaller than this share of its range. */
const CREEP = 0.2;

/** Whether a channel moves in steps that are small against its range, as temperatures and filtered values do. */
export function creeps({ largeStep, min, max }: Runs): boolean {
  return largeStep <= CREEP * (max - min);
}

/** A group within this ratio of the rows is fresh with every row: some rows are lost, some values come again. */
const EVERY_ROW = 1.1;

/** Rates within this ratio are one group. */
const SAME_RATE = 1.3;

/**
 * Rate (Hz) of the group that each channel belongs to. Channels that move tell their own; a channel that creeps or
 * stands still takes the rate of the slowest group on whose rows it changes, else of the largest group. NaN when no
 * channel of the recording moves and the row rate is not known.
 * @param rowRate rows per second of the recording
 */
export function groupRates(channels: readonly Cadence[], rows: number, rowRate: number): Float64Array {
  const groups = clusterRates(channels, rows, rowRate);
  const result = new Float64Array(channels.length).fill(Number.NaN);
  const largest = groups.reduce<Group | undefined>(
    (best, g) => (best && best.members >= g.members ? best : g),
    undefined,
  );
  for (let c = 0; c < channels.length; c++) {
    const channel = channels[c]!;
    if (Number.isFinite(channel.rate)) {
      const own = groups.find((g) => sameRate(g.rate, channel.rate));
      result[c] = own ? own.rate : channel.rate;
    } else if (Number.isFinite(channel.fillRate)) result[c] = channel.fillRate;
    else {
      const locked = channel.creeps === false ? 1 : lockedRows(channel.changes.first);
      if (locked > 1) result[c] = rowRate / locked;
      else result[c] = (coincident(channel.changes, groups) ?? largest)?.rate ?? rowRate;
    }
  }
  return result;
}

interface Group {
  readonly rate: number;
  readonly members: number;
  /** Made when it is first asked for. */
  readonly marks: () => Marks;
}

interface Marks {
  /** Rows at which a member changed, a bit each. */
  readonly bits: Int32Array;
  /** Share of rows that are marked. */
  readonly density: number;
}

function marksOf(members: readonly Cadence[], rows: number): Marks {
  const bits = anyChange(
    members.map(({ changes }) => changes),
    rows,
  );
  return { bits, density: rows > 0 ? countMarked(bits) / rows : 0 };
}

function sameRate(a: number, b: number): boolean {
  return a <= b * SAME_RATE && b <= a * SAME_RATE;
}

/** Groups of like rates, slowest first. */
function clusterRates(channels: readonly Cadence[], rows: number, rowRate: number): Group[] {
  const movers = channels.filter((c) => Number.isFinite(c.rate)).sort((a, b) => a.rate - b.rate);
  const groups: Group[] = [];
  let from = 0;
  while (from < movers.length) {
    let to = from + 1;
    while (to < movers.length && sameRate(movers[to]!.rate, movers[from]!.rate)) to++;
    const members = movers.slice(from, to);
    let rate = members[members.length >> 1]!.rate;
    if (rate <= rowRate * EVERY_ROW && rowRate <= rate * EVERY_ROW) rate = rowRate;
    let known: Marks | undefined;
    const marks = () => {
      known ??= marksOf(members, rows);
      return known;
    };
    groups.push({ rate, members: members.length, marks });
    from = to;
  }
  return groups;
}

/** Slowest group on whose rows the changes fall clearly more often than chance. */
function coincident({ count, bits }: Changes, groups: readonly Group[]): Group | undefined {
  if (count < 8) return undefined;
  for (const group of groups) {
    const marks = group.marks();
    const hits = countCommon(bits, marks.bits);
    if (hits >= 0.9 * count && hits / count > marks.density + 0.15) return group;
  }
  return groups[groups.length - 1];
}

/**
 * Number of rows after which a held value is renewed, found from the rows of change alone: the largest k <= 200 for
 * which at least 95 % of the changes fall on the same remainder of the row number, at several different multiples of k
 * (a steady creep changes at equal distances and tells nothing). 1 when there is none.
 * @param changes the first rows of change
 */
function lockedRows(changes: Int32Array): number {
  const n = changes.length;
  if (n < 10) return 1;
  const counts = new Int32Array(200);
  for (let k = 200; k >= 2; k--) {
    counts.fill(0);
    let top = 0;
    for (let j = 0; j < n; j++) {
      const c = ++counts[changes[j]! % k]!;
      if (c > top) top = c;
    }
    if (top >= 0.95 * n && distinctMultiples(changes, n, k) >= 3) return k;
  }
  return 1;
}

function distinctMultiples(changes: Int32Array, n: number, k: number): number {
  const seen = new Set<number>();
  for (let j = 1; j < n; j++) {
    const rows = changes[j]! - changes[j - 1]!;
    if (rows % k === 0) seen.add(rows / k);
  }
  return seen.size;
}
