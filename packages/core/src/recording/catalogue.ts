import type { Quantity } from '../units/index.js';
import type { Physics } from './cleaning.js';
import type { Place } from './recording.js';

/** What the reading of columns needs to know of a channel; one place that knows the shape of the channel catalogue. */
export interface ChannelFacts {
  /** Full id with position: `fuelTrimLong.bank1`. */
  readonly id: string;
  /** Id without position: `fuelTrimLong`. */
  readonly base: string;
  readonly unit: string;
  readonly quantity: Quantity;
  /** `time` = a further time axis, `position` = where the car was (never kept). */
  readonly kind: 'number' | 'state' | 'flag' | 'counter' | 'time' | 'position';
  readonly physics: Physics;
  /** Largest step that is still the sensor's or the format's, and not the thing measured moving; in `unit`. */
  readonly coarsest: number;
  /** Values that mean "not supported" when the whole column holds them, besides the sentinels of `physics`. */
  readonly constants: readonly number[];
  /** Pressure only: false = results carry it absolute, true = relative to the atmosphere, undefined = no pressure. */
  readonly gauge: boolean | undefined;
  /** Intake or charge pressure, whose reference can be told from its values. */
  readonly intake: boolean;
}

/** One column's name understood. */
export interface Recognition {
  readonly id: string;
  readonly certainty: 'certain' | 'likely';
  /** Unit text of the header or unit row; undefined when none was given. */
  readonly unit: string | undefined;
  /** Header says absolute (false) or relative to the atmosphere (true). */
  readonly gauge: boolean | undefined;
  readonly place: Place | undefined;
  /** How the name was understood; one clause. */
  readonly reason: string;
}

/** A name that was not understood with confidence. */
export interface Unrecognised {
  readonly id: undefined;
  readonly unit: string | undefined;
  readonly gauge: boolean | undefined;
  readonly place: undefined;
  readonly reason: string;
  /** Channels that it might be. */
  readonly candidates: readonly string[];
}

/** Units that make the values plausible when the column names none. */
export interface UnitInference {
  /** The only plausible unit. */
  readonly unit: string | undefined;
  /** All plausible units when there are several; empty when none. */
  readonly candidates: readonly string[];
  readonly reason: string;
}

export interface Catalogue {
  recognise(column: { label: string; unitCell: string; sourceCell: string }): Recognition | Unrecognised;
  facts(id: string): ChannelFacts | undefined;
  /** `gauge`: the heading says that the pressure is relative. */
  inferUnit(id: string, values: Float64Array, gauge: boolean | undefined): UnitInference;
  /** Remembers what a column that names no unit would be read as alone. @returns the unit that its family was found to share. */
  familyUnit?(id: string, values: Float64Array, alone: string): string | undefined;
  /** Number that a text of a state or flag column stands for; undefined when the text is not known. */
  state(base: string, text: string): number | undefined;
  /** The channel id that may have been meant; undefined when nothing is near. */
  suggest(text: string): string | undefined;
}
