import { converter, type Unit } from '../units/index.js';
import { type Candidate, mapLine, type Pending, type ProblemList, type Rejection } from './candidate.js';
import type { Catalogue, ChannelFacts, Recognition, Unrecognised } from './catalogue.js';
import { ABSURD } from './cleaning.js';
import type { ColumnOverride } from './column-map.js';
import { chooseUnit, rejected } from './column-unit.js';
import type { RawColumn } from './raw.js';
import type { Certainty, Place } from './recording.js';

const EMPTY = 'Columns without a single value';
/** Places that a map file may name. */
const PLACES: readonly Place[] = [
  'sump',
  'clutch-outlet',
  'cooler-inlet',
  'before-compressor',
  'before-throttle',
  'manifold',
  'before-turbine',
  'after-turbine',
];

/** Channels that several instruments measure: the source row or name of the better-known stand-in. */
const BY_SOURCE: Readonly<Record<string, readonly (readonly [RegExp, string])[]>> = {
  vehicleSpeed: [[/\bgps\b|\bgnss\b/i, 'gpsSpeed']],
};

/** Reads one column as far as its own name and values allow: channel, unit, numbers. Cleaning comes later. */
export function readColumn(
  column: RawColumn,
  override: ColumnOverride | undefined,
  catalogue: Catalogue,
  problems: ProblemList,
): Candidate | Rejection {
  if (override?.channel === null) return rejected(column, undefined, 'left out by the map file', false);
  const found = identify(column, override, catalogue, problems);
  if ('column' in found) return found;
  const { facts, certainty, recognition } = found;
  if (column.filled === 0) {
    problems.collect('empty-column', column, EMPTY);
    return rejected(column, facts.id, `${facts.id}, but the column is empty`, false);
  }
  if (facts.kind === 'position') return rejected(column, facts.id, 'position of the car: not kept', false);
  if (facts.kind === 'time')
    return rejected(column, facts.id, 'a further time column; the time axis is another one', false);
  if (facts.kind === 'state' || facts.kind === 'flag') {
    return readState(column, override, facts, certainty, recognition, catalogue, problems);
  }
  return readNumber(column, override, facts, certainty, recognition, catalogue, problems);
}

interface Identity {
  readonly facts: ChannelFacts;
  readonly certainty: Certainty;
  readonly recognition: Recognition | Unrecognised;
}

function identify(
  column: RawColumn,
  override: ColumnOverride | undefined,
  catalogue: Catalogue,
  problems: ProblemList,
): Identity | Rejection {
  const { label, unitCell, sourceCell } = column;
  const recognition = catalogue.recognise({ label, unitCell, sourceCell });
  if (typeof override?.channel === 'string') {
    const facts = catalogue.facts(override.channel);
    if (facts !== undefined) return { facts, certainty: 'user', recognition };
    const near = catalogue.suggest(override.channel);
    const hint = near === undefined ? 'the channel list is in the documentation' : `did you mean "${near}"?`;
    const message = `the map file names channel "${override.channel}", which does not exist; ${hint}`;
    problems.add('channel-unknown', column, undefined, message);
    return rejected(column, undefined, message, true);
  }
  if (recognition.id === undefined) {
    if (column.filled === 0) problems.collect('empty-column', column, EMPTY);
    const empty = column.filled === 0 ? '; the column is empty' : '';
    return rejected(column, undefined, `not recognised: ${recognition.reason}${empty}`, true);
  }
  let id = recognition.id;
  for (const [source, other] of BY_SOURCE[id] ?? []) if (source.test(`${sourceCell} ${label}`)) id = other;
  const facts = catalogue.facts(id) ?? catalogue.facts(recognition.id);
  if (facts === undefined) return rejected(column, recognition.id, 'channel without a catalogue entry', true);
  return { facts, certainty: recognition.certainty, recognition };
}

/** Gear, selector, switches: texts become the catalogue's numbers, numbers stay, reverse in every coding becomes -1. */
function readState(
  column: RawColumn,
  override: ColumnOverride | undefined,
  facts: ChannelFacts,
  certainty: Certainty,
  recognition: Recognition | Unrecognised,
  catalogue: Catalogue,
  problems: ProblemList,
): Candidate {
  const numbers = column.texts.map((text) => catalogue.state(facts.base, text));
  const written = scaled(column.values, override);
  const values = new Float64Array(column.values.length);
  const reverse = facts.base === 'gear' || facts.base.startsWith('gear');
  let unknown = 0;
  for (let i = 0; i < values.length; i++) {
    const code = column.textCodes?.[i] ?? 0;
    let x = written[i]!;
    if (code > 0) {
      x = numbers[code - 1] ?? Number.NaN;
      if (Number.isNaN(x)) unknown++;
    }
    values[i] = reverse && (x === 14 || x === 15) ? -1 : x;
  }
  if (facts.kind === 'flag') switchToOne(values);
  const asSwitch =
    facts.base === 'converterClutchState' && override?.scale === undefined && closedAtOne(column, values, catalogue);
  const sure = asSwitch && certainty !== 'user' ? 'inferred' : certainty;
  const candidate = newCandidate(column, facts, sure, recognition, override, values, values, '');
  if (asSwitch) {
    const message = 'only 0 and 1 occur: read as a switch that is closed at 1';
    problems.add('state-inferred', column, facts.id, message);
    candidate.doubts.push(`${message}; if 1 is slipping on purpose, ${mapLine(column, 'scale: 1')}`);
  }
  if (unknown > 0) {
    const texts = column.texts.filter((_, k) => numbers[k] === undefined).slice(0, 5);
    const quoted = texts.map((text) => `"${text.slice(0, 20)}"`).join(', ');
    problems.add(
      'state-unknown',
      column,
      facts.id,
      `${unknown} cells hold texts that are not known (${quoted}); set aside`,
      {
        count: unknown,
      },
    );
    candidate.doubts.push(`texts not known: ${quoted}`);
  }
  return candidate;
}

