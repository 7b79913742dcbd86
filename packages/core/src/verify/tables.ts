import { effectiveSampleSize } from '../math/effective-sample-size.js';
import { mean } from '../math/mean.js';
import { type NodeSamples, nodeFit } from '../math/node-fit.js';
import { standardDeviation } from '../math/standard-deviation.js';
import { studentQuantile } from '../math/student.js';
import { type Axes, placeOn } from './axes.js';
import { type SampleSet, TABLED } from './table-samples.js';
import type { Table, TableCell } from './verification.js';

/** Below these a cell says so instead of a value. */
export const ENOUGH = { effective: 10, visits: 3 } as const;

/** Overlapping valves let fresh air through under boost below this speed (rpm): mixture and trims of such cells are doubtful. */
const SCAVENGES = { rpm: 2500, pressure: 120 };

/** All tables for which there are samples, in the order in which they are told. */
export function tablesOf(sets: ReadonlyMap<string, SampleSet>, axes: Axes): Table[] {
  return TABLED.flatMap(({ quantity, title, harm }) =>
    [...sets]
      .filter(([key]) => key.startsWith(`${quantity.id}/`))
      .flatMap(([key, set]): Table[] => {
        if (set.value.length === 0) return [];
        const member = key.slice(quantity.id.length + 1);
        return [
          {
            id: quantity.id,
            title,
            unit: quantity.unit,
            ...(member === '' ? {} : { member }),
            engineSpeed: [...axes.engineSpeed],
            load: { channel: axes.load.channel, unit: axes.loadUnit, points: [...axes.load.points] },
            cells: cellsOf(set, axes, harm),
          },
        ];
      }),
  );
}

function cellsOf(set: SampleSet, axes: Axes, harm: 'high' | 'low' | 'both'): TableCell[] {
  const { engineSpeed, load } = axes;
  const columns = engineSpeed.length;
  const rows = load.points.length;
  const near = new Map<number, number[]>();
  const nodes = surfaceOf(set, axes);
  const fit = nodeFit(nodes.samples);
  nodes.kept.forEach((row, i) => {
    const node = nodes.nearest[i]!;
    const list = near.get(node) ?? [];
    list.push(row);
    near.set(node, list);
  });
  return [...near]
    .sort(([a], [b]) => a - b)
    .map(([node, list]): TableCell => {
      const [r, c] = [Math.floor(node / columns), node % columns];
      const values = list.map((row) => set.value[row]!);
      const visits = new Set(list.map((row) => set.stretch[row]!)).size;
      const effective = effectiveOf(list, set);
      const enough = effective >= ENOUGH.effective && visits >= ENOUGH.visits;
      const [low, high] = [Math.min(...values), Math.max(...values)];
      const scavenging =
        /Pressure$/.test(load.channel) && engineSpeed[c]! < SCAVENGES.rpm && load.points[r]! > SCAVENGES.pressure;
      return {
        engineSpeed: engineSpeed[c]!,
        load: rows === 1 ? load.points[0]! : load.points[r]!,
        samples: list.length,
        effective,
        visits,
        mean: mean(values),
        deviation: values.length > 1 ? standardDeviation(values) : null,
        extreme: harm === 'high' ? high : harm === 'low' ? low : high >= -low ? high : low,
        enough,
        value: enough ? fit.values[node]! : null,
        reach: enough ? studentQuantile(0.975, visits - 1) * fit.errors[node]! : null,
        ...(scavenging ? { scavenging: true as const } : {}),
      };
    });
}

/** Bilinear weights of every sample within the axes. */
export function surfaceOf(
  set: SampleSet,
  { engineSpeed, load }: Axes,
): { readonly samples: NodeSamples; readonly kept: readonly number[]; readonly nearest: readonly number[] } {
  const columns = engineSpeed.length;
  const rows = load.points.length;
  const kept: number[] = [];
  const nearest: number[] = [];
  const index: number[] = [];
  const weight: number[] = [];
  for (let i = 0; i < set.value.length; i++) {
    const x = placeOn(engineSpeed, set.speed[i]!);
    const y = placeOn(load.points, set.load[i]!);
    if (x === undefined || y === undefined) continue;
    kept.push(i);
    const node = (r: number, c: number): number => Math.min(r, rows - 1) * columns + Math.min(c, columns - 1);
    index.push(node(y.at, x.at), node(y.at, x.at + 1), node(y.at + 1, x.at), node(y.at + 1, x.at + 1));
    weight.push((1 - y.share) * (1 - x.share), (1 - y.share) * x.share, y.share * (1 - x.share), y.share * x.share);
    nearest.push(node(y.at + (y.share >= 0.5 ? 1 : 0), x.at + (x.share >= 0.5 ? 1 : 0)));
  }
  const bends: [number, number, number][] = [];
  const steps: [number, number][] = [];
  for (let r = 0; r < rows; r++)
    for (let c = 0; c < columns; c++) {
      const at = r * columns + c;
      if (c + 1 < columns) steps.push([at, at + 1]);
      if (r + 1 < rows) steps.push([at, at + columns]);
      if (c + 2 < columns) bends.push([at, at + 1, at + 2]);
      if (r + 2 < rows) bends.push([at, at + columns, at + 2 * columns]);
    }
  return {
    kept,
    nearest,
    samples: {
      nodes: rows * columns,
      width: 4,
      index: Int32Array.from(index),
      weight: Float64Array.from(weight),
      y: Float64Array.from(kept, (row) => set.value[row]!),
      cluster: Int32Array.from(kept, (row) => set.stretch[row]!),
      bends,
      steps,
    },
  };
}

/** n (1 - r) / (1 + r), stretch by stretch: neighbours of two stretches are no neighbours. */
export function effectiveOf(rows: readonly number[], { value, stretch }: Pick<SampleSet, 'value' | 'stretch'>): number {
  const runs = new Map<number, number[]>();
  for (const row of rows) {
    const run = runs.get(stretch[row]!) ?? [];
    run.push(value[row]!);
    runs.set(stretch[row]!, run);
  }
  let sum = 0;
  for (const run of runs.values()) sum += effectiveSampleSize(run);
  return sum;
}
