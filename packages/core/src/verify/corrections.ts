import { CLOSED_LOOP } from '../derived/closed-loop.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { TOTAL_TRIM } from '../derived/total-trim.js';
import { mean } from '../math/mean.js';
import { type NodeSamples, nodeFit } from '../math/node-fit.js';
import { studentQuantile } from '../math/student.js';
import type { Admitted } from './admitted.js';
import { type Axes, placeOn } from './axes.js';
import type { Readings } from './signal.js';
import { MIXTURE_ERROR } from './signals-mixture.js';
import { addRows, emptySet, type SampleSet } from './table-samples.js';
import { ENOUGH, effectiveOf, surfaceOf } from './tables.js';
import type { Targets } from './targets-file.js';
import type { Correction, CorrectionNode } from './verification.js';

/** g/s; steps of a third to a half, as air meters are usually held. */
const FLOWS = [2, 3, 5, 7, 10, 15, 20, 30, 45, 65, 90, 125, 170, 230, 310, 420, 560];
/** Factors are clipped to this before half of the way is suggested: more is a fault to be found, no correction. */
const CLIP = 0.15;
/** Points of trim between the banks from which one of them has a fault; as in fuel.trim. */
const BANKS_APART = 6;
/** What a wide-band sensor and the control about it are sure to, share. Common practice, no source. */
const SURE = 0.005;

/** Factors that a drive shows, row by row, and the air that they belong to. */
export interface CorrectionSamples {
  readonly kind: Correction['kind'];
  readonly set: SampleSet;
  /** Row by row of `set`: half-width that the open question of the long trim in open loop adds, share. */
  readonly doubts: SampleSet;
  /** Closed-loop rows with two banks: sum of their difference in total trim (points), and how many. */
  readonly banks: { sum: number; rows: number };
}

/** Air meter where its flow is recorded, else speed x pressure; undefined when neither is. */
export function correctionKind(drive: Drive): Correction['kind'] | undefined {
  const has = (id: string): boolean => (drive.channel(id)?.quality.samples ?? 0) > 2;
  return has('airMassFlow') ? 'air-meter' : has('manifoldPressure') ? 'speed-density' : undefined;
}

export function noCorrection(kind: Correction['kind']): CorrectionSamples {
  return { kind, set: emptySet(), doubts: emptySet(), banks: { sum: 0, rows: 0 } };
}

/**
 * Adds the factors of one drive. Closed loop: (1 + short)(1 + long) x lambda measured / lambda wanted; open loop: lambda
 * measured / lambda wanted, times the long trim where the targets file says that it applies there.
 */
export function collectCorrection(
  drive: Drive,
  { stretch }: Admitted,
  from: number,
  targets: Targets | undefined,
  into: CorrectionSamples,
  readings: Readings,
): void {
  const samples = samplesOf(drive);
  const speed = samples.held('engineSpeed');
  const air = samples.held(into.kind === 'air-meter' ? 'airMassFlow' : 'manifoldPressure');
  const loop = drive.derive(CLOSED_LOOP);
  const trim = drive.derive(TOTAL_TRIM);
  if (speed === undefined || air === undefined || isRefusal(trim) || isRefusal(loop)) return;
  const error = readings(MIXTURE_ERROR);
  const target = drive.family('lambdaTarget')[0];
  const wanted = target === undefined ? undefined : samples.held(target.id);
  const ratios = isRefusal(error) || wanted === undefined ? [] : error.map(({ values }) => values);
  const longs = trim.banks.map(({ long }) => samples.held(long.id)!);
  const totals = trim.banks.map(({ total }) => total);
  const applies = targets?.longTrimInOpenLoop;
  const values = new Float64Array(drive.time.length).fill(Number.NaN);
  const doubts = values.slice();
  for (let i = 0; i < values.length; i++) {
    if (stretch[i]! < 0) continue;
    const measured = averageOf(ratios, i);
    const ratio = Number.isNaN(measured) ? Number.NaN : (wanted![i]! + measured) / wanted![i]!;
    if (loop.mask[i] === 1) {
      const total = averageOf(totals, i);
      const apart = totals.length > 1 ? totals[0]![i]! - totals[1]![i]! : Number.NaN;
      if (!Number.isNaN(apart)) {
        into.banks.sum += apart;
        into.banks.rows++;
      }
      // Without a sensor the control itself says that it holds its target.
      values[i] = (1 + total / 100) * (ratios.length === 0 ? 1 : ratio);
      if (!Number.isNaN(values[i]!)) doubts[i] = 0;
      continue;
    }
    const long = averageOf(longs, i) / 100;
    if (Number.isNaN(ratio)) continue;
    const share = applies === true ? 1 : applies === false ? 0 : 0.5;
    values[i] = ratio * (1 + share * (Number.isNaN(long) ? 0 : long));
    doubts[i] = applies === undefined && !Number.isNaN(long) ? Math.abs(long) / 2 : 0;
  }
  const hz = Math.min(...trim.banks.map((bank) => bank.hz), samples.hz('engineSpeed'), 10);
  const rows = { hz, speed, load: air, stretch, from, time: drive.time };
  addRows(into.set, { ...rows, values });
  // Known in the same rows, so that the same are taken.
  addRows(into.doubts, { ...rows, values: doubts });
}

