import { type Quantity, unitById } from '../units/index.js';
import type { Place } from './place.js';

export type ChannelSystem =
  | 'time'
  | 'engine'
  | 'air'
  | 'fuel'
  | 'ignition'
  | 'exhaust'
  | 'transmission'
  | 'clutch'
  | 'driveline'
  | 'wheels'
  | 'chassis'
  | 'electrical'
  | 'stored';

export type ChannelKind = 'measured' | 'commanded' | 'state' | 'flag' | 'counter' | 'stored' | 'time' | 'position';

export type PositionKind =
  | 'bank'
  | 'cylinder'
  | 'sensor'
  | 'wheel'
  | 'axle'
  | 'clutch'
  | 'turbo'
  | 'gear'
  | 'fork'
  | 'range';

/** A value that stands for "no signal" in some source format. Judged by quantity and persistence, never globally. */
export interface Sentinel {
  readonly value: number;
  /** Unit in which the source writes the value. */
  readonly unit: string;
  /** `any` = never a reading; `persistent` = only when it stays; `constant` = only when the column never changes. */
  readonly when: 'any' | 'persistent' | 'constant';
  readonly source: string;
}

/** What tells the units of a column without a unit apart, in the catalogue unit; see `inferUnit`. */
export interface Typical {
  /** Where the median lies in a normal recording. */
  readonly median?: readonly [number, number];
  /** Where the highest values (99.5th percentile) lie in a normal recording. */
  readonly peak?: readonly [number, number];
}

export interface ChannelDefinition {
  /** `fuelTrimLong`; positions follow after a dot: `fuelTrimLong.bank1`. */
  readonly id: string;
  readonly quantity: Quantity;
  /** Unit of every value behind the door of the library. */
  readonly unit: string;
  readonly system: ChannelSystem;
  readonly kind: ChannelKind;
  /** Positions the channel may carry. */
  readonly positions: readonly PositionKind[];
  /** What a bare number in a label means (`KR3`), one kind per digit group. */
  readonly numberMeans?: PositionKind;
  /** Position taken when the label names none; said in the reason. */
  readonly impliedPosition?: string;
  /** The first of several redundant sensors is the plain id (`TP_B` is `.sensor2`, `TP_A` the plain channel). */
  readonly firstSensorIsPlain?: true;
  /** Plausible values in `unit`; outside is no reading. */
  readonly range: readonly [number, number];
  /** Fastest physically possible change, `unit` per second, generous. */
  readonly rate?: number;
  /** Step of the SAE J1979 service 01 encoding in `unit`. */
  readonly resolution?: number;
  /** Service 01 parameter id(s), hexadecimal, whose scaling `resolution` is. */
  readonly pid?: string;
  readonly sentinels: readonly Sentinel[];
  /** Pressure only: true = values are relative to ambient, false = absolute. */
  readonly gauge?: boolean;
  readonly defaultPlace?: Place;
  /** What a positive value means, where sources disagree. */
  readonly signConvention?: string;
  readonly typical?: Typical;
  /** Wordings that name the channel, in words; order, case and punctuation do not matter. */
  readonly aliases: readonly string[];
  /** Wordings that usually, not always, mean it: certainty `likely`. */
  readonly weakAliases: readonly string[];
  /** Wordings that mean it only with a unit of the right quantity beside them (`n [rpm]`). */
  readonly unitAliases: readonly string[];
  readonly about: string;
  /** Where range, resolution and sentinels come from. */
  readonly source: string;
}

export interface DefinitionOptions {
  readonly kind?: ChannelKind;
  readonly quantity?: Quantity;
  readonly positions?: readonly PositionKind[];
  readonly number?: PositionKind;
  readonly implied?: string;
  readonly firstPlain?: true;
  readonly rate?: number;
  readonly resolution?: number;
  readonly pid?: string;
  readonly sentinels?: readonly Sentinel[];
  readonly gauge?: boolean;
  readonly place?: Place;
  readonly sign?: string;
  readonly typical?: Typical;
}

const J1979 = 'SAE J1979 / ISO 15031-5 scaling (public secondary copy)';

