import type { Unit } from '../units/index.js';
import { mapLine, type ProblemList, type Rejection } from './candidate.js';
import type { Catalogue, ChannelFacts, Recognition, Unrecognised } from './catalogue.js';
import { isMarker } from './cleaning.js';
import type { ColumnOverride } from './column-map.js';
import { constantOf } from './constant.js';
import type { RawColumn } from './raw.js';
import { trimForm } from './trim-form.js';
import { judgeStatedUnit, unitFor } from './unit-choice.js';

/** Headings that say the number is an air ratio, which has no unit. */
const UNITLESS = /lambda|λ|equivalence|eq[\s_-]*rat/i;

const ASSUMED = 'Columns that name no unit, read in the usual one because their values are plausible in it';

interface ChosenUnit {
  readonly unit: Unit;
  /** As written, or the unit's id when inferred. */
  readonly text: string;
  readonly inferred: boolean;
  readonly doubt?: string;
}

/** The unit that a column is read in, or why it cannot be used: map file, heading, then the values. */
export function chooseUnit(
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
  const factor = trimFactor(column, facts, stated, raw, catalogue, problems);
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
  catalogue: Catalogue,
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
  if (named === undefined) {
    // One that was learned near 1 % among neighbours in per cent is in per cent.
    const shared = catalogue.familyUnit?.(facts.id, thinned(raw), 'factor');
    if (shared !== undefined && shared !== 'factor') return undefined;
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
    if (unit.id === own?.id && facts.quantity === 'mixture' && UNITLESS.test(column.label))
      return { unit, text: unit.id, inferred: false };
    if (unit.id === own?.id) problems.collect('unit-assumed', column, ASSUMED);
    else problems.add('unit-inferred', column, facts.id, `no unit given; read as ${unit.id}: ${reason}`);
    return { unit, text: unit.id, inferred: true };
  }
  // A constant that no gauge reads has no unit to find; the test for unsupported columns names it.
  if (own !== undefined && raw.length > 0 && constantOf(raw) !== undefined && !inRange(raw, facts)) {
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
  if (constantOf(raw) !== undefined) return { unit, text: stated, inferred: false };
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

export function rejected(
  column: RawColumn,
  channel: string | undefined,
  reason: string,
  unrecognised: boolean,
  doubts: readonly string[] = [],
): Rejection {
  return { column, channel, reason, doubts, unrecognised };
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