function averageOf(columns: readonly Float64Array[], row: number): number {
  let sum = 0;
  for (let c = 0; c < columns.length; c++) sum += columns[c]![row]!;
  return columns.length === 0 ? Number.NaN : sum / columns.length;
}

/** Factors at the nodes, with what so many samples are worth; undefined without a sample. */
export function correctionOf(
  { kind, set, doubts, banks }: CorrectionSamples,
  axes: Axes,
  targets: Targets | undefined,
): Correction | undefined {
  if (set.value.length === 0) return undefined;
  const flows = targets?.tables?.airMassFlow ?? FLOWS;
  const { samples, kept, nearest, columns, points } =
    kind === 'air-meter' ? { ...lineOf(set, flows), columns: 1, points: flows } : speedDensity(set, axes);
  const fit = nodeFit(samples);
  const rows = new Map<number, number[]>();
  kept.forEach((row, i) => {
    const list = rows.get(nearest[i]!) ?? [];
    list.push(row);
    rows.set(nearest[i]!, list);
  });
  const nodes = [...rows]
    .sort(([a], [b]) => a - b)
    .map(([node, list]): CorrectionNode => {
      const visits = new Set(list.map((row) => set.stretch[row]!)).size;
      const effective = effectiveOf(list, set);
      const factor = fit.values[node]!;
      const doubt = mean(list.map((row) => doubts.value[row]!));
      const enough = effective >= ENOUGH.effective && visits >= ENOUGH.visits && !Number.isNaN(factor);
      const reach = enough
        ? Math.hypot(studentQuantile(0.975, visits - 1) * fit.errors[node]!, SURE) + doubt
        : Number.NaN;
      return {
        at: kind === 'air-meter' ? points[node]! : points[Math.floor(node / columns)]!,
        engineSpeed: kind === 'air-meter' ? null : axes.engineSpeed[node % columns]!,
        samples: list.length,
        effective,
        visits,
        enough,
        factor: enough ? factor : null,
        low: enough ? factor - reach : null,
        high: enough ? factor + reach : null,
        suggested: enough ? suggestedOf(factor, reach) : null,
      };
    });
  const channel = kind === 'air-meter' ? 'airMassFlow' : 'manifoldPressure';
  return {
    kind,
    axis: { channel, unit: kind === 'air-meter' ? 'g/s' : 'kPa' },
    nodes: kind === 'air-meter' ? rising(nodes) : nodes,
    notes: notesOf(
      kind,
      nodes,
      doubts.value.some((x) => x > 0),
      banks.rows > 0 ? banks.sum / banks.rows : 0,
    ),
  };
}

/** Half of the way, clipped; none where 1 lies inside the interval. */
function suggestedOf(factor: number, reach: number): number {
  if (Math.abs(factor - 1) <= reach) return 1;
  return 1 + Math.max(-CLIP, Math.min(CLIP, factor - 1)) / 2;
}

