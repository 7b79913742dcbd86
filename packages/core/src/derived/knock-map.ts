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
  for (let c = 0; c < signal.channels.length; c++) {
    const { values, cylinder } = signal.channels[c]!;
    const found = new Map<
      string,
      { speed: number; load: number | null; visits: number; time: number; events: number; sum: number; max: number }
    >();
    let before = '';
    for (let i = 0; i < values.length; i++) {
      const v = values[i]!;
      if (signal.eligible[i] === 0 || Number.isNaN(v)) {
        before = '';
        continue;
      }
      const speed = speedCell(signal.speed[i]!);
      const load = loadCell(signal.load[i]!);
      const key = `${speed}/${load}`;
      let cell = found.get(key);
      if (!cell) {
        cell = { speed, load, visits: 0, time: 0, events: 0, sum: 0, max: v };
        found.set(key, cell);
      }
      const dt = i + 1 < time.length ? Math.min(1, time[i + 1]! - time[i]!) : 0;
      if (key !== before) cell.visits++;
      cell.time += dt;
      cell.sum += v * dt;
      if (v > cell.max) cell.max = v;
      before = key;
    }
    for (const event of events) {
      if (event.channel !== c) continue;
      const key = `${speedCell(signal.speed[event.peakRow]!)}/${loadCell(signal.load[event.peakRow]!)}`;
      const cell = found.get(key);
      if (cell) cell.events++;
    }
    for (const { speed, load, visits, time: stay, events: count, sum, max } of found.values()) {
      const mean = stay > 0 ? sum / stay : max;
      cells.push({ speed, load, cylinder: cylinder ?? null, visits, time: stay, events: count, mean, max });
    }
  }
  return cells.sort(
    (a, b) => a.speed - b.speed || (a.load ?? -1) - (b.load ?? -1) || (a.cylinder ?? 0) - (b.cylinder ?? 0),
  );
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