/** Raw 0 and raw 255 of the A-40 temperatures: broken or unsupported sensor. */
export const TEMPERATURE_ENDS: readonly Sentinel[] = [
  { value: -40, unit: 'degC', when: 'persistent', source: `${J1979}: raw 0 of A-40` },
  { value: 215, unit: 'degC', when: 'persistent', source: `${J1979}: raw 255 of A-40` },
];
/** Raw 255 of one-byte pressures: clipped or unsupported. */
export const BYTE_PRESSURE: readonly Sentinel[] = [
  { value: 255, unit: 'kPa', when: 'constant', source: `${J1979}: raw 255` },
];
export const BYTE_SPEED: readonly Sentinel[] = [
  { value: 255, unit: 'km/h', when: 'constant', source: `${J1979}: raw 255; 255 km/h is also a valid speed` },
];
export const BYTE_COUNT: readonly Sentinel[] = [
  { value: 255, unit: '1', when: 'constant', source: `${J1979}: raw 255, counter full or unsupported` },
];
export function wordEnd(unit: string, scale = 1): readonly Sentinel[] {
  return [{ value: 65535 * scale, unit, when: 'persistent', source: `${J1979}: raw 65535` }];
}
/** Error value of exchange formats; no quantity of a car reaches it. */
const HUGE: Omit<Sentinel, 'unit'> = {
  value: 1e10,
  when: 'any',
  source: 'seen in a public road-test exchange file (1e10)',
};

function parts(text: string): { firm: string[]; weak: string[]; unit: string[] } {
  const firm: string[] = [];
  const weak: string[] = [];
  const unit: string[] = [];
  for (const raw of text.split('|')) {
    const alias = raw.trim();
    if (alias.startsWith('~')) weak.push(alias.slice(1).trim());
    else if (alias.startsWith('?')) unit.push(alias.slice(1).trim());
    else if (alias !== '') firm.push(alias);
  }
  return { firm, weak, unit };
}

/** `(id, unit, range, wordings, about, options)`; wordings: `a | ~weak | ?only with unit`, words in () may be absent. */
export type Define = (
  id: string,
  unit: string,
  range: readonly [number, number],
  wordings: string,
  about: string,
  options?: DefinitionOptions,
) => ChannelDefinition;

/** A maker of frozen definitions for one system. */
export function definer(system: ChannelSystem): Define {
  return (id, unit, range, wordings, about, options = {}) => {
    const { firm, weak, unit: withUnit } = parts(wordings);
    const known = unitById(unit);
    if (known === undefined) throw new RangeError(`channel ${id}: unknown unit '${unit}'`);
    return Object.freeze({
      id,
      quantity: options.quantity ?? known.quantity,
      unit,
      system,
      kind: options.kind ?? (id.endsWith('Target') ? 'commanded' : 'measured'),
      positions: Object.freeze([...(options.positions ?? [])]),
      ...(options.number === undefined ? {} : { numberMeans: options.number }),
      ...(options.implied === undefined ? {} : { impliedPosition: options.implied }),
      ...(options.firstPlain === undefined ? {} : { firstSensorIsPlain: options.firstPlain }),
      range,
      ...(options.rate === undefined ? {} : { rate: options.rate }),
      ...(options.resolution === undefined ? {} : { resolution: options.resolution }),
      ...(options.pid === undefined ? {} : { pid: options.pid }),
      sentinels: Object.freeze([...(options.sentinels ?? []), { ...HUGE, unit }]),
      ...(options.gauge === undefined ? {} : { gauge: options.gauge }),
      ...(options.place === undefined ? {} : { defaultPlace: options.place }),
      ...(options.sign === undefined ? {} : { signConvention: options.sign }),
      ...(options.typical === undefined ? {} : { typical: options.typical }),
      aliases: Object.freeze(firm),
      weakAliases: Object.freeze(weak),
      unitAliases: Object.freeze(withUnit),
      about,
      source:
        options.pid === undefined
          ? 'range and rate: common practice, no source'
          : `${J1979}, PID ${options.pid}; range and rate: common practice`,
    });
  };
}
