import { median } from '../../math/quantile.js';
import type { Limit, Observed, RuleEvent, Severity } from '../rule.js';
import { type Offset, type Stretch, WHEELS, type Wheel, WORDS } from './wheel-speed-reading.js';

interface Seen {
  readonly deviations: readonly number[];
  readonly straight: Stretch;
  readonly offset: Offset | undefined;
}

/** The straight stretches of each drive: how far the wheel reads off, and how far the others do. */
export function deviationEvents(
  observed: readonly Observed<Seen>[],
  wheel: Wheel,
  severity: Severity,
  limit: Limit,
): RuleEvent[] {
  return observed.flatMap(({ input, observation: { deviations, straight } }) => {
    const own = deviations[WHEELS.indexOf(wheel)]!;
    if (Number.isNaN(own)) return [];
    const others = deviations.filter((_, k) => WHEELS[k] !== wheel).map(Math.abs);
    return [
      {
        input,
        ...straight,
        severity,
        what: `${WORDS[wheel]} wheel, straight ahead`,
        peak: { value: own, unit: '%' },
        otherWheels: { value: median(others), unit: '%' },
        limit: { value: limit.value, unit: '%' },
      },
    ];
  });
}

/** The straight stretches of each drive: where the steering wheel stands at no curvature. */
export function offsetEvents(observed: readonly Observed<Seen>[], severity: Severity, limit: Limit): RuleEvent[] {
  return observed.flatMap(({ input, observation: { offset, straight } }) =>
    offset === undefined
      ? []
      : [
          {
            input,
            ...straight,
            severity,
            what: 'steering wheel, straight ahead',
            peak: { value: offset.value, unit: 'deg' },
            uncertainty: { value: offset.u, unit: 'deg' },
            limit: { value: limit.value, unit: 'deg' },
          },
        ],
  );
}
