import { CARS, type DriveWish, FAULTS, type Level, Random } from '../simulate/index.js';

/** One drive to be simulated, written, read back and judged. */
export interface Trial {
  readonly wish: DriveWish;
  readonly purpose: 'fault' | 'healthy' | 'decoy';
  /** Rules whose faults were put in, with the level that was dialled. */
  readonly dialled: readonly { readonly rule: string; readonly level: Level | 'under' }[];
  readonly decoy?: string;
}

/** Share of the healthy drives, by default 1500, to which every other count is scaled. */
const FAULTS_PER_LEVEL = 200 / 1500;
const DRIVES_PER_DECOY = 40 / 1500;
/** Faults of different rules in one drive: saves simulation, and shows that they do not hide each other. */
const MOST_PER_DRIVE = 3;

/**
 * Draws the trials: for each rule and level (and just under the lowest limit) at least 200 faults per 1500 healthy
 * drives, 40 drives per decoy. Same seed and counts, same trials; `healthy` sets the number of healthy drives apart;
 * without `drives` there are no others.
 */
export function plan(seed: number, drives: number, only: readonly string[] = [], healthy = drives): Trial[] {
  const random = new Random(seed, 77);
  const families = FAULTS.filter((family) => only.length === 0 || only.includes(family.rule));
  const scaled = (share: number): number => (drives === 0 ? 0 : Math.max(1, Math.round(drives * share)));
  const each = scaled(FAULTS_PER_LEVEL);
  const perDecoy = scaled(DRIVES_PER_DECOY);
  const trials: Trial[] = [];
  let serial = seed * 1_000_003;
  const next = (): number => {
    serial = (serial + 7919) % 2_147_483_647;
    return serial;
  };

  const waiting = shuffled(
    families.flatMap((family) =>
      [...family.levels, 'under' as const].flatMap((level) =>
        Array.from({ length: each }, () => ({ rule: family.rule, level })),
      ),
    ),
    random,
  );
  while (waiting.length > 0) {
    const faults: { rule: string; level: Level | 'under'; dial: number }[] = [];
    const most = random.int(1, MOST_PER_DRIVE);
    for (let i = waiting.length - 1; i >= 0 && faults.length < most; i--) {
      const candidate = waiting[i]!;
      if (!together([...faults, candidate].map(({ rule }) => rule))) continue;
      faults.push({ ...candidate, dial: random.next() });
      waiting.splice(i, 1);
    }
    trials.push({
      wish: { seed: next(), faults },
      purpose: 'fault',
      dialled: faults.map(({ rule, level }) => ({ rule, level })),
    });
  }
  for (const family of families) {
    for (const name of Object.keys(family.decoys)) {
      for (let i = 0; i < perDecoy; i++) {
        const wish: DriveWish = { seed: next(), kind: 'inspection', decoys: [{ rule: family.rule, name }] };
        trials.push({ wish, purpose: 'decoy', dialled: [], decoy: `${family.rule}: ${name}` });
      }
    }
  }
  for (let i = 0; i < healthy; i++) trials.push({ wish: { seed: next() }, purpose: 'healthy', dialled: [] });
  return shuffled(trials, random);
}

/** Different rules, and some car to which all of them apply: no converter clutch wears beside a second wet clutch. */
function together(rules: readonly string[]): boolean {
  if (new Set(rules).size < rules.length) return false;
  const families = FAULTS.filter((family) => rules.includes(family.rule));
  return CARS.some((car) => families.every((family) => family.suits?.(car) ?? true));
}

function shuffled<T>(items: readonly T[], random: Random): T[] {
  const list = [...items];
  for (let i = list.length - 1; i > 0; i--) {
    const j = random.int(0, i);
    [list[i], list[j]] = [list[j]!, list[i]!];
  }
  return list;
}