/** A corrected meter still rises: where two suggestions would turn it, both take their mean (pooled adjacent violators). */
function rising(nodes: readonly CorrectionNode[]): CorrectionNode[] {
  const blocks: { air: number; count: number; at: number[] }[] = [];
  nodes.forEach(({ at, suggested }, i) => {
    if (suggested === null) return;
    blocks.push({ air: at * suggested, count: 1, at: [i] });
    for (let b = blocks.length - 1; b > 0 && blocks[b - 1]!.air > blocks[b]!.air; b--) {
      const [left, right] = [blocks[b - 1]!, blocks[b]!];
      const count = left.count + right.count;
      blocks.splice(b - 1, 2, {
        air: (left.air * left.count + right.air * right.count) / count,
        count,
        at: [...left.at, ...right.at],
      });
    }
  });
  const found = [...nodes];
  for (const { air, count, at } of blocks)
    if (count > 1) for (const i of at) found[i] = { ...found[i]!, suggested: air / found[i]!.at };
  return found;
}

/** Weights along the air meter, as a control unit interpolates it. */
function lineOf(set: SampleSet, flows: readonly number[]) {
  const kept: number[] = [];
  const nearest: number[] = [];
  const index: number[] = [];
  const weight: number[] = [];
  for (let i = 0; i < set.value.length; i++) {
    const x = placeOn(flows, set.load[i]!);
    if (x === undefined) continue;
    kept.push(i);
    index.push(x.at, Math.min(x.at + 1, flows.length - 1));
    weight.push(1 - x.share, x.share);
    nearest.push(x.share >= 0.5 ? x.at + 1 : x.at);
  }
  const samples: NodeSamples = {
    nodes: flows.length,
    width: 2,
    index: Int32Array.from(index),
    weight: Float64Array.from(weight),
    y: Float64Array.from(kept, (row) => set.value[row]!),
    cluster: Int32Array.from(kept, (row) => set.stretch[row]!),
    bends: flows.slice(2).map((_, i): [number, number, number] => [i, i + 1, i + 2]),
    steps: flows.slice(1).map((_, i): [number, number] => [i, i + 1]),
  };
  return { samples, kept, nearest };
}

function speedDensity(set: SampleSet, axes: Axes) {
  const points = axes.load.channel === 'manifoldPressure' ? axes.load.points : PRESSURES;
  const load = { channel: 'manifoldPressure', points };
  return { ...surfaceOf(set, { ...axes, load }), columns: axes.engineSpeed.length, points };
}

const PRESSURES = [30, 50, 70, 90, 110, 140, 170, 200, 230, 260];

function notesOf(
  kind: Correction['kind'],
  nodes: readonly CorrectionNode[],
  doubtful: boolean,
  apart: number,
): string[] {
  const told = nodes.filter(({ enough }) => enough);
  const what = kind === 'air-meter' ? 'air meter' : 'filling table';
  const common = mean(told.map(({ factor }) => factor!));
  const same = told.length >= 3 && told.every(({ low, high }) => low! <= common && common <= high!);
  return [
    ...(told.length === 0
      ? ['No node has samples enough: at least ten independent ones in three visits, warm and at steady load.']
      : ['Apply half, then verify again. A factor beyond 15 % is clipped: it is a fault to be found, no correction.']),
    ...(Math.abs(apart) > BANKS_APART
      ? [
          `The banks differ by ${Math.abs(apart).toFixed(1)} points of trim on average: one ${what} serves both, so that is not its doing. Find the cause (injectors, leaks, sensor of one bank) before anything is corrected.`,
        ]
      : []),
    ...(same
      ? [
          `The factor is the same everywhere within its interval (about ${common.toFixed(3)}): injector flow, fuel pressure or ethanol, the fuel scalar, explain it as well as the ${what}. The recording does not part them.`,
        ]
      : told.length >= 2
        ? [
            `Not separable from the ${what} by this recording: injector dead time (grows towards short opening times), the fuel scalar (the same everywhere), air that leaks in or out.`,
          ]
        : []),
    ...(doubtful
      ? [
          'Whether the control applies the long trim in open loop is not told: the intervals hold both. Say longTrimInOpenLoop in the targets file.',
        ]
      : []),
    `Changes of the ${what} also move load, ignition look-up and reported torque, and with it the clutch pressure.`,
  ];
}
