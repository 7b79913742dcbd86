import Papa from 'papaparse';
import * as z from 'zod';
import { findChannel } from '../channels/index.js';
import { readSideFile, type SideFile, type SideFileFault } from '../sidefiles/side-file.js';
import { convert } from '../units/index.js';

/** Stable code of every fault in a targets file. */
export const TARGETS_CODE = 'bad-targets';

/** Channels that a targets file may state. */
const TARGET_CHANNELS = [
  'lambdaTarget',
  'boostPressureTarget',
  'manifoldPressureTarget',
  'fuelRailPressureTarget',
  'fuelFeedPressureTarget',
  'ignitionAdvanceTarget',
  'engineTorqueTarget',
] as const;
export type TargetChannel = (typeof TARGET_CHANNELS)[number];

/** One axis of the user's own. */
export interface Axis {
  readonly channel: string;
  /** Ascending, in the unit of the channel. */
  readonly points: readonly number[];
}

/** What is wanted, over engine speed and, where given, a load axis. */
export interface TargetTable {
  /** rpm, ascending; one entry = everywhere the same. */
  readonly engineSpeed: readonly number[];
  readonly load?: Axis;
  /** One row an entry of the load axis (one row without), one value an engine speed, in the unit of the channel. */
  readonly values: readonly (readonly number[])[];
}

export interface Targets {
  readonly targets: ReadonlyMap<TargetChannel, TargetTable>;
  /** Axes of the tables that are drawn up. */
  readonly tables?: {
    readonly engineSpeed?: readonly number[];
    readonly load?: Axis;
    /** g/s, of the air meter's correction. */
    readonly airMassFlow?: readonly number[];
  };
  /** Whether the control applies the long trim in open loop; undefined = not known. */
  readonly longTrimInOpenLoop?: boolean;
}

const POINTS = z.array(z.number()).min(1).max(64);
const AXIS = z.strictObject({ channel: z.string(), unit: z.string().optional(), points: POINTS });
const TABLE = z.strictObject({
  unit: z.string().optional(),
  engineSpeed: POINTS.optional(),
  load: AXIS.optional(),
  values: z.union([z.number(), z.array(z.number()).min(1), z.array(z.array(z.number()).min(1)).min(1)]),
});
const TARGETS = z.strictObject({
  schema: z.literal('telltale/targets@1', { error: 'expected schema: telltale/targets@1' }),
  targets: z.partialRecord(z.enum(TARGET_CHANNELS), TABLE).optional(),
  tables: z
    .strictObject({ engineSpeed: POINTS.optional(), load: AXIS.optional(), airMassFlow: POINTS.optional() })
    .optional(),
  longTrimInOpenLoop: z.boolean().optional(),
});

/**
 * Reads what the map is meant to do: YAML or JSON (schema `telltale/targets@1`), or CSV with the columns target,
 * engineSpeed, value, unit. Values are in the given unit, else in that of the channel; between points they are
 * interpolated, beyond the ends the last one holds. Lambda, boost, ignition and torque without a load axis are what is wanted
 * with the pedal on the floor; at part load the recorded target stays.
 */
export function readTargets(text: string, name: string): SideFile<Targets> {
  const plain = text.replace(/^\uFEFF/, '').trimStart();
  if (/^"?target"?\s*[,;\t]/i.test(plain)) return readCsv(plain, name);
  const read = readSideFile(text, name, TARGETS_CODE, TARGETS);
  if (!read.ok) return read;
  const faults: SideFileFault[] = [];
  const fault = (message: string): void => {
    faults.push({ code: TARGETS_CODE, message: `${name}:1:1: ${message}`, line: 1, column: 1 });
  };
  const targets = new Map<TargetChannel, TargetTable>();
  for (const [id, given] of Object.entries(read.value.targets ?? {}) as [TargetChannel, z.output<typeof TABLE>][]) {
    const table = tableOf(id, given);
    if (typeof table === 'string') fault(`${id}: ${table}`);
    else targets.set(id, table);
  }
  const axes = read.value.tables;
  const load = axes?.load === undefined ? undefined : axisOf(axes.load);
  if (typeof load === 'string') fault(`tables.load: ${load}`);
  if (axes?.engineSpeed !== undefined && !ascending(axes.engineSpeed))
    fault('tables.engineSpeed: expected rising points');
  if (axes?.airMassFlow !== undefined && !ascending(axes.airMassFlow))
    fault('tables.airMassFlow: expected rising points');
  if (faults.length > 0 || typeof load === 'string') return { ok: false, faults };
  return {
    ok: true,
    value: {
      targets,
      ...(read.value.longTrimInOpenLoop === undefined ? {} : { longTrimInOpenLoop: read.value.longTrimInOpenLoop }),
      ...(axes === undefined
        ? {}
        : {
            tables: {
              ...(axes.engineSpeed === undefined ? {} : { engineSpeed: axes.engineSpeed }),
              ...(load === undefined ? {} : { load }),
              ...(axes.airMassFlow === undefined ? {} : { airMassFlow: axes.airMassFlow }),
            },
          }),
    },
  };
}

