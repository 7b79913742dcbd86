import { mixtureQuantile } from '../../math/student-mixture.js';
import { dateOf } from './calendar.js';
import type { TrendChange } from './car-trend.js';
import { type Line, sizesOf } from './lines.js';
import type { Moment } from './moment.js';

/** What the change most likely is: kind by the belief of all its shapes, onset and size by those of that kind. */
export function changeOf(
  { days, start }: Moment,
  lines: readonly Line[],
  direction: 'higher' | 'lower',
): TrendChange | null {
  const share = (of: readonly Line[]): number => of.reduce((sum, { weight }) => sum + weight, 0);
  const drifts = lines.filter(({ shape }) => shape?.kind === 'drift');
  const steps = lines.filter(({ shape }) => shape?.kind === 'step');
  const kind = share(drifts) >= share(steps) ? 'drift' : 'step';
  const chosen = kind === 'drift' ? drifts : steps;
  const total = share(chosen);
  if (!(total > 0)) return null;
  const byOnset = [...chosen].sort((a, b) => onsetOf(a, start) - onsetOf(b, start));
  const onsetAt = (p: number): string => {
    let sum = 0;
    for (const line of byOnset) {
      sum += line.weight;
      if (sum >= p * total) return dateOf(days[onsetOf(line, start)]!);
    }
    return dateOf(days[onsetOf(byOnset.at(-1)!, start)]!);
  };
  const sizes = sizesOf(chosen);
  return {
    kind,
    direction,
    belief: total / share(lines),
    onset: { date: onsetAt(0.5), earliest: onsetAt(0.025), latest: onsetAt(0.975) },
    size: {
      value: mixtureQuantile(sizes, 0.5),
      low: mixtureQuantile(sizes, 0.025),
      high: mixtureQuantile(sizes, 0.975),
    },
    through: share(chosen.filter(({ shape }) => shape!.through)) > total / 2,
  };
}

function onsetOf({ shape }: Line, start: number): number {
  return shape === undefined ? start : shape.onset;
}
