import { decodeReadiness, type MonitorState, type Readiness, spokenMonitor } from '../codes/readiness.js';
import { gatherMonitorResults } from './monitor-result.js';
import type { Problem } from './problem.js';
import type { ProblemCode } from './problem-code.js';
import type { RawReading, RawReadOut } from './raw-read-out.js';
import type { Calibration, Odometer, Reading, ReadOut, StoredCode } from './read-out.js';
import { readReading } from './reading.js';
import type { Channel, ColumnReport, Recording } from './recording.js';

/** Names that must never be kept: who the car and its people are. */
const PRIVATE =
  /\bvin\b|vehicle identification|chassis (no|number)|\bowner\b|\bdriver name|registration (no|number)|licen[cs]e plate|number plate|\bserial\b|\bphone\b|\baddress\b|\bcustomer\b/i;
const CALIBRATION =
  /calibration (id|ident|number|part)|\bcal ?id\b|software (id|part|version|number|level)|program (version|number)/i;
const VERIFICATION = /verification number|\bcvn\b/i;
const READINESS =
  /^(pid ?\$?0?1|(obd )?readiness( status| bytes?)?|monitor status|monitors?( status)? since (codes )?clear(ed)?)$/i;

/** Words of control units, as they stand around "odometer". */
const UNITS: readonly (readonly [RegExp, string])[] = [
  [/\b(instrument( cluster| panel)?|cluster|dash(board)?|speedometer)\b/gi, 'instrument cluster'],
  [/\b(transmission|gearbox|tcm|tcu)( control)?( unit| module)?\b/gi, 'transmission control unit'],
  [/\b(engine|ecm|pcm|motor)( control)?( unit| module)?\b/gi, 'engine control unit'],
  [/\b(abs|brakes?|stability|esp)( control)?( unit| module)?\b/gi, 'brake control unit'],
  [/\b(airbag|restraint|srs)( control)?( unit| module)?\b/gi, 'restraint control unit'],
  [/\b(body|gateway|bcm)( control)?( unit| module)?\b/gi, 'body control unit'],
  [/\b(steering)( control)?( unit| module)?\b/gi, 'steering control unit'],
  [/\b(key|immobili[sz]er|access)( control)?( unit| module)?\b/gi, 'key'],
  [/\b(head ?unit|infotainment|radio)\b/gi, 'head unit'],
];
const PAST = /\b(at|last|when|first) (the )?(last |first )?(\w+)?/i;

/**
 * A read-out as a recording of one row, so that rules read a stored value as they read a channel; what is no channel stands
 * in `readOut`. Identification numbers and names are left out before anything else looks at them.
 */
export function buildReadOut(raw: RawReadOut): Recording {
  const problems: Problem[] = [...raw.problems];
  const channels = new Map<string, Channel>();
  const unrecognised: string[] = [];
  const columns: ColumnReport[] = [];
  const column = (row: RawReading, reason: string, more: Partial<ColumnReport> = {}): void => {
    columns.push({ index: columns.length, label: row.name.slice(0, 80), reason, doubts: [], ...more });
  };
  const odometers: Odometer[] = [];
  const calibrations: Calibration[] = [];
  const monitors: MonitorState[] = [];
  let bits: Readiness | undefined;
  const { results: monitorResults, rest } = gatherMonitorResults(raw.readings);
  const note = (code: ProblemCode, message: string, line: number, channel?: string): void => {
    problems.push({ code, message, line, ...(channel === undefined ? {} : { channel }) });
  };
  for (const row of rest) {
    if (PRIVATE.test(row.name)) {
      note('private-left-out', 'a value that names the car or a person was left out', row.line);
      continue;
    }
    if (VERIFICATION.test(row.name) || CALIBRATION.test(row.name)) {
      const kind = VERIFICATION.test(row.name) ? 'verification' : 'identification';
      calibrations.push({ kind, module: moduleOf(row), text: row.text, line: row.line });
      continue;
    }
    const monitor = spokenMonitor(row.name, row.text);
    if (monitor !== undefined) {
      monitors.push(monitor);
      continue;
    }
    if (READINESS.test(row.name.trim())) {
      bits = decodeReadiness(row.text);
      if (bits === undefined)
        note(
          'readiness-unreadable',
          `"${row.text.slice(0, 30)}" is no readiness of a petrol engine, expected four bytes such as 00 07 65 00; left out`,
          row.line,
        );
      continue;
    }
    const odometer = odometerOf(row);
    if (odometer !== undefined) {
      odometers.push(odometer);
      continue;
    }
    const result = readReading(row);
    if ('refused' in result) {
      const { code, message } = result.refused;
      if (code === undefined) unrecognised.push(row.name.slice(0, 80));
      else note(code, message, row.line);
      column(row, message);
      continue;
    }
    const { reading, assumed } = result;
    if (channels.has(reading.channel)) {
      note('duplicate-channel', `a second value of ${reading.channel}; the first was used`, row.line, reading.channel);
      continue;
    }
    if (assumed)
      note(
        'unit-inferred',
        `${reading.channel} names no unit: read in ${reading.sourceUnit}`,
        row.line,
        reading.channel,
      );
    channels.set(reading.channel, channelOf(reading));
    const { channel, unit, sourceUnit, certainty } = reading;
    column(row, 'stored value', { channel, unit, sourceUnit, certainty });
  }
  const shown =
    odometers.find(({ where, past }) => !past && /cluster|^odometer$/.test(where)) ??
    odometers.find(({ past }) => !past);
  if (shown !== undefined && !channels.has('odometer')) {
    channels.set(
      'odometer',
      channelOf({
        channel: 'odometer',
        value: shown.value,
        unit: 'km',
        name: shown.where,
        sourceUnit: 'km',
        certainty: 'certain',
        line: shown.line,
      }),
    );
  }
  const readiness = joined(bits, monitors);
  const readOut: ReadOut = {
    kind: raw.kind,
    ...(raw.kind === 'code-list' ? { codes: raw.codes.map((each) => storedCode(each, note)) } : {}),
    ...(readiness === undefined ? {} : { readiness }),
    monitorResults,
    odometers,
    calibrations,
  };
  return {
    time: Float64Array.of(0),
    rows: raw.rows,
    duration: 0,
    dialect: NO_DIALECT,
    channels,
    columns,
    unrecognised,
    problems,
    readOut,
  };
}

