import type { KnockEvent } from './knock-events.js';
import type { KnockSignal } from './knock-signal.js';

/** Width of a cell: engine speed (rpm) and load (1). */
export const KNOCK_CELL = { speed: 500, load: 0.1 } as const;

/** What one retard channel showed in one cell at high load. */
export interface KnockCell {
  /** Lower corner of the cell: rpm, and load (1), null where only the pedal tells that the load is high. */
  readonly speed: number;
  readonly load: number | null;
  /** Cylinder number, null for one retard of the whole engine. */
  readonly cylinder: number | null;
  /** Separate stays in the cell, and their time (s). */
  readonly visits: number;
  readonly time: number;
  /** Events whose peak lies in the cell. */
  readonly events: number;
  /** Retard above the learned offset (deg), mean over time and highest. */
  readonly mean: number;
  readonly max: number;
}

/** Lower edge of the speed cell (rpm) of a row. */
export function speedCell(rpm: number): number {
  return Math.floor(rpm / KNOCK_CELL.speed) * KNOCK_CELL.speed;
}

function loadCell(load: number): number | null {
  // Counted in tenths, so that 0.7 / 0.1 does not fall into the cell below.
  return Number.isNaN(load) ? null : Math.floor(load * 10 + 1e-9) / 10;
}

/**
 * Knock map on engine speed x load over the loaded rows, one entry a cell and channel, in ascending order. Shifts and
 * tip-ins are left out, as their retard is none of knock. Samples that are NaN make no entry; no loaded row: empty.
 */
export function knockMap(signal: KnockSignal, events: readonly KnockEvent[], time: Float64Array): KnockCell[] {
  const cells: KnockCell[] = [];
  const rows = eligibleRows(signal, time);
  for (let c = 0; c < signal.channels.length; c++) {
    const { values, cylinder } = signal.channels[c]!;
    const stays = staysOf(values, rows);
    for (const event of events) {
      if (event.channel !== c) continue;
      const stay = stays.get(keyOf(signal, event.peakRow));
      if (stay) stay.events++;
    }
    for (const { row, visits, time: seconds, events: count, sum, max } of stays.values()) {
      cells.push({
        speed: speedCell(signal.speed[row]!),
        load: loadCell(signal.load[row]!),
        cylinder: cylinder ?? null,
        visits,
        time: seconds,
        events: count,
        mean: seconds > 0 ? sum / seconds : max,
        max,
      });
    }
  }
  return cells.sort(
    (a, b) => a.speed - b.speed || (a.load ?? -1) - (b.load ?? -1) || (a.cylinder ?? 0) - (b.cylinder ?? 0),
  );
}

/** Rows of a signal that count, the seconds each lasts, and a number for the cell it lies in. */
interface EligibleRows {
  readonly rows: Int32Array;
  readonly seconds: Float64Array;
  readonly keys: Int32Array;
}

function eligibleRows(signal: KnockSignal, time: Float64Array): EligibleRows {
  const { eligible } = signal;
  let count = 0;
  for (let i = 0; i < eligible.length; i++) count += eligible[i]!;
  const rows = new Int32Array(count);
  const seconds = new Float64Array(count);
  const keys = new Int32Array(count);
  let k = 0;
  for (let i = eligible.indexOf(1); i >= 0; i = eligible.indexOf(1, i + 1)) {
    rows[k] = i;
    seconds[k] = i + 1 < time.length ? Math.min(1, time[i + 1]! - time[i]!) : 0;
    keys[k] = keyOf(signal, i);
    k++;
  }
  return { rows, seconds, keys };
}

/** Cells of load in one of speed, more than any load has. */
const LOADS = 10_000;

/** One number for the cell of a row. */
function keyOf({ speed, load }: KnockSignal, row: number): number {
  const cell = loadCell(load[row]!);
  return (speedCell(speed[row]!) / KNOCK_CELL.speed) * LOADS + (cell === null ? LOADS - 1 : Math.round(cell * 10));
}

/** What one channel showed in one cell; `row` is the first of them. */
interface Stay {
  readonly row: number;
  visits: number;
  time: number;
  events: number;
  sum: number;
  max: number;
}

function staysOf(values: Float64Array, { rows, seconds, keys }: EligibleRows): Map<number, Stay> {
  const found = new Map<number, Stay>();
  let stay: Stay | undefined;
  let before = -1;
  for (let k = 0; k < rows.length; k++) {
    const row = rows[k]!;
    const v = values[row]!;
    if (Number.isNaN(v)) continue;
    // Of one visit are rows that follow one another in one cell.
    if (stay === undefined || rows[before]! !== row - 1 || keys[before] !== keys[k]) {
      stay = found.get(keys[k]!) ?? { row, visits: 0, time: 0, events: 0, sum: 0, max: v };
      if (stay.visits++ === 0) found.set(keys[k]!, stay);
    }
    const dt = seconds[k]!;
    stay.time += dt;
    stay.sum += v * dt;
    if (v > stay.max) stay.max = v;
    before = k;
  }
  return found;
}

/** Adds the maps of several drives: visits, times and events add up, the mean is weighted by time. */
export function mergeMaps(maps: readonly (readonly KnockCell[])[]): KnockCell[] {
  const found = new Map<string, KnockCell>();
  for (const map of maps) {
    for (const cell of map) {
      const key = `${cell.speed}/${cell.load}/${cell.cylinder}`;
      const old = found.get(key);
      const time = cell.time + (old?.time ?? 0);
      found.set(
        key,
        old === undefined
          ? cell
          : {
              ...cell,
              visits: cell.visits + old.visits,
              time,
              events: cell.events + old.events,
              mean: time > 0 ? (cell.mean * cell.time + old.mean * old.time) / time : Math.max(cell.mean, old.mean),
              max: Math.max(cell.max, old.max),
            },
      );
    }
  }
  return [...found.values()].sort(
    (a, b) => a.speed - b.speed || (a.load ?? -1) - (b.load ?? -1) || (a.cylinder ?? 0) - (b.cylinder ?? 0),
  );
}
