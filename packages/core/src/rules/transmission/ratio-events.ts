import type { LearnedRatio, LearnedRatios } from '../../derived/ratio-clusters.js';
import type { Matching } from '../../derived/ratio-matching.js';
import { median } from '../../math/quantile.js';
import type { Limit, Observed, RuleEvent } from '../rule.js';

/** The longest stretch in which a gear was held, seconds of recording time; NaN where it never was. */
export interface Held {
  readonly from: number;
  readonly to: number;
}

/** Longest step of time (s) that still belongs to a gear. */
const GAP = 2.5;

/** Per learned ratio the longest stretch of rows in it, of those without load where there are any. NaN in `gear` is no gear. */
export function longestHeld(
  time: Float64Array,
  { gear, ratios }: Pick<LearnedRatios, 'gear' | 'ratios'>,
  loaded?: Uint8Array,
): Held[] {
  const calm: Held[] = ratios.map(() => ({ from: Number.NaN, to: Number.NaN }));
  const any = [...calm];
  const offer = (list: Held[], g: number, from: number, to: number): void => {
    const known = list[g - 1]!;
    if (!(to - from <= known.to - known.from) && to > from) list[g - 1] = { from, to };
  };
  for (let i = 0; i < time.length; ) {
    const g = gear[i]!;
    let end = i + 1;
    let start = i;
    while (end < time.length && gear[end] === g && time[end]! - time[end - 1]! <= GAP) {
      if (loaded !== undefined && loaded[end] !== loaded[start]) {
        if (g >= 1 && loaded[start] === 0) offer(calm, g, time[start]!, time[end - 1]!);
        start = end;
      }
      end++;
    }
    if (g >= 1) offer(any, g, time[i]!, time[end - 1]!);
    if (g >= 1 && loaded?.[start] === 0) offer(calm, g, time[start]!, time[end - 1]!);
    i = end;
  }
  return calm.map((each, k) => (Number.isNaN(each.from) ? any[k]! : each));
}

interface Seen {
  readonly ratios: readonly LearnedRatio[];
  readonly held: readonly Held[];
  readonly matching?: Matching;
}

interface Off {
  readonly lower: number;
  readonly upper: number;
  /** Measured over profile less one, %. */
  readonly off: number;
}

/** Where both gears of each step that is off were held longest: what was measured there, what the profile says, how far the other steps are off. */
export function ratioEvents(
  observed: readonly Observed<Seen>[],
  off: readonly Off[],
  steps: readonly Off[],
  gears: readonly number[],
  limit: Limit,
): RuleEvent[] {
  const others = steps.filter((step) => !off.includes(step)).map((step) => Math.abs(step.off));
  return observed.flatMap(({ input, observation: { ratios, held, matching } }) => {
    const matches = matching?.matches ?? [];
    const scale = matching === undefined ? Number.NaN : matching.scale * matching.expected;
    return off.flatMap((step) => {
      const both = matches.filter(({ gear }) => gear === step.lower || gear === step.upper);
      return both.flatMap(({ index, gear }): RuleEvent[] => {
        const { from, to } = held[index]!;
        if (both.length < 2 || Number.isNaN(from)) return [];
        const { value, u } = ratios[index]!;
        const expected = gears[gear - 1]! * scale;
        return [
          {
            input,
            from,
            to,
            severity: 'watch',
            what: `gear ${gear} of step ${step.lower} to ${step.upper}`,
            ratio: { value, unit: 'rpm/(km/h)' },
            uncertainty: { value: u, unit: 'rpm/(km/h)' },
            ...(Number.isNaN(expected) ? {} : { byProfile: { value: expected, unit: 'rpm/(km/h)' } }),
            step: { value: step.off, unit: '%' },
            ...(others.length === 0 ? {} : { otherSteps: { value: median(others), unit: '%' } }),
            limit: { value: limit.value, unit: '%' },
          },
        ];
      });
    });
  });
}
