import { readHeading } from './heading.js';
import { interpret, type Match, type Miss, match, type WordReading } from './matching.js';
import { PATTERNS, type Pattern } from './patterns.js';
import type { Place } from './place.js';
import { channelId } from './positions.js';

export interface ColumnHeading {
  readonly label: string;
  /** Cell of a unit row, brackets or not. */
  readonly unitCell?: string;
  /** Cell of a source row (`ECU`, `GPS`). */
  readonly sourceCell?: string;
}

export interface Recognition {
  /** Full id, `knockRetard.cylinder3`; absent when not recognised with confidence. */
  readonly channel?: string;
  /** Id of the definition, `knockRetard`. */
  readonly base?: string;
  readonly certainty?: 'certain' | 'likely';
  /** Unit id found in the heading; absent when none is named. */
  readonly unit?: string;
  /** The unit as written. */
  readonly unitText?: string;
  /** Pressure: the heading says relative (true) or absolute (false). */
  readonly gauge?: boolean | undefined;
  readonly place?: Place;
  /** Why it was read so, or why not; one sentence. */
  readonly reason: string;
  /** Other channels it might have been. */
  readonly candidates: readonly string[];
}

const RANK: Readonly<Record<Pattern['strength'], number>> = { firm: 2, unit: 1, weak: 0 };

/** Negative when `a` explains the heading better. */
function compare(a: Match, b: Match): number {
  return (
    b.explained - a.explained ||
    a.dropped - b.dropped ||
    RANK[b.pattern.strength] - RANK[a.pattern.strength] ||
    Number(b.unit !== undefined) - Number(a.unit !== undefined)
  );
}

/** Patterns by the rarest of their words, so that a file of ten thousand columns stays quick. */
const BY_WORD: ReadonlyMap<string, readonly Pattern[]> = (() => {
  const map = new Map<string, Pattern[]>();
  const common = new Map<string, number>();
  for (const { required } of PATTERNS) for (const word of required) common.set(word, (common.get(word) ?? 0) + 1);
  for (const pattern of PATTERNS) {
    let rarest: string | undefined;
    let fewest = Number.POSITIVE_INFINITY;
    for (const word of pattern.required) {
      const count = common.get(word)!;
      if (count >= fewest) continue;
      rarest = word;
      fewest = count;
    }
    if (rarest === undefined) continue;
    const list = map.get(rarest);
    if (list === undefined) map.set(rarest, [pattern]);
    else list.push(pattern);
  }
  return map;
})();

interface Outcome {
  readonly matches: readonly Match[];
  readonly misses: readonly Miss[];
}

function tryReading(reading: WordReading, timeFormat: boolean): Outcome {
  const matches: Match[] = [];
  const misses: Miss[] = [];
  const seen = new Set<Pattern>();
  const known = new Set([...reading.words, ...reading.marks.bare]);
  for (const word of known) {
    for (const pattern of BY_WORD.get(word) ?? []) {
      if (seen.has(pattern)) continue;
      seen.add(pattern);
      if (!pattern.required.every((needed) => known.has(needed))) continue;
      const outcome = match(pattern, reading, timeFormat);
      if ('pattern' in outcome) matches.push(outcome);
      else misses.push(outcome);
    }
  }
  return { matches: matches.sort(compare), misses };
}

function unique(ids: readonly string[]): string[] {
  return [...new Set(ids)].slice(0, 4);
}

function accept(best: Match, others: readonly Match[]): Recognition {
  const { definition, pattern } = best;
  const positions = { ...best.positions };
  const notes = [...best.notes];
  if (definition.impliedPosition !== undefined && positions.bank === undefined) {
    positions.bank = definition.impliedPosition.replace('bank', '');
    notes.push(`no bank is named, ${definition.impliedPosition} is taken`);
  }
  const likely = pattern.strength !== 'firm' || best.soft;
  if (pattern.strength === 'weak') notes.push('the wording usually, not always, means this');
  if (pattern.strength === 'unit') notes.push('understood by its unit');
  const place = best.place ?? definition.defaultPlace;
  return {
    channel: channelId(definition.id, positions),
    base: definition.id,
    certainty: likely ? 'likely' : 'certain',
    ...(best.unit === undefined ? {} : { unit: best.unit.id }),
    ...(best.unitText === '' ? {} : { unitText: best.unitText }),
    ...(best.gauge === undefined ? {} : { gauge: best.gauge }),
    ...(place === undefined ? {} : { place }),
    reason: [`read as: ${definition.about}`, ...notes].join('; '),
    candidates: unique(others.map((other) => other.definition.id).filter((id) => id !== definition.id)),
  };
}

function refuse(misses: readonly Miss[]): Recognition {
  const faults = misses.filter((miss) => miss.left.length === 0 && miss.fault !== undefined);
  if (faults.length > 0) {
    const miss = faults[0]!;
    return {
      reason: `not taken as ${miss.definition.id}: ${miss.fault}`,
      candidates: unique(faults.map((m) => m.definition.id)),
    };
  }
  const near = [...misses].sort((a, b) => a.left.length - b.left.length);
  const best = near[0];
  if (best === undefined) return { reason: 'no known wording of a channel', candidates: [] };
  return {
    reason: `not taken as ${best.definition.id}: '${best.left.slice(0, 4).join("', '").slice(0, 80)}' is not understood beside it`,
    candidates: unique(
      near.filter((miss) => miss.left.length <= best.left.length + 1).map((miss) => miss.definition.id),
    ),
  };
}

/** Geographic positions are private: they are recognised in order to be left out. */
const PRIVATE: ReadonlySet<string> = new Set(['latitude', 'longitude', 'lng', 'lon']);

/**
 * How a column heading is understood. Pure, never throws; labels are cut at 200 characters. Every word of the heading
 * must be explained by a wording of the channel, a position, a place or a unit; otherwise the column is not recognised
 * and the reason names the words.
 */
export function recogniseColumn(heading: ColumnHeading): Recognition {
  const { readings, timeFormat } = readHeading(heading.label, heading.unitCell ?? '');
  const matches: Match[] = [];
  const misses: Miss[] = [];
  for (const reading of readings) {
    const words = interpret(reading, heading.sourceCell ?? '');
    if ([...words.words].some((word) => PRIVATE.has(word))) {
      return { reason: 'a geographic position is private and is not read', candidates: [] };
    }
    const outcome = tryReading(words, timeFormat);
    misses.push(...outcome.misses);
    matches.push(...outcome.matches);
  }
  matches.sort(compare);
  const best = matches[0];
  if (best === undefined) return refuse(misses);
  const rival = matches.find((other) => other.definition !== best.definition && compare(best, other) === 0);
  if (rival !== undefined) {
    return {
      reason: `it may be ${best.definition.id} or ${rival.definition.id}`,
      candidates: unique(matches.filter((other) => compare(best, other) === 0).map((other) => other.definition.id)),
    };
  }
  return accept(best, matches);
}