/** A column of numbers that holds both 0 and 1 and nothing else: 1 becomes closed. Changes `values`. */
function closedAtOne(column: RawColumn, values: Float64Array, catalogue: Catalogue): boolean {
  const atOne = catalogue.state('converterClutchState', 'closed');
  if (column.texts.length > 0 || atOne === undefined) return false;
  let [open, closed] = [false, false];
  for (const x of values) {
    if (x === 0) open = true;
    else if (x === 1) closed = true;
    else if (!Number.isNaN(x)) return false;
  }
  if (!(open && closed)) return false;
  for (let i = 0; i < values.length; i++) if (values[i] === 1) values[i] = atOne;
  return true;
}

/** A switch logged as 0 and one other number (100 %, 255) is 0 and 1; everything else is left. Changes `values`. */
function switchToOne(values: Float64Array): void {
  let on = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x) || x === 0) continue;
    if (Number.isNaN(on)) on = x;
    else if (x !== on) return;
  }
  const zeros = values.includes(0);
  if (!zeros || Number.isNaN(on) || on < 1) return;
  for (let i = 0; i < values.length; i++) if (values[i] === on) values[i] = 1;
}

function readNumber(
  column: RawColumn,
  override: ColumnOverride | undefined,
  facts: ChannelFacts,
  certainty: Certainty,
  recognition: Recognition | Unrecognised,
  catalogue: Catalogue,
  problems: ProblemList,
): Candidate | Rejection {
  const raw = scaled(column.values, override);
  const texts = countTexts(column);
  const chosen = chooseUnit(column, override, facts, recognition, raw, catalogue, problems);
  if ('column' in chosen) return chosen;
  const { unit, text, inferred, doubt } = chosen;
  const pending = unit.id === 'AFR' ? 'afr' : pendingReference(facts, unit.gauge ?? recognition.gauge);
  const values = unit.id === 'AFR' ? raw : converted(raw, unit, facts.unit);
  const level: Certainty =
    certainty === 'user' || override?.unit !== undefined ? 'user' : inferred ? 'inferred' : certainty;
  const candidate = newCandidate(column, facts, level, recognition, override, raw, values, text);
  candidate.pending = pending;
  if (doubt !== undefined) candidate.doubts.push(doubt);
  if (texts > 0) {
    problems.add(
      'text-in-number',
      column,
      facts.id,
      `${texts} cells hold texts where numbers are expected; set aside`,
      {
        count: texts,
      },
    );
  }
  return candidate;
}

/** What is open about the zero of a pressure. */
function pendingReference(facts: ChannelFacts, stated: boolean | undefined): Pending | undefined {
  if (facts.gauge === undefined || stated === facts.gauge) return undefined;
  if (stated === true) return 'gauge';
  if (stated === false) return 'absolute';
  return facts.intake ? 'reference' : undefined;
}

function newCandidate(
  column: RawColumn,
  facts: ChannelFacts,
  certainty: Certainty,
  recognition: Recognition | Unrecognised,
  override: ColumnOverride | undefined,
  raw: Float64Array,
  values: Float64Array,
  sourceUnit: string,
): Candidate {
  const place = PLACES.find((known) => known === override?.place) ?? recognition.place;
  const reason = certainty === 'user' ? 'by the map file' : recognition.reason;
  return {
    column,
    facts,
    certainty,
    sourceUnit,
    raw,
    values,
    pending: undefined,
    place,
    reasons: [reason],
    doubts: [],
    userScaled: override?.scale !== undefined,
    runs: undefined,
    changes: undefined,
    rate: Number.NaN,
    groupRate: Number.NaN,
    removed: { sentinel: 0, implausible: 0, spike: 0, frozen: 0 },
    frozen: [],
    saturated: [],
  };
}

function scaled(values: Float64Array, override: ColumnOverride | undefined): Float64Array {
  const scale = override?.scale ?? 1;
  const offset = override?.offset ?? 0;
  if (scale === 1 && offset === 0) return values;
  const out = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) out[i] = values[i]! * scale + offset;
  return out;
}

/** Converts once, at the door. Infinities and absurd markers stay what they are, so that cleaning can count them. */
function converted(raw: Float64Array, from: Unit, to: string): Float64Array {
  if (from.id === to) return raw;
  const out = new Float64Array(raw.length);
  const convert = converter(from, to);
  for (let i = 0; i < raw.length; i++) {
    const x = raw[i]!;
    out[i] = Math.abs(x) >= ABSURD ? x : convert(x);
  }
  return out;
}

function countTexts(column: RawColumn): number {
  if (column.textCodes === undefined) return column.rejected;
  let count = column.rejected;
  for (let i = 0; i < column.textCodes.length; i++) if (column.textCodes[i]! > 0) count++;
  return count;
}
