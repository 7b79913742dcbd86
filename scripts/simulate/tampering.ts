import type { Random } from './random.js';
import type { Recorded, RecordedColumn, Tampering } from './record.js';

/** Leaps that a seam must have, so that it can be seen at all: km/h on the move, or K of two fluids. */
const LEAP = { speed: 40, moving: 15, kelvin: 14 } as const;
const FLUIDS = ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature'] as const;

/** The parts of a recording from `pieces` (first row, row after the last), one after the other, on a clock without a seam. */
function joined(recorded: Recorded, pieces: readonly (readonly [number, number])[]): Recorded {
  const rows = pieces.flatMap(([a, b]) => Array.from({ length: b - a }, (_, k) => a + k));
  const start = recorded.time[0]!;
  return {
    ...recorded,
    // Somebody who joins two parts writes the clock anew.
    time: Float64Array.from(rows, (_, k) => start + k / recorded.rate),
    columns: recorded.columns.map(
      (column): RecordedColumn => ({
        ...column,
        values: Float64Array.from(rows, (i) => column.values[i]!),
        fresh: Uint8Array.from(rows, (i) => column.fresh[i]!),
      }),
    ),
  };
}

function columnOf(recorded: Recorded, id: string): Float64Array | undefined {
  return recorded.columns.find((each) => each.id === id)?.values;
}

/** The state leaps between the two rows, so that somebody who knows could see it. */
function leaps(recorded: Recorded, i: number, j: number): boolean {
  const speed = columnOf(recorded, 'vehicleSpeed')!;
  const steady =
    [-2, -1, 0].every((d) => speed[i + d]! > LEAP.moving) && [0, 1, 2].every((d) => speed[j + d]! > LEAP.moving);
  if (steady && Math.abs(speed[j]! - speed[i]!) > LEAP.speed) return true;
  const warm = FLUIDS.filter((id) => {
    const values = columnOf(recorded, id);
    return values !== undefined && Math.abs(values[j]! - values[i]!) > LEAP.kelvin;
  });
  return warm.length >= 2;
}

function seamOf(recorded: Recorded, random: Random, draw: () => readonly [number, number]): readonly [number, number] {
  for (let k = 0; k < 3000; k++) {
    const [i, j] = draw();
    if (leaps(recorded, i, j)) return [i, j];
  }
  throw new Error(`no seam with a leap in ${recorded.time.length} rows (${random.next()})`);
}

/** The later part of the drive first, then its beginning. */
export const splice: Tampering = (recorded, random) => {
  const n = recorded.time.length;
  const [end, start] = seamOf(recorded, random, () => [
    random.int(Math.floor(0.5 * n), n - 20),
    random.int(10, Math.floor(0.4 * n)),
  ]);
  const from = random.int(Math.floor(0.42 * n), end - 10);
  return joined(recorded, [
    [Math.min(from, end - Math.floor(0.05 * n)), end + 1],
    [start, Math.floor(0.45 * n)],
  ]);
};

/** A minute and more cut out, the clock closed up. */
export const deleted: Tampering = (recorded, random) => {
  const n = recorded.time.length;
  const least = Math.round(60 * recorded.rate);
  const [i, j] = seamOf(recorded, random, () => {
    const a = random.int(20, n - least - 40);
    return [a, Math.min(n - 20, a + least + random.int(0, Math.round(120 * recorded.rate)))];
  });
  return joined(recorded, [
    [0, i + 1],
    [j, n],
  ]);
};

/** Rows left out, the clock as it was. */
export function gap(seconds: number): Tampering {
  return (recorded, random) => {
    const n = recorded.time.length;
    const rows = Math.round(seconds * recorded.rate);
    const i = random.int(
      Math.round(0.2 * n),
      Math.max(Math.round(0.2 * n), Math.min(Math.round(0.7 * n), n - rows - 20)),
    );
    const cut = joined(recorded, [
      [0, i],
      [i + rows, n],
    ]);
    const time = cut.time.map((_, k) => recorded.time[k < i ? k : k + rows]!);
    return { ...cut, time };
  };
}

