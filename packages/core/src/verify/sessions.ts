import type { Side } from './pull.js';

/** One recording, and when it was made. */
export interface Made {
  readonly input: number;
  readonly side: Side;
  /** Seconds since 1970-01-01 in the recording's own zone; undefined where its stamps hold no date. */
  readonly start: number | undefined;
  /** s */
  readonly duration: number;
}

/** `alternated` = before, after, before, after (or evenly balanced) in time; `not-told` = not every recording is dated. */
export type Order = 'alternated' | 'one-after-the-other' | 'not-told';

export interface Sessions {
  /** Session of each input. */
  readonly of: ReadonlyMap<number, number>;
  readonly order: Order;
}

/** Seconds of rest after which a car, its fluids and the weather begin anew. Common practice, no source. */
const REST = 2 * 3600;

/**
 * Recordings of one map that follow one another without a rest of two hours are one session. Undated recordings are each
 * a session of its own. The maps alternated when each has two sessions, the map changed twice or more, and neither lies later
 * on average by more than one session: a slow drift (weather, heat, fuel) then meets both alike.
 */
export function sessionsOf(made: readonly Made[]): Sessions {
  if (made.some(({ start }) => start === undefined))
    return { of: new Map(made.map(({ input }, k) => [input, k])), order: 'not-told' };
  const inOrder = [...made].sort((a, b) => a.start! - b.start! || a.input - b.input);
  const of = new Map<number, number>();
  const sides: Side[] = [];
  let end = Number.NEGATIVE_INFINITY;
  for (const { input, side, start, duration } of inOrder) {
    if (sides.at(-1) !== side || start! - end > REST) sides.push(side);
    of.set(input, sides.length - 1);
    end = Math.max(end, start! + duration);
  }
  return { of, order: isBalanced(sides) ? 'alternated' : 'one-after-the-other' };
}

function isBalanced(sides: readonly Side[]): boolean {
  const places = (which: Side): number[] => sides.flatMap((side, k) => (side === which ? [k] : []));
  const [before, after] = [places('before'), places('after')];
  if (before.length < 2 || after.length < 2) return false;
  const changes = sides.filter((side, k) => k > 0 && side !== sides[k - 1]).length;
  const middle = (all: readonly number[]): number => all.reduce((a, b) => a + b, 0) / all.length;
  return changes >= 2 && Math.abs(middle(before) - middle(after)) <= 1 + 1e-9;
}
