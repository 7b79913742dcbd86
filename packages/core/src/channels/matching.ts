import { type Unit, unitById } from '../units/index.js';
import type { ChannelDefinition, ChannelSystem } from './definition.js';
import type { HeadingReading } from './heading.js';
import { type Pattern, VOCABULARY } from './patterns.js';
import type { Place } from './place.js';
import { findPlace } from './placement.js';
import { fitPositions, type PositionMarks, type Positions, readPositions } from './positions.js';
import { repair } from './repair.js';
import { canonical, rawTokens } from './tokens.js';
import { NOISE, TREATED } from './words.js';

/** A heading as words, position marks and units. */
export interface WordReading {
  readonly heading: HeadingReading;
  readonly marks: PositionMarks;
  readonly words: ReadonlySet<string>;
  /** A misprint was mended. */
  readonly soft: boolean;
  readonly notes: readonly string[];
}

/** A wording that explains the whole heading. */
export interface Match {
  readonly definition: ChannelDefinition;
  readonly pattern: Pattern;
  readonly positions: Positions;
  readonly unit?: Unit;
  readonly unitText: string;
  readonly explained: number;
  readonly dropped: number;
  readonly soft: boolean;
  readonly notes: readonly string[];
  readonly gauge?: boolean;
  readonly place?: Place;
}

/** Why a wording whose words are all there does not explain the heading. */
export interface Miss {
  readonly definition: ChannelDefinition;
  readonly left: readonly string[];
  readonly fault?: string;
}

/** Words that a system's channels may carry without changing the meaning. */
const OWN_WORDS: Readonly<Record<ChannelSystem, readonly string[]>> = {
  time: [],
  engine: ['engine'],
  air: ['engine'],
  fuel: ['engine'],
  ignition: ['engine'],
  exhaust: ['engine'],
  transmission: ['transmission'],
  clutch: ['transmission', 'dual'],
  driveline: ['vehicle'],
  wheels: ['vehicle', 'wheel'],
  chassis: ['vehicle', 'car'],
  electrical: ['vehicle'],
  stored: ['stored', 'total'],
};

/** Words beside which a bare `rpm` is still the engine's. */
const OF_ENGINE: ReadonlySet<string> = new Set(['speed', 'target', 'limit', 'limiter', 'maximum']);

/** Turns one reading of a heading into words; `rpm` is a unit hint and stands for engine speed when alone. */
export function interpret(heading: HeadingReading, sourceCell: string): WordReading {
  const repaired = repair(rawTokens(heading.text), VOCABULARY);
  const marks = readPositions(canonical(repaired.tokens));
  const words = new Set(marks.words);
  if (/gps|gnss|satel/i.test(sourceCell.slice(0, 40))) words.add('gps');
  if (words.delete('acc')) words.add('accel');
  if (words.delete('accel')) {
    words.add(words.has('pedal') || words.has('position') ? 'accelerator' : 'acceleration');
  }
  if (words.has('abs')) {
    words.delete('abs');
    words.add(words.has('active') || words.has('brake') || words.has('intervention') ? 'antilock' : 'absolute');
  }
  // R of APP_R and TP_R: relative (SAE J1979 labels).
  const isRelative = marks.bare.includes('r') && (words.has('pedal') || words.has('throttle'));
  if (isRelative) words.add('relative');
  let units = heading.units;
  const speedUnit = words.size === 0 && marks.bare.length === 0 ? units[0] : undefined;
  if (speedUnit?.quantity === 'speed') words.add('speed');
  if (speedUnit?.id === 'rpm') words.add('rpm');
  if (words.delete('rpm')) {
    if (![...words].some((word) => !NOISE.has(word) && !OF_ENGINE.has(word))) words.add('engine');
    words.add('speed');
    if (units.length === 0 && heading.unitText === '') units = [unitById('rpm')!];
  }
  return {
    heading: { ...heading, units },
    marks: isRelative ? { ...marks, bare: marks.bare.filter((token) => token !== 'r') } : marks,
    words,
    soft: repaired.mended,
    notes: repaired.notes,
  };
}

