import type { Random } from './random.js';
import { familyOf, unitsOf } from './units.js';

/** How a recording is written down. Every field is a form that the contract claims to read. */
export interface Dialect {
  readonly delimiter: ',' | ';' | '\t' | '|';
  readonly decimal: '.' | ',';
  readonly encoding: 'utf-8' | 'utf-8-bom' | 'utf-16le' | 'utf-16be' | 'windows-1252';
  readonly lineEnd: '\n' | '\r\n' | '\r';
  /** Lines before the column names. */
  readonly preamble: readonly string[];
  /** Comment lines in the preamble and between rows begin with this; '' = none. */
  readonly commentMark: '' | '#' | '//';
  readonly unitPlace: 'header' | 'row' | 'absent';
  /** A third head row that names the source of the column. */
  readonly sourceRow: boolean;
  readonly naming: 'long' | 'short' | 'snake' | 'camel' | 'upper';
  readonly brackets: '()' | '[]';
  readonly quotedHeader: boolean;
  /** Unit id by channel id; a channel that is not listed keeps the computed unit. */
  readonly units: ReadonlyMap<string, string>;
  /** Which of the spellings of a unit is taken. */
  readonly spelling: number;
  readonly time:
    | 'seconds'
    | 'milliseconds'
    | 'microseconds'
    | 'clock'
    | 'date-time'
    | 'iso-8601'
    | 'epoch-seconds'
    | 'epoch-milliseconds';
  /** Seconds after midnight, or after the epoch, at which the recording begins. */
  readonly startOfDay: number;
  readonly startEpoch: number;
  /** Cells stay empty where no new value arrived. */
  readonly sparse: boolean;
  readonly trailingDelimiter: boolean;
  readonly cutLastRow: boolean;
  readonly gzip: boolean;
  readonly reverse: '-1' | '14' | '15' | 'R';
  readonly selectorText: boolean;
  /** Knock retard written as negative numbers. */
  readonly knockNegative: boolean;
  /** Extra digits beyond the sensor's step. */
  readonly extraDigits: number;
}

export const PLAIN: Dialect = {
  delimiter: ',',
  decimal: '.',
  encoding: 'utf-8',
  lineEnd: '\n',
  preamble: [],
  commentMark: '',
  unitPlace: 'header',
  sourceRow: false,
  naming: 'long',
  brackets: '()',
  quotedHeader: false,
  units: new Map(),
  spelling: 0,
  time: 'seconds',
  startOfDay: 36000,
  startEpoch: 1_800_000_000,
  sparse: false,
  trailingDelimiter: false,
  cutLastRow: false,
  gzip: false,
  reverse: 'R',
  selectorText: true,
  knockNegative: false,
  extraDigits: 0,
};

/**
 * Draws a dialect. `ids` are the channels to be written: a unit is drawn for each family, so that a file uses one unit
 * per kind of quantity. A file without units keeps usual units and plain seconds, since nothing could tell otherwise.
 */
export function drawDialect(
  random: Random,
  ids: readonly string[],
  fixed: ReadonlyMap<string, string> = new Map(),
): Dialect {
  const decimal = random.chance(0.25) ? ',' : '.';
  const delimiter =
    decimal === ',' ? random.pick([';', '\t', '|'] as const) : random.pick([',', ',', ',', ';', '\t', '|'] as const);
  // A unit that was asked for has to be written down.
  const drawn = random.pick(['header', 'header', 'header', 'row', 'row', 'absent'] as const);
  const unitPlace = drawn === 'absent' && fixed.size > 0 ? 'header' : drawn;
  const perFamily = new Map<string, string>();
  const units = new Map<string, string>(fixed);
  if (unitPlace !== 'absent') {
    for (const id of ids) {
      if (units.has(id)) continue;
      const family = familyOf(id);
      let unit = perFamily.get(family);
      if (unit === undefined) {
        const choices = unitsOf(id).filter((x) => x.id !== 'factor');
        unit = random.chance(0.55) ? choices[0]!.id : random.pick(choices).id;
        perFamily.set(family, unit);
      }
      units.set(id, unit);
    }
  }
  const commentMark = random.pick(['', '', '#', '//'] as const);
  const preamble: string[] = [];
  if (random.chance(0.4)) {
    const lines = random.int(1, 4);
    const texts = ['Recording of a test drive', 'Interval 100', 'Ambient, dry', 'Operator: nobody', 'Session 12'];
    for (let i = 0; i < lines; i++) preamble.push(`${commentMark}${commentMark ? ' ' : ''}${texts[i]}`);
  }
  const naming = random.pick(['long', 'long', 'short', 'short', 'snake', 'camel', 'upper'] as const);
  return {
    delimiter,
    decimal,
    encoding: random.pick(['utf-8', 'utf-8', 'utf-8', 'utf-8-bom', 'utf-16le', 'utf-16be', 'windows-1252'] as const),
    lineEnd: random.pick(['\n', '\r\n', '\r\n'] as const),
    preamble,
    commentMark,
    unitPlace,
    sourceRow: unitPlace === 'row' && random.chance(0.35),
    naming,
    brackets: random.pick(['()', '[]'] as const),
    quotedHeader: random.chance(0.2),
    units,
    spelling: random.int(0, 3),
    time:
      unitPlace === 'absent'
        ? 'seconds'
        : random.pick([
            'seconds',
            'seconds',
            'seconds',
            'milliseconds',
            'microseconds',
            'clock',
            'date-time',
            'iso-8601',
            'epoch-seconds',
            'epoch-milliseconds',
          ] as const),
    startOfDay: random.chance(0.15) ? 86400 - random.range(60, 500) : random.range(20000, 70000),
    startEpoch: 1_700_000_000 + random.int(0, 60_000_000),
    sparse: random.chance(0.25),
    trailingDelimiter: random.chance(0.12),
    cutLastRow: random.chance(0.12),
    gzip: random.chance(0.1),
    reverse: random.pick(['-1', '14', '15', 'R'] as const),
    selectorText: random.chance(0.7),
    knockNegative: random.chance(0.25),
    extraDigits: random.chance(0.15) ? random.int(1, 3) : 0,
  };
}
