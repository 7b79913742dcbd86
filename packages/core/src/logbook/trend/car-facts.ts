import type { Axis } from './axis.js';
import type { DatedNote, Look } from './looks.js';

/** What all measures of a car share. */
export interface CarFacts {
  readonly looks: readonly Look[];
  readonly notes: readonly DatedNote[];
  readonly axis: Axis;
}
