import { exceeds } from '../../derived/exceeds.js';
import { namedEthanol } from '../../derived/fuel.js';
import type { Refusal } from '../../derived/recipe.js';
import { ethanolTrim } from '../../physics/fuel.js';
import type { Certainty } from '../../recording/recording.js';
import type { Context, Limit, Severity } from '../rule.js';
import { type Cell, LONG_ENOUGH, LONG_ENOUGH_TO_COMPARE, merged, REGIMES, type Regime } from './trim-cells.js';

/** What one drive shows of the trims. */
export interface TrimObservation {
  readonly cells: readonly Cell[];
  readonly banks: readonly string[];
  /** Banks without a short-term trim: their long-term trim is judged alone. */
  readonly withoutShort: readonly string[];
  /** Every long-term trim is exactly 0 throughout: the learned values were reset. */
  readonly allLongZero: boolean;
  /** Regimes that could not be told, and why. */
  readonly missing: Readonly<Partial<Record<Regime, Refusal>>>;
  readonly purgeKnown: boolean;
  readonly ethanolKnown: boolean;
  readonly closedLoopCertain: boolean;
  readonly certainties: readonly { readonly certainty: Certainty }[];
}

export interface Found {
  readonly cell: Cell;
  readonly severity: Severity;
  readonly limit: Limit;
}

export interface Difference {
  readonly regime: Regime;
  readonly banks: readonly [string, string];
  readonly value: number;
  readonly uncertainty: number;
  readonly samples: number;
  readonly beyond: boolean;
}

/** Cells of the car that last long enough, in the order of regimes and banks. */
export function cellsOf(seen: readonly TrimObservation[], banks: readonly string[]): Cell[] {
  const cells: Cell[] = [];
  for (const regime of REGIMES) {
    for (const bank of banks) {
      const parts = seen.flatMap((each) => each.cells.filter((cell) => cell.regime === regime && cell.bank === bank));
      if (parts.length === 0) continue;
      const cell = merged(parts);
      if (cell.seconds >= LONG_ENOUGH - 1e-6) cells.push(cell);
    }
  }
  return cells;
}

/** Highest limit that the cell is beyond for certain. */
export function severityOf(cell: Cell, limits: Readonly<Record<string, Limit>>): Found[] {
  const size = Math.abs(cell.value);
  const beyond = (limit: Limit): boolean => exceeds(size, cell.uncertainty, limit.value, limit.comparison) === 'beyond';
  const { watch, repair, stop, lean } = limits as Readonly<Record<'watch' | 'repair' | 'stop' | 'lean', Limit>>;
  if (cell.regime === 'load' && cell.value > 0 && beyond(stop) && (cell.pinned || cell.lambdaError > lean.value)) {
    return [{ cell, severity: 'stop', limit: stop }];
  }
  if (beyond(repair)) return [{ cell, severity: 'repair', limit: repair }];
  return beyond(watch) ? [{ cell, severity: 'watch', limit: watch }] : [];
}

export function differencesOf(cells: readonly Cell[], limit: Limit): Difference[] {
  return REGIMES.flatMap((regime): Difference[] => {
    const [a, b] = cells.filter((cell) => cell.regime === regime && cell.seconds >= LONG_ENOUGH_TO_COMPARE - 1e-6);
    if (a === undefined || b === undefined) return [];
    const value = a.value - b.value;
    const uncertainty = Math.hypot(a.uncertainty, b.uncertainty);
    const beyond = exceeds(Math.abs(value), uncertainty, limit.value, limit.comparison) === 'beyond';
    return [{ regime, banks: [a.bank, b.bank], value, uncertainty, samples: Math.min(a.samples, b.samples), beyond }];
  });
}

/** Trims of one car differ by less than this (points) between regimes and banks when the fuel alone is the reason. */
const UNIFORM = 6;
/** Petrol engines are mapped for up to this share of ethanol (EN 228: E10); below, nothing has to be explained. */
const ORDINARY_ETHANOL = 0.1;

/**
 * A uniform lean shift between none and what the profile's fuel asks of a map for pure petrol. Where the control unit
 * knows the ethanol content it corrects for it, and the trim has no such excuse.
 */
export function explainedByFuel(
  cells: readonly Cell[],
  seen: readonly TrimObservation[],
  context: Context,
  watch: Limit,
): boolean {
  const share = namedEthanol(context.vehicle.engine.fuel);
  if (!(share > ORDINARY_ETHANOL) || seen.some(({ ethanolKnown }) => ethanolKnown) || cells.length < 2) return false;
  const values = cells.map(({ value }) => value);
  const low = Math.min(...values);
  const high = Math.max(...values);
  return high > watch.value && high - low <= UNIFORM && low > 0 && high <= ethanolTrim(share) + UNIFORM / 2;
}
