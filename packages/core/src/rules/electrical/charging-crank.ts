import type { CrankPlateau } from '../../derived/crank-voltage.js';
import { exceeds } from '../../derived/exceeds.js';
import type { Limit, LimitDefinition } from '../rule.js';

const BCI = 'from memory: BCI Battery Service Manual, load-test table (15 s at half the cold-cranking rating)';

/** Battery temperature (degC) of each row of the table, by the name of its limit, warm to cold. */
const CRANK_ROWS = [
  { name: 'crank-warm', at: 21, value: 9.6 },
  { name: 'crank-cool', at: 10, value: 9.4 },
  { name: 'crank-freezing', at: -1, value: 9.1 },
  { name: 'crank-deep-cold', at: -18, value: 8.5 },
] as const;

export const CRANK_LIMITS: readonly LimitDefinition[] = CRANK_ROWS.map(({ name, at, value }) => ({
  name,
  value,
  unit: 'V',
  comparison: '<',
  source: BCI,
  about: `voltage while cranking, battery at ${at} °C; linear between the rows`,
}));

export interface CrankLimit {
  /** V */
  readonly value: number;
  /** V/K, by which a temperature that is not well known moves it. */
  readonly slope: number;
}

/**
 * NaN in gives NaN out. Lowest voltage (V) of a sound battery under a starter at a battery temperature (degC): linear
 * between the rows of the table; above its warm end the warm row, below its cold end undefined: the table says nothing.
 */
export function crankLimit(temperature: number, limits: Readonly<Record<string, Limit>>): CrankLimit | undefined {
  const [warmest] = CRANK_ROWS;
  if (temperature > warmest.at) return { value: limits[warmest.name]!.value, slope: 0 };
  for (let i = 1; i < CRANK_ROWS.length; i++) {
    const upper = CRANK_ROWS[i - 1]!;
    const lower = CRANK_ROWS[i]!;
    if (temperature < lower.at) continue;
    const slope = (limits[upper.name]!.value - limits[lower.name]!.value) / (upper.at - lower.at);
    return { value: limits[lower.name]!.value + slope * (temperature - lower.at), slope };
  }
  return Number.isNaN(temperature) ? { value: Number.NaN, slope: Number.NaN } : undefined;
}

export interface JudgedCrank {
  readonly plateau: CrankPlateau;
  readonly limit: CrankLimit;
  /** V, of the plateau against its limit: both voltage and temperature. */
  readonly u: number;
  readonly weak: boolean;
}

/** The plateau against the table; undefined below its cold end. */
export function judgeCrank(plateau: CrankPlateau, limits: Readonly<Record<string, Limit>>): JudgedCrank | undefined {
  const limit = crankLimit(plateau.temperature, limits);
  if (limit === undefined) return undefined;
  const u = Math.hypot(plateau.u, limit.slope * plateau.temperatureU);
  return { plateau, limit, u, weak: exceeds(plateau.voltage, u, limit.value, '<') === 'beyond' };
}
