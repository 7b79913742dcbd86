import type { Drive, Missing } from '../../../src/derived/recipe.js';
import type { Limit, Measure, RuleEvent, Severity } from '../../../src/rules/rule.js';
import { runRule } from '../helpers.js';

/** What a rule said, whatever the outcome. */
export interface Told {
  readonly outcome: string;
  readonly summary: string;
  readonly severity?: Severity;
  readonly measures?: Readonly<Record<string, Measure>>;
  readonly limits?: readonly Limit[];
  readonly events?: readonly RuleEvent[];
  readonly notes?: readonly string[];
  readonly missing?: Missing;
}

export function tell(rule: unknown, drive: Drive): Told {
  return runRule(rule, drive) as unknown as Told;
}

/** A car driven through its gears as signals: engine speed follows road speed by the ratio of each gear, shifts take time. */
export interface GearDrive {
  readonly hz: number;
  /** rpm per km/h, first gear first. */
  readonly ratios: readonly number[];
  /** s of 10-90 % of each shift, by the gear shifted out of (1..n); default 0.16. */
  readonly shift?: (gear: number, lap: number) => number;
  /** rpm that the engine runs over before the ratio gives way. */
  readonly flare?: (gear: number, lap: number) => number;
  readonly laps: number;
  /** Gears that are never used: the one below is held instead. */
  readonly lost?: readonly number[];
}

/** Each lap: standstill, up through every gear (4 s each), 12 s in the highest, down to standstill. */
export function gearDrive({ hz, ratios, shift = () => 0.16, flare = () => 0, laps, lost = [] }: GearDrive) {
  const time: number[] = [];
  const v: number[] = [];
  const n: number[] = [];
  const gear: number[] = [];
  const pedal: number[] = [];
  const used = ratios.map((_, k) => k + 1).filter((g) => !lost.includes(g));
  let t = 0;
  const push = (speed: number, engine: number, g: number, p: number): void => {
    time.push(t);
    v.push(speed);
    n.push(engine);
    gear.push(g);
    pedal.push(p);
    t += 1 / hz;
  };
  for (let lap = 0; lap < laps; lap++) {
    for (let k = 0; k < 5 * hz; k++) push(0, 800, 1, 0);
    let speed = 900 / ratios[used[0]! - 1]!;
    for (const g of used) {
      const r = ratios[g - 1]!;
      const next = ratios[used[used.indexOf(g) + 1]! - 1];
      const top = 2600 / r;
      const rise = (top - speed) / (4 * hz);
      for (let k = 0; k < 4 * hz; k++) {
        speed += rise;
        push(speed, speed * r, g, 25);
      }
      if (next === undefined) break;
      const over = flare(g, lap);
      for (let k = 1; over > 0 && k <= 0.3 * hz; k++) push(speed, speed * r + (over * k) / (0.3 * hz), g, 25);
      // The ratio changes in a straight line: 10 to 90 % is 0.8 of it.
      const steps = (shift(g, lap) / 0.8) * hz;
      for (let k = 1; k < steps; k++) push(speed, speed * (r + ((next - r) * k) / steps), g, 25);
    }
    const last = ratios[used[used.length - 1]! - 1]!;
    for (let k = 0; k < 12 * hz; k++) push(speed, speed * last, used[used.length - 1]!, 20);
    for (let k = 0; k < 8 * hz; k++) {
      speed = Math.max(0, speed * (1 - 0.6 / hz) - 1.5 / hz);
      push(speed, Math.max(800, speed * last), used[used.length - 1]!, 0);
    }
  }
  // The pedal reaches the floor once, or its travel would not be known.
  for (let k = 0; k < 2 * hz; k++) push(0, 800, 0, k < hz ? 100 : 0);
  const columns = [time, v, n, gear, pedal].map((column) => Float64Array.from(column));
  return { time: columns[0]!, v: columns[1]!, n: columns[2]!, gear: columns[3]!, pedal: columns[4]! };
}