const NO_DIALECT: Recording['dialect'] = {
  encoding: 'utf-8',
  delimiter: ',',
  decimal: '.',
  headerLine: 1,
  timeFormat: 'rate',
  confidence: { encoding: 1, delimiter: 1, decimal: 1, header: 1, time: 1 },
};

type Note = (code: ProblemCode, message: string, line: number, channel?: string) => void;

function storedCode(raw: RawReadOut['codes'][number], note: Note): StoredCode {
  const frame: Reading[] = [];
  for (const row of raw.frame) {
    if (PRIVATE.test(row.name)) continue;
    const result = readReading(row);
    if ('reading' in result) frame.push(result.reading);
    else if (result.refused.code !== undefined)
      note(result.refused.code, `freeze frame of ${raw.code.code}: ${result.refused.message}`, row.line);
  }
  return { ...raw, text: PRIVATE.test(raw.text) ? '' : raw.text, frame };
}

function joined(bits: Readiness | undefined, monitors: readonly MonitorState[]): Readiness | undefined {
  if (monitors.length === 0) return bits;
  const spoken = new Map(monitors.map((each) => [each.id, each]));
  const rest = (bits?.monitors ?? []).filter(({ id }) => !spoken.has(id));
  return { ...bits, monitors: [...rest, ...spoken.values()] };
}

function moduleOf(row: RawReading): string {
  if (row.module !== '') return row.module;
  return UNITS.find(([pattern]) => new RegExp(pattern.source, 'i').test(row.name))?.[1] ?? '';
}

/** An odometer reading of one control unit: what is left of the name without the unit's words must be an odometer. */
function odometerOf(row: RawReading): Odometer | undefined {
  const past = PAST.exec(row.name);
  let name = past === null ? row.name : row.name.slice(0, past.index);
  let where = row.module;
  for (const [pattern, words] of UNITS) {
    const without = name.replace(pattern, ' ');
    if (without === name) continue;
    if (where === '') where = words;
    name = without;
  }
  // The name without its qualifiers, and the bare word for "odometer, engine control unit".
  const plain = name
    .replace(/[(),:;–—-]|\b(in|of|from|by|reading|stored|value)\b/gi, ' ')
    .replace(/\s+/g, ' ')
    .trim();
  if (!/odo|mileage|distance/i.test(plain)) return undefined;
  const result = readReading(row, plain);
  if ('refused' in result || result.reading.channel !== 'odometer') return undefined;
  const event = past === null ? '' : row.name.slice(past.index).trim().toLowerCase();
  return {
    where: event === '' ? (where === '' ? 'odometer' : where) : [where, event].filter((each) => each !== '').join(', '),
    value: result.reading.value,
    past: past !== null,
    line: row.line,
  };
}

function channelOf({ channel, value, unit, name, sourceUnit, certainty }: Reading): Channel {
  return {
    id: channel,
    unit,
    values: Float64Array.of(value),
    source: name,
    sourceUnit,
    certainty,
    quality: {
      rate: Number.NaN,
      groupRate: Number.NaN,
      quantum: 0,
      samples: 1,
      removed: { sentinel: 0, implausible: 0, spike: 0 },
      frozen: [],
      saturated: [],
      constant: true,
    },
  };
}