type UnitFit = { readonly unit?: Unit; readonly note?: string; readonly fault?: string };

function fitUnit(
  definition: ChannelDefinition,
  { heading: reading, words }: WordReading,
  timeFormat: boolean,
): UnitFit {
  if (reading.units.length === 0) {
    if (reading.unitText === '' || (timeFormat && definition.kind === 'time')) return {};
    const fault = `the unit '${reading.unitText.slice(0, 20)}' is not known`;
    return definition.kind === 'state' || definition.kind === 'flag' ? { note: fault } : { fault };
  }
  const same = reading.units.find((unit) => unit.quantity === definition.quantity);
  if (same !== undefined) return { unit: same.id === 'lambda' ? unitById('1')! : same };
  const first = reading.units[0]!;
  if (first.id === '1') {
    // A dimensionless air-fuel ratio may be lambda or AFR: the values tell.
    if (definition.quantity === 'mixture' && !words.has('ratio')) return { unit: first };
    return { note: `'${reading.unitText}' names no unit of ${definition.quantity}` };
  }
  if (definition.quantity === 'temperature' && first.id === 'deg')
    return { note: `'${reading.unitText}' does not say which degree` };
  return { fault: `the unit ${first.id} (${first.quantity}) is no unit of ${definition.quantity}` };
}

/** Explains every word of the reading by one wording, or tells what is left over or does not fit. */
export function match(pattern: Pattern, reading: WordReading, timeFormat: boolean): Match | Miss {
  const { definition } = pattern;
  const required = new Set(pattern.required);
  const placed = findPlace(definition, reading.words, required);
  const bare = reading.marks.bare.filter((token) => !required.has(token));
  const fit = fitPositions(definition, { ...reading.marks, bare }, new Set([...pattern.required, ...pattern.optional]));
  const own = OWN_WORDS[definition.system];
  const left: string[] = [];
  let explained = required.size;
  let dropped = 0;
  let soft = reading.soft;
  let gauge: boolean | undefined;
  for (const word of reading.words) {
    if (required.has(word)) continue;
    if (pattern.optional.has(word) || ('explained' in fit && fit.explained.has(word)) || placed.words.has(word))
      explained++;
    else if (definition.quantity === 'pressure' && (word === 'absolute' || word === 'gauge' || word === 'relative')) {
      gauge = word !== 'absolute';
    } else if (NOISE.has(word) || own.includes(word) || (word === 'percent' && definition.quantity === 'ratio'))
      dropped++;
    else if ((word === 'cylinder' || word === 'bank' || word === 'clutch') && definition.positions.includes(word))
      dropped++;
    else if (TREATED.has(word)) soft = true;
    else left.push(word);
  }
  if (left.length > 0) return { definition, left };
  if ('fault' in fit) return { definition, left, fault: fit.fault };
  const unit = fitUnit(definition, reading, timeFormat);
  if (unit.fault !== undefined) return { definition, left, fault: unit.fault };
  if (pattern.strength === 'unit' && unit.unit === undefined) {
    return { definition, left, fault: `without a unit of ${definition.quantity} it may mean something else` };
  }
  const positions: Positions = { ...fit.positions };
  if (placed.sensor !== undefined && positions.sensor === undefined) positions.sensor = placed.sensor;
  if (definition.firstSensorIsPlain === true && positions.sensor === '1') delete positions.sensor;
  const said = unit.unit?.gauge ?? gauge;
  // LOAD_PCT: the name itself says per cent.
  const named = definition.quantity === 'ratio' && reading.words.has('percent') ? unitById('%') : undefined;
  const read = unit.unit ?? named;
  return {
    definition,
    pattern,
    positions,
    ...(read === undefined ? {} : { unit: read }),
    unitText: reading.heading.unitText,
    explained,
    dropped,
    soft,
    notes: unit.note === undefined ? reading.notes : [...reading.notes, unit.note],
    ...(said === undefined ? {} : { gauge: said }),
    ...(placed.place === undefined ? {} : { place: placed.place }),
  };
}
