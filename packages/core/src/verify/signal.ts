import type { Drive, Refusal } from '../derived/recipe.js';

/** One quantity of one cylinder, bank or the whole engine, row by row over a drive. */
export interface RowSignal {
  /** `cylinder 3`, `bank 1`; empty for the whole engine. */
  readonly member: string;
  /** NaN where there is no sample, or where a sample says nothing about the map. */
  readonly values: Float64Array;
  /** Standard uncertainty of one value, in the unit of the quantity; of relative ones `relative` times the value. */
  readonly u: number;
  readonly relative?: boolean;
  /** Fresh values per second. */
  readonly hz: number;
  /** 1 where the sensor stands at the end of its range: the value is a bound. */
  readonly clipped?: Uint8Array;
}

/** A quantity that pulls are measured by. */
export interface Quantity {
  readonly id: string;
  readonly unit: string;
  /** What it is, by which formula. */
  readonly about: string;
  readonly read: (drive: Drive) => readonly RowSignal[] | Refusal;
}

/** `knockRetard.cylinder3` -> `cylinder 3`, `lambda.bank1.sensor1` -> `bank 1 sensor 1`, `lambda` -> ``. */
export function memberOf(id: string): string {
  return id
    .split('.')
    .slice(1)
    .map((part) => part.replace(/(\d+)$/, ' $1'))
    .join(' ');
}

/** What one drive said of each quantity: read once, however many ask. */
export type Readings = (quantity: Quantity) => readonly RowSignal[] | Refusal;

/** Readings of a drive, each taken when it is first asked for. */
export function readingsOf(drive: Drive): Readings {
  const known = new Map<string, readonly RowSignal[] | Refusal>();
  return (quantity) => {
    let found = known.get(quantity.id);
    if (found === undefined) {
      found = quantity.read(drive);
      known.set(quantity.id, found);
    }
    return found;
  };
}