/** The clock of the file written at another pace. */
export function pace(factor: number): Tampering {
  return (recorded) => ({
    ...recorded,
    time: recorded.time.map((t) => recorded.time[0]! + (t - recorded.time[0]!) * factor),
  });
}

/** A stretch on the move written over another one; the clock as it was. */
export const copied: Tampering = (recorded, random) => {
  const n = recorded.time.length;
  const rows = Math.round(random.range(25, 80) * recorded.rate);
  const from = stretchOnTheMove(recorded, random, rows);
  let to = from;
  while (Math.abs(to - from) < rows) to = random.int(0, n - rows - 1);
  const columns = recorded.columns.map((column) => {
    const values = column.values.slice();
    values.set(column.values.subarray(from, from + rows), to);
    return { ...column, values };
  });
  return { ...recorded, columns };
};

/** A column multiplied over a stretch, and written in its own steps again. */
export function scaled(ids: readonly string[], factor: number): Tampering {
  return (recorded, random) => edited(recorded, random, ids, (values, i) => values[i]! * factor);
}

/** Running mean of a column over a stretch: what somebody does who wants an engine to look calm. */
export function smoothed(ids: readonly string[]): Tampering {
  return (recorded, random) => {
    const half = random.int(4, 8);
    return edited(recorded, random, ids, (values, i) => {
      let sum = 0;
      for (let k = -half; k <= half; k++) sum += values[i + k]!;
      return sum / (2 * half + 1);
    });
  };
}

function edited(
  recorded: Recorded,
  random: Random,
  ids: readonly string[],
  value: (values: Float64Array, i: number) => number,
): Recorded {
  const rows = Math.round(random.range(60, 140) * recorded.rate);
  const from = stretchOnTheMove(recorded, random, rows);
  const there = recorded.columns.filter(({ id }) => ids.some((stem) => id === stem || id.startsWith(`${stem}.`)));
  if (there.length === 0) throw new Error(`none of ${ids.join(', ')} is recorded`);
  const chosen = random.pick(there);
  const values = chosen.values.slice();
  for (let i = from; i < from + rows; i++) {
    const x = value(chosen.values, i);
    values[i] = chosen.quantum > 0 ? Math.round(x / chosen.quantum) * chosen.quantum : x;
  }
  return { ...recorded, columns: recorded.columns.map((each) => (each === chosen ? { ...each, values } : each)) };
}

/** A column multiplied from end to end, written in its own steps again. */
export function scaledWhole(id: string, factor: number): Tampering {
  return wholly(id, (values, i) => values[i]! * factor);
}

/** Running mean of a column from end to end. */
export function smoothedWhole(id: string, half: number): Tampering {
  return wholly(id, (values, i) => {
    const part = values.subarray(Math.max(0, i - half), i + half + 1);
    return part.reduce((sum, x) => sum + x, 0) / part.length;
  });
}

function wholly(id: string, value: (values: Float64Array, i: number) => number): Tampering {
  return (recorded) => {
    if (columnOf(recorded, id) === undefined) throw new Error(`${id} is not recorded`);
    return {
      ...recorded,
      columns: recorded.columns.map((each) => {
        if (each.id !== id) return each;
        const values = each.values.map((_, i) => {
          const x = value(each.values, i);
          return each.quantum > 0 ? Math.round(x / each.quantum) * each.quantum : x;
        });
        return { ...each, values };
      }),
    };
  };
}

/** First row of a stretch in which the car drives for nine tenths of the time. */
function stretchOnTheMove(recorded: Recorded, random: Random, rows: number): number {
  const speed = columnOf(recorded, 'vehicleSpeed')!;
  const n = speed.length;
  for (let k = 0; k < 2000; k++) {
    const from = random.int(20, n - rows - 20);
    let moving = 0;
    for (let i = from; i < from + rows; i++) if (speed[i]! > 20) moving++;
    if (moving >= 0.9 * rows) return from;
  }
  throw new Error(`no stretch of ${rows} rows on the move`);
}
