import { converter, type Unit } from '../units/index.js';
import { type Candidate, mapLine, type Pending, type ProblemList, type Rejection } from './candidate.js';
import type { Catalogue, ChannelFacts, Recognition, Unrecognised } from './catalogue.js';
import { ABSURD, isMarker } from './cleaning.js';
import type { ColumnOverride } from './column-map.js';
import type { RawColumn } from './raw.js';
import type { Certainty, Place } from './recording.js';
import { trimForm } from './trim-form.js';
import { judgeStatedUnit, unitFor } from './unit-choice.js';

const EMPTY = 'Columns without a single value';
const ASSUMED = 'Columns that name no unit, read in the usual one because their values are plausible in it';

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
    return readState(column, facts, certainty, recognition, catalogue, problems);
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
    const [first] = recognition.candidates;
    return rejected(column, undefined, `not recognised: ${recognition.reason}${empty}`, true, [
      `${first === undefined ? 'to use it' : `may be ${recognition.candidates.join(' or ')}`}; ${mapLine(column, `channel: ${first ?? 'CHANNEL'}`)}`,
    ]);
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
  facts: ChannelFacts,
  certainty: Certainty,
  recognition: Recognition | Unrecognised,
  catalogue: Catalogue,
  problems: ProblemList,
): Candidate {
  const numbers = column.texts.map((text) => catalogue.state(facts.base, text));
  const values = new Float64Array(column.values.length);
  const reverse = facts.base === 'gear' || facts.base.startsWith('gear');
  let unknown = 0;
  for (let i = 0; i < values.length; i++) {
    const code = column.textCodes?.[i] ?? 0;
    let x = column.values[i]!;
    if (code > 0) {
      x = numbers[code - 1] ?? Number.NaN;
      if (Number.isNaN(x)) unknown++;
    }
    values[i] = reverse && (x === 14 || x === 15) ? -1 : x;
  }
  const candidate = newCandidate(column, facts, certainty, recognition, undefined, values, values, '');
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

interface ChosenUnit {
  readonly unit: Unit;
  /** As written, or the unit's id when inferred. */
  readonly text: string;
  readonly inferred: boolean;
  readonly doubt?: string;
}

function chooseUnit(
  column: RawColumn,
  override: ColumnOverride | undefined,
  facts: ChannelFacts,
  recognition: Recognition | Unrecognised,
  raw: Float64Array,
  catalogue: Catalogue,
  problems: ProblemList,
): ChosenUnit | Rejection {
  if (override?.unit !== undefined) {
    const unit = unitFor(override.unit, facts);
    if (unit !== undefined) return { unit, text: unit.id, inferred: false };
    const message = `the map file gives unit "${override.unit}", expected one that converts to ${facts.unit}`;
    problems.add('unit-unknown', column, facts.id, message);
    return rejected(column, facts.id, message, false);
  }
  const stated = recognition.unit;
  const factor = trimFactor(column, facts, stated, raw, problems);
  if (factor !== undefined) return factor;
  if (stated !== undefined && stated.trim() !== '') {
    const unit = unitFor(stated, facts);
    if (unit !== undefined) return checkStated(column, facts, unit, stated, raw, problems);
    const message = `unit "${stated}" is not known or does not fit ${facts.id} (${facts.unit})`;
    problems.add('unit-unknown', column, facts.id, message);
    return rejected(column, facts.id, message, false, [mapLine(column, `unit: ${facts.unit}`)]);
  }
  return inferredUnit(column, facts, raw, recognition.gauge, catalogue, problems);
}

/** A fuel trim logged as a factor around 1.00, when unit and values say so; undefined for every other column. */
function trimFactor(
  column: RawColumn,
  facts: ChannelFacts,
  stated: string | undefined,
  raw: Float64Array,
  problems: ProblemList,
): ChosenUnit | undefined {
  if (!facts.base.startsWith('fuelTrim')) return undefined;
  const unit = unitFor('factor', facts);
  if (unit === undefined || trimForm(raw) !== 'factor') return undefined;
  const named = stated === undefined ? undefined : unitFor(stated, facts)?.id;
  if (named === 'factor') return undefined;
  if (named === '%') {
    // A long trim may rest near 1 % for a whole drive; a short trim swings through 0.
    const doubt = 'header says percent, but the values lie closely around 1.00 like a factor';
    problems.add('unit-doubtful', column, facts.id, doubt);
    if (!facts.base.includes('Short')) return undefined;
    return {
      unit,
      text: 'factor',
      inferred: true,
      doubt: `${doubt}; to settle it, ${mapLine(column, 'unit: factor')}`,
    };
  }
  problems.add(
    'trim-factor',
    column,
    facts.id,
    'values lie closely around 1.00: read as a factor and turned into percent',
  );
  return { unit, text: 'factor', inferred: true };
}

function inferredUnit(
  column: RawColumn,
  facts: ChannelFacts,
  raw: Float64Array,
  gauge: boolean | undefined,
  catalogue: Catalogue,
  problems: ProblemList,
): ChosenUnit | Rejection {
  const own = unitFor(facts.unit, facts);
  if (own !== undefined && facts.quantity === 'number') return { unit: own, text: '', inferred: false };
  const { unit: id, candidates, reason } = catalogue.inferUnit(facts.id, thinned(raw), gauge);
  const unit = id === undefined ? undefined : unitFor(id, facts);
  if (unit !== undefined) {
    if (unit.id === own?.id) problems.collect('unit-assumed', column, ASSUMED);
    else problems.add('unit-inferred', column, facts.id, `no unit given; read as ${unit.id}: ${reason}`);
    return { unit, text: unit.id, inferred: true };
  }
  // A constant that no gauge reads has no unit to find; the test for unsupported columns names it.
  if (own !== undefined && raw.length > 0 && isConstant(raw) && !inRange(raw, facts)) {
    return { unit: own, text: '', inferred: true };
  }
  const several =
    candidates.length > 1 ? `several fit (${candidates.join(', ')})` : `none that is known fits: ${reason}`;
  const message = `no unit given and ${several}; not used`;
  problems.add('unit-ambiguous', column, facts.id, message);
  const first = candidates[0] ?? facts.unit;
  return rejected(column, facts.id, message, false, [`${message}; ${mapLine(column, `unit: ${first}`)}`]);
}

function checkStated(
  column: RawColumn,
  facts: ChannelFacts,
  unit: Unit,
  stated: string,
  raw: Float64Array,
  problems: ProblemList,
): ChosenUnit | Rejection {
  if (isConstant(raw)) return { unit, text: stated, inferred: false };
  const judged = judgeStatedUnit(unit, facts, raw);
  if (judged.verdict === 'fits') return { unit, text: stated, inferred: false };
  const share = `${Math.round((1 - judged.share) * 100)} % of the samples are not plausible in the stated unit "${stated}"`;
  if (judged.verdict === 'contradicted') {
    const other = unitFor(judged.alternative, facts)!;
    const doubt = `${share}, nearly all are in ${other.id}: read as ${other.id}`;
    problems.add('unit-doubtful', column, facts.id, doubt);
    return {
      unit: other,
      text: other.id,
      inferred: true,
      doubt: `${doubt}; to settle it, ${mapLine(column, `unit: ${other.id}`)}`,
    };
  }
  if (judged.verdict === 'partly') {
    problems.add('unit-doubtful', column, facts.id, share);
    return {
      unit,
      text: stated,
      inferred: false,
      doubt: `${share}; to settle it, ${mapLine(column, `unit: ${unit.id}`)}`,
    };
  }
  const others =
    judged.alternatives.length > 0 ? `, possible are ${judged.alternatives.join(', ')}` : ', and no usual unit fits';
  const message = `${share}${others}; not used`;
  problems.add('unit-doubtful', column, facts.id, message);
  return rejected(column, facts.id, message, false, [
    `${message}; ${mapLine(column, `unit: ${judged.alternatives[0] ?? unit.id}`)}`,
  ]);
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
    rate: Number.NaN,
    groupRate: Number.NaN,
    removed: { sentinel: 0, implausible: 0, spike: 0, frozen: 0 },
    frozen: [],
    saturated: [],
  };
}

