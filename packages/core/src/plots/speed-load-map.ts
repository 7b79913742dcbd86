import { LOAD_FRACTION } from '../derived/load-fraction.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { ROW_SECONDS } from '../derived/row-seconds.js';
import { samplesOf } from '../derived/samples.js';
import { TOTAL_TRIM } from '../derived/total-trim.js';

/** One cell over engine speed and load. */
export interface MapCell {
  /** Lower corner: rpm, and load as a share (1). */
  readonly speed: number;
  readonly load: number;
  /** In the map's unit. */
  readonly value: number;
  readonly seconds: number;
  /** Events in the cell, where the map counts them. */
  readonly events?: number;
}

export interface SpeedLoadMap {
  readonly title: string;
  readonly unit: string;
  /** What a cell's value is, in words. */
  readonly about: string;
  /** Width of a cell: rpm, and load (1). */
  readonly cell: { readonly speed: number; readonly load: number };
  /** What the load is a share of. */
  readonly load: string;
  /** Size of a value that is shaded in full: where the rule of the same quantity says `repair`. */
  readonly full: number;
  readonly cells: readonly MapCell[];
}

/** A cell in which the engine stayed for less than this (s) says nothing of a trim. Common practice, no source. */
const LEAST = 1;
const CELL = { speed: 500, load: 0.1 } as const;

/**
 * Mean of the total trim by time in each cell of engine speed x load, one map a bank, all drives of the car together.
 * Load is the fraction of what the engine can do, or the calculated load of the control unit where only that is recorded.
 */
export function trimMaps(drives: readonly Drive[]): SpeedLoadMap[] {
  const banks = new Map<string, Map<string, { speed: number; load: number; sum: number; seconds: number }>>();
  const bases = new Set<string>();
  for (const drive of drives) {
    const trims = drive.derive(TOTAL_TRIM);
    const speed = samplesOf(drive).held('engineSpeed');
    const load = loadOf(drive);
    const seconds = drive.derive(ROW_SECONDS);
    if (isRefusal(trims) || isRefusal(seconds) || speed === undefined || load === undefined) continue;
    bases.add(load.basis);
    for (const { name, total } of trims.banks) {
      const cells = banks.get(name) ?? new Map<string, { speed: number; load: number; sum: number; seconds: number }>();
      banks.set(name, cells);
      for (let i = 0; i < total.length; i++) {
        const value = total[i]!;
        if (Number.isNaN(value) || Number.isNaN(speed[i]!) || Number.isNaN(load.values[i]!)) continue;
        const n = Math.floor(speed[i]! / CELL.speed) * CELL.speed;
        // Counted in tenths, so that 0.7 / 0.1 does not fall into the cell below.
        const l = Math.max(0, Math.floor(load.values[i]! * 10 + 1e-9)) / 10;
        const key = `${n}/${l}`;
        let cell = cells.get(key);
        if (cell === undefined) {
          cell = { speed: n, load: l, sum: 0, seconds: 0 };
          cells.set(key, cell);
        }
        cell.sum += value * seconds[i]!;
        cell.seconds += seconds[i]!;
      }
    }
  }
  return [...banks].map(([bank, cells]) => ({
    title: `Total fuel trim, ${bank.replace(/(\d)/, ' $1')}`,
    unit: '%',
    about: 'mean over time in closed loop; above zero the mixture was lean and fuel was added',
    cell: CELL,
    load: [...bases].join(', or '),
    full: 15,
    cells: [...cells.values()]
      .filter(({ seconds }) => seconds >= LEAST)
      .map(({ speed, load, sum, seconds }) => ({ speed, load, value: sum / seconds, seconds }))
      .sort((a, b) => a.speed - b.speed || a.load - b.load),
  }));
}

function loadOf(drive: Drive): { values: Float64Array; basis: string } | undefined {
  const fraction = drive.derive(LOAD_FRACTION);
  if (!isRefusal(fraction) && fraction.values.some((value) => !Number.isNaN(value)))
    return {
      values: fraction.values,
      basis: fraction.basis === 'torque' ? 'rated torque' : 'rated air mass per stroke',
    };
  const load = samplesOf(drive).held('engineLoad');
  return load === undefined
    ? undefined
    : { values: load.map((percent) => percent / 100), basis: 'what is possible at that speed (calculated load)' };
}

interface KnockCellData {
  readonly speed: number;
  readonly load: number | null;
  readonly time: number;
  readonly events: number;
  readonly max: number;
}

/**
 * The knock map of the result, all cylinders together: highest retard and events in each cell. Undefined where the load of
 * the cells is not known (only the pedal told that it was high), or nothing was driven at high load.
 * @param details `details` of the result of engine.knock
 */
export function knockMapOf(details: Readonly<Record<string, unknown>> | undefined): SpeedLoadMap | undefined {
  const map = details?.knockMap as
    | { cell: { speed: number; load: number }; cells: readonly KnockCellData[] }
    | undefined;
  if (map === undefined) return undefined;
  const cells = new Map<string, { speed: number; load: number; value: number; seconds: number; events: number }>();
  for (const { speed, load, time, events, max } of map.cells) {
    if (load === null) continue;
    const key = `${speed}/${load}`;
    const before = cells.get(key);
    cells.set(key, {
      speed,
      load,
      value: Math.max(max, before?.value ?? 0),
      // Every cylinder was there as long.
      seconds: Math.max(time, before?.seconds ?? 0),
      events: events + (before?.events ?? 0),
    });
  }
  if (cells.size === 0) return undefined;
  return {
    title: 'Knock retard, all cylinders',
    unit: 'deg',
    about: 'highest retard of any cylinder at high load, above what is learned; in brackets the events',
    cell: map.cell,
    load: 'what the engine can do',
    full: 5,
    cells: [...cells.values()].sort((a, b) => a.speed - b.speed || a.load - b.load),
  };
}
