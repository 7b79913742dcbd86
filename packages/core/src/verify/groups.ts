import type { Range } from './measure.js';
import type { PullTrace } from './pull.js';

/** Pulls of one gear, before and after, and the range of engine speed that they share. */
export interface PullGroup {
  readonly gear: number;
  readonly ratio: number;
  readonly range: Range;
  readonly before: readonly PullTrace[];
  readonly after: readonly PullTrace[];
  /** Pulls of the gear that do not count, and why. */
  readonly left: ReadonlyMap<PullTrace, string>;
}

/** Overall ratios this near (share) are one gear: speed signals and tyres differ by less. Common practice, no source. */
const SAME_RATIO = 0.03;
/** Share of the common range that a pull has to cover. */
const COVERS = 0.9;
/** Narrower than this (rpm) no pull is like another. */
const NARROWEST = 800;
/** Coolant and oil below which an engine works otherwise, degC; as in the shared words `warm` and `oilWarm`. */
const WARM = { coolant: 70, oil: 70 };

/** Groups of all pulls by gear, the largest (by its smaller side) first; without pulls on both sides none. */
export function groupsOf(pulls: readonly PullTrace[]): PullGroup[] {
  const gears: PullTrace[][] = [];
  for (const pull of pulls) {
    const home = gears.find(([first]) => sameGear(first!, pull));
    if (home === undefined) gears.push([pull]);
    else home.push(pull);
  }
  return gears
    .map(groupOf)
    .filter((each) => each !== undefined)
    .sort(
      (a, b) =>
        Math.min(b.before.length, b.after.length) - Math.min(a.before.length, a.after.length) ||
        b.before.length + b.after.length - a.before.length - a.after.length ||
        a.gear - b.gear,
    );
}

/** The overall ratio decides where both have one, for it is measured; else the number of the gear. */
function sameGear(a: PullTrace, b: PullTrace): boolean {
  if (a.ratio > 0 && b.ratio > 0) return Math.abs(Math.log(a.ratio / b.ratio)) <= SAME_RATIO;
  if (a.gear >= 1 && b.gear >= 1) return a.gear === b.gear;
  // Neither gear nor road speed: on a dynamometer the range of engine speed is all there is.
  return Number.isNaN(a.gear) && Number.isNaN(b.gear);
}

function groupOf(all: readonly PullTrace[]): PullGroup | undefined {
  const left = new Map<PullTrace, string>();
  const warm = all.filter((pull) => {
    const why = coldReason(pull);
    if (why !== undefined) left.set(pull, why);
    return why === undefined;
  });
  const range = rangeOf(warm);
  if (range === undefined) return undefined;
  const used = warm.filter((pull) => {
    const covered =
      (Math.min(range.high, pull.speedTo) - Math.max(range.low, pull.speedFrom)) / (range.high - range.low);
    if (covered >= COVERS) return true;
    left.set(
      pull,
      `covers ${Math.max(0, Math.round(100 * covered))} % of the common range of ${Math.round(range.low)} to ${Math.round(range.high)} rpm`,
    );
    return false;
  });
  const before = used.filter(({ side }) => side === 'before');
  const after = used.filter(({ side }) => side === 'after');
  if (before.length === 0 || after.length === 0) return undefined;
  const first = used.find(({ gear }) => gear >= 1) ?? used[0]!;
  return { gear: first.gear, ratio: first.ratio, range, before, after, left };
}

function coldReason({ conditions: { coolantTemperature, oilTemperature } }: PullTrace): string | undefined {
  if (oilTemperature < WARM.oil) return `engine oil at ${Math.round(oilTemperature)} °C: not warm`;
  if (coolantTemperature < WARM.coolant) return `coolant at ${Math.round(coolantTemperature)} °C: not warm`;
  return undefined;
}

/** Engine speeds that three quarters of the pulls of each side cover; undefined when hardly any. */
function rangeOf(pulls: readonly PullTrace[]): Range | undefined {
  const sides = (['before', 'after'] as const).map((side) => pulls.filter((pull) => pull.side === side));
  if (sides.some((each) => each.length === 0)) return undefined;
  const low = Math.max(...sides.map((side) => -mostReach(side.map(({ speedFrom }) => -speedFrom))));
  const high = Math.min(...sides.map((side) => mostReach(side.map(({ speedTo }) => speedTo))));
  return high - low >= NARROWEST ? { low, high } : undefined;
}

/** Highest value that at least three quarters of the pulls reach. */
function mostReach(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 4)]!;
}
