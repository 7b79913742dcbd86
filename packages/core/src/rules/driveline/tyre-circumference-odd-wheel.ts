import type { Ratio } from './tyre-circumference-reading.js';

/** One wheel that rolls unlike the other three. */
export interface OddWheel {
  readonly axle: 'front' | 'rear';
  readonly wheel: string;
  /** % by which it rolls faster than the others, and its standard uncertainty. */
  readonly value: number;
  readonly u: number;
}

/** Share of the difference of one axle that the other axle, or what one wheel leaves unexplained, may show. Common practice, no source. */
const ALIKE = 0.25;

/**
 * Undefined where no single wheel explains what is seen. A wheel that rolls faster by d moves the ratio of its sides by
 * d and that of the axles by d / 2, and leaves the other axle alone; of two wheels at fault or an axle with other tyres
 * at least one of these is not so. NaN in any ratio gives undefined. Derived.
 * @param axle front over rear, % · front, rear: left over right, %
 */
export function oddWheel(axle: Ratio, front: Ratio, rear: Ratio): OddWheel | undefined {
  const own = Math.abs(front.value) >= Math.abs(rear.value) ? 'front' : 'rear';
  const [side, other] = own === 'front' ? [front, rear] : [rear, front];
  if (!(Math.abs(other.value) <= ALIKE * Math.abs(side.value))) return undefined;
  for (const which of ['left', 'right'] as const) {
    const value = which === 'left' ? side.value : -side.value;
    const expected = (own === 'front' ? value : -value) / 2;
    const reach = Math.max((ALIKE * Math.abs(side.value)) / 2, 2 * Math.hypot(axle.u, side.u / 2));
    // Small differences are explained by anything.
    if (reach < Math.abs(expected) && Math.abs(axle.value - expected) <= reach)
      return { axle: own, wheel: `${own} ${which} wheel`, value, u: side.u };
  }
  return undefined;
}
