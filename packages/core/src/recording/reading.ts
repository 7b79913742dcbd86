import { findChannel, inferUnit, recogniseColumn } from '../channels/index.js';
import { convert, findUnit } from '../units/index.js';
import { isMarker } from './cleaning.js';
import { USUAL_BASE } from './mixture.js';
import type { RawReading } from './raw-read-out.js';
import type { Reading } from './read-out.js';

/** Standard atmosphere (ISO 2533), kPa: stands in for the barometer where a stored pressure is relative. */
const ATMOSPHERE = 101.325;

/** Why a value was not taken; `code` is one of the problem codes, or absent when its name is simply not known. */
interface ReadingRefusal {
  readonly code?: 'unit-unknown' | 'implausible-removed' | 'sentinels-removed' | 'text-in-number';
  readonly message: string;
}

/** What a reading is, with a unit that had to be assumed told by `assumed`. */
type ReadingResult = { readonly reading: Reading; readonly assumed: boolean } | { readonly refused: ReadingRefusal };

/**
 * Name, value and unit of one stored value to a channel: the name is understood as a column heading is, the unit comes
 * from its cell, else from the name, else from the value, else it is the catalogue's and said to be assumed. Never throws.
 */
export function readReading(raw: RawReading, name = raw.name): ReadingResult {
  // A unit that is not known must not hide which channel it is.
  const unitCell = findUnit(raw.unit) === undefined ? '' : raw.unit;
  const recognised = recogniseColumn({ label: name, unitCell });
  const definition = recognised.base === undefined ? undefined : findChannel(recognised.base)?.definition;
  if (recognised.channel === undefined || definition === undefined) return { refused: { message: recognised.reason } };
  if (Number.isNaN(raw.value)) {
    return refused('text-in-number', `${definition.id}: found "${raw.text.slice(0, 30)}", expected a number`);
  }
  const stated = raw.unit !== '' ? findUnit(raw.unit, definition.quantity)?.id : recognised.unit;
  if (raw.unit !== '' && stated === undefined && definition.quantity !== 'number')
    return refused(
      'unit-unknown',
      `${definition.id}: unit "${raw.unit.slice(0, 20)}" is not known, expected one that converts to ${definition.unit}`,
    );
  const inferred =
    stated === undefined ? inferUnit(definition, Float64Array.of(raw.value), recognised.gauge).unit : undefined;
  const unit = definition.quantity === 'number' ? definition.unit : (stated ?? inferred ?? definition.unit);
  let value: number;
  try {
    value = convert(raw.value, unit, definition.unit, { afrBase: USUAL_BASE });
  } catch {
    return refused(
      'unit-unknown',
      `${definition.id}: unit "${unit}" does not fit, expected one that converts to ${definition.unit}`,
    );
  }
  if (definition.quantity === 'pressure' && definition.gauge !== undefined && recognised.gauge !== undefined)
    value += (Number(recognised.gauge) - Number(definition.gauge)) * fromStandard(definition.unit);
  const ends = definition.sentinels.some(
    (each) => each.when !== 'any' && closeTo(convert(each.value, each.unit, definition.unit), value),
  );
  const outside = value < definition.range[0] || value > definition.range[1];
  if (ends || (outside && isMarker(raw.value)))
    return refused(
      'sentinels-removed',
      `${definition.id}: ${raw.text.slice(0, 30)} stands for "full" or "not supported"; left out`,
    );
  if (outside)
    return refused(
      'implausible-removed',
      `${definition.id}: ${raw.text.slice(0, 30)} ${unit} is outside ${definition.range[0]} to ${definition.range[1]} ${definition.unit}; left out`,
    );
  return {
    reading: {
      channel: recognised.channel,
      value,
      unit: definition.unit,
      name: raw.name,
      sourceUnit: stated ?? (definition.quantity === 'number' ? '' : unit),
      certainty:
        stated === undefined && definition.quantity !== 'number' ? 'inferred' : (recognised.certainty ?? 'likely'),
      line: raw.line,
    },
    assumed: stated === undefined && definition.quantity !== 'number',
  };
}

function refused(code: NonNullable<ReadingRefusal['code']>, message: string): ReadingResult {
  return { refused: { code, message } };
}

function fromStandard(unit: string): number {
  return convert(ATMOSPHERE, 'kPa', unit);
}

function closeTo(a: number, b: number): boolean {
  return Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(a));
}