function rejected(
  column: RawColumn,
  channel: string | undefined,
  reason: string,
  unrecognised: boolean,
  doubts: readonly string[] = [],
): Rejection {
  return { column, channel, reason, doubts, unrecognised };
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

/** Up to 4000 samples evenly taken, without markers that no unit makes plausible. */
function thinned(raw: Float64Array): Float64Array {
  const stride = Math.max(1, Math.floor(raw.length / 4000));
  const kept: number[] = [];
  for (let i = 0; i < raw.length; i += stride) {
    const x = raw[i]!;
    if (!Number.isNaN(x) && !(Math.abs(x) > 9000 && isMarker(x))) kept.push(x);
  }
  return Float64Array.from(kept);
}

function inRange(raw: Float64Array, facts: ChannelFacts): boolean {
  const x = raw.find((value) => !Number.isNaN(value)) ?? Number.NaN;
  return x !== 0 && !isMarker(x) ? true : x >= facts.physics.min && x <= facts.physics.max;
}

function isConstant(values: Float64Array): boolean {
  let first = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (Number.isNaN(first)) first = x;
    else if (x !== first) return false;
  }
  return true;
}

function countTexts(column: RawColumn): number {
  if (column.textCodes === undefined) return column.rejected;
  let count = column.rejected;
  for (let i = 0; i < column.textCodes.length; i++) if (column.textCodes[i]! > 0) count++;
  return count;
}
