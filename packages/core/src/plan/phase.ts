/** Where a phase may be driven. */
export type Where = 'standing' | 'road' | 'closed-course';

/** One part of a visit: what is done, for how long, in words for the people in and beside the car. */
export interface Phase {
  /** A noun, e.g. `hot-idle`. */
  readonly id: string;
  readonly title: string;
  /** Minutes that it takes, rounded up; warm-up on the way to it not counted. */
  readonly minutes: number;
  readonly where: Where;
  /** Shows as much on a dynamometer as on a closed course. */
  readonly dynamometer?: true;
  /** Needs an engine that is cold, or one that is warm. */
  readonly needs?: 'cold' | 'warm';
  /** In order, each one thing to do. */
  readonly steps: readonly string[];
  /** What to beware of in this phase. */
  readonly cautions: readonly string[];
  /** Further cautions for a car that drives all wheels, or of which that is not known. */
  readonly allWheelDrive?: readonly string[];
  /** Kinds of gearbox that it makes sense for; all when absent. */
  readonly kinds?: readonly ('dual-clutch' | 'converter' | 'manual')[];
}

/** What is read out of the control units while the car stands; no driving. */
export interface ReadOut {
  readonly id: string;
  readonly title: string;
  readonly items: readonly string[];
  readonly proves: readonly string[];
}
