/** What a unit measures. Two units convert into each other only within one quantity. */
export type Quantity =
  | 'time'
  | 'frequency'
  | 'rotation'
  | 'speed'
  | 'acceleration'
  | 'jerk'
  | 'length'
  | 'area'
  | 'angle'
  | 'mass'
  | 'density'
  | 'volume'
  | 'pressure'
  | 'temperature'
  | 'mass-flow'
  | 'volume-flow'
  | 'mass-per-stroke'
  | 'ratio'
  | 'number'
  | 'mixture'
  | 'voltage'
  | 'current'
  | 'resistance'
  | 'charge'
  | 'force'
  | 'torque'
  | 'power'
  | 'energy';

/**
 * A linear unit: base value = (value + offset) * factor / divisor. The divisor keeps exact ratios exact (5/9, 1/3.6).
 * A `reciprocal` unit is inverted first (phi = 1/lambda).
 */
export interface Unit {
  /** Spelling used in results: `km/h`, `degC`, `N.m`, `1`. */
  readonly id: string;
  readonly quantity: Quantity;
  readonly factor: number;
  readonly divisor: number;
  readonly offset: number;
  /** Pressure only: true = relative to ambient, false = absolute, absent = the spelling does not say. */
  readonly gauge?: boolean;
  readonly reciprocal?: true;
  /** Spellings as people write them; compared without case, spaces and signs unless `exact` spellings say otherwise. */
  readonly spellings: readonly string[];
}

/** Thrown for a unit that is not known or does not fit; the message says found, expected and how to mend. */
export class UnitError extends Error {
  override readonly name = 'UnitError';
}