function tableOf(id: TargetChannel, given: z.output<typeof TABLE>): TargetTable | string {
  const load = given.load === undefined ? undefined : axisOf(given.load);
  if (typeof load === 'string') return `load: ${load}`;
  const speeds = given.engineSpeed ?? [0];
  if (!ascending(speeds)) return 'engineSpeed: expected rising points';
  const { values } = given;
  const rows =
    typeof values === 'number' ? [[values]] : Array.isArray(values[0]) ? (values as number[][]) : [values as number[]];
  if (rows.length !== (load?.points.length ?? 1))
    return `found ${rows.length} rows of values, expected ${load?.points.length ?? 1}: one a point of the load axis`;
  const short = rows.find((row) => row.length !== speeds.length);
  if (short !== undefined)
    return `found ${short.length} values in a row, expected ${speeds.length}: one a point of engineSpeed`;
  const found = inUnit(id, given.unit);
  if (typeof found === 'string') return found;
  return {
    engineSpeed: speeds,
    ...(load === undefined ? {} : { load }),
    values: rows.map((row) => row.map((x) => found(x))),
  };
}

function axisOf({ channel, unit, points }: z.output<typeof AXIS>): Axis | string {
  const found = inUnit(channel, unit);
  if (typeof found === 'string') return found;
  const own = points.map((x) => found(x));
  return ascending(own) ? { channel, points: own } : 'points: expected rising points';
}

/** Function into the unit of a channel, or what is wrong. */
function inUnit(id: string, unit: string | undefined): ((x: number) => number) | string {
  const channel = findChannel(id)?.definition;
  if (channel === undefined) return `found channel ${id}, expected one of the catalogue (docs/channels.md)`;
  if (unit === undefined) return (x) => x;
  try {
    convert(1, unit, channel.unit);
    return (x) => convert(x, unit, channel.unit);
  } catch {
    return `unit: found ${unit}, expected one convertible to ${channel.unit}`;
  }
}

function ascending(points: readonly number[]): boolean {
  return points.every((x, i) => i === 0 || x > points[i - 1]!);
}

function readCsv(text: string, name: string): SideFile<Targets> {
  const faults: SideFileFault[] = [];
  const found = new Map<
    TargetChannel,
    { speeds: number[]; values: number[]; unit: string | undefined; line: number }
  >();
  const fault = (line: number, message: string): void => {
    faults.push({ code: TARGETS_CODE, message: `${name}:${line}:1: ${message}`, line, column: 1 });
  };
  Papa.parse<string[]>(text, { comments: '#' }).data.forEach((row, i) => {
    const [id = '', speed = '', value = '', unit = ''] = row.map((cell) => cell.trim());
    if (i === 0 || (id === '' && value === '')) return;
    const known = TARGET_CHANNELS.find((each) => each === id);
    const [x, y] = [speed === '' ? 0 : Number(speed), value === '' ? Number.NaN : Number(value)];
    if (known === undefined) fault(i + 1, `found target ${id}, expected one of ${TARGET_CHANNELS.join(', ')}`);
    else if (!Number.isFinite(x) || !Number.isFinite(y))
      fault(i + 1, `found ${speed} and ${value}, expected an engine speed (rpm) and a value`);
    else {
      const table = found.get(known) ?? { speeds: [], values: [], unit: unit === '' ? undefined : unit, line: i + 1 };
      table.speeds.push(x);
      table.values.push(y);
      found.set(known, table);
    }
  });
  const targets = new Map<TargetChannel, TargetTable>();
  for (const [id, { speeds, values, unit, line }] of found) {
    const table = tableOf(id, { unit, engineSpeed: speeds, values });
    if (typeof table === 'string') fault(line, `${id}: ${table}`);
    else targets.set(id, table);
  }
  return faults.length > 0 ? { ok: false, faults } : { ok: true, value: { targets } };
}

/** JSON Schema of the YAML form. */
export function targetsSchema(): object {
  return z.toJSONSchema(TARGETS, { io: 'input' });
}
