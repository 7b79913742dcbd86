import { AMBIENT } from '../../derived/ambient.js';
import { BOOST_AUTHORITY } from '../../derived/boost-authority.js';
import { BOOST_DYNAMICS } from '../../derived/boost-dynamics.js';
import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { AIR_AGREEMENT, type AirAgreement } from '../../derived/computed-air.js';
import { exceeds } from '../../derived/exceeds.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { isFrontLambda, targetIdOf } from '../../derived/lambda-lag.js';
import { MEASURED_AIR } from '../../derived/measured-air.js';
import { type Drive, isRefusal, type Missing, type Refusal } from '../../derived/recipe.js';
import { SAMPLES, type Samples } from '../../derived/samples.js';
import { CRUISE } from '../../derived/segments.js';
import { totalTrim } from '../../derived/total-trim.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

export type Sign = 'divergence' | 'rich' | 'missed' | 'authority' | 'turboSpeed';

export interface LeakPull {
  readonly pull: number;
  readonly from: number;
  readonly to: number;
  /** Measured over computed air less 1, boosted rows; and its standard uncertainty. NaN when not told. */
  readonly excess: number;
  readonly excessU: number;
  /** Share by which the mixture needs less fuel than in cruise: rich under boost. NaN when not told. */
  readonly rich: number;
  readonly signs: readonly Sign[];
  readonly ratio: number;
  readonly samples: number;
}

export interface LeakObservation {
  readonly pulls: readonly LeakPull[];
  /** `meter` = an air meter stands before the charge pipes; else air is computed from pressure. */
  readonly metering: 'meter' | 'pressure';
  /** The excess grows with the flow, not with the leak: a meter that reads high. */
  readonly meterScale: boolean;
  /** The charge temperature sits before the compressor, so that the excess is hardly told. */
  readonly blind: boolean;
  /** What is judged, and why the rest is not. */
  readonly told: readonly Sign[];
  readonly missing: Missing;
  readonly channels: readonly Channel[];
}

/** Above idle overlap, where fresh air passes the cylinders, rpm; and pressure ratio that counts as boost. */
const SPEED_FROM = 2500;
const BOOSTED = 1.35;
/** Seconds of full pedal until pressures and sensors are settled. */
const SETTLED = 1.5;
const FEW = 3;
/** Rows count whose filling is known nearly as well as that of the best. */
const SURE = 1.25;
/** Standard uncertainty of a mixture at full load against cruise: sensor, trim steps. Common practice, no source. */
export const RICH_U = 0.015;
/** Share by which the excess may be larger at high flow than at low one: a leak is largest where the flow is low. */
const SCALE = 0.02;
const MANY = 12;

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly family: (
    base: 'lambda' | 'lambdaTarget' | 'fuelTrimShort' | 'fuelTrimLong' | 'turboSpeed',
  ) => readonly Channel[];
};

export function readLeak(view: Reads, limits: Readonly<Record<string, Limit>>): LeakObservation | Refusal {
  const full = view.derive(FULL_LOAD);
  if (isRefusal(full)) return full;
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const ambient = view.derive(AMBIENT);
  if (isRefusal(ambient)) return ambient;
  const measured = view.derive(MEASURED_AIR);
  const agreement = view.derive(AIR_AGREEMENT);
  const metering = !isRefusal(measured) && measured.source.includes('airMassFlow') ? 'meter' : 'pressure';
  const need = metering === 'meter' ? mixtureNeed(view, samples) : undefined;
  const dynamics = view.derive(BOOST_DYNAMICS);
  const authority = view.derive(BOOST_AUTHORITY);
  const turbos = view.family('turboSpeed').map(({ id }) => samples.held(id)!);
  const pressure = samples.held('manifoldPressure') ?? samples.held('boostPressure');
  const speed = samples.held('engineSpeed');
  const excesses: Point[] = [];
  const fats: Point[] = [];
  const groups = new Map<number, number[]>();
  for (const { start, end, pull, began } of full.pieces) {
    const rows = groups.get(pull) ?? [];
    for (let i = start; i <= end; i++) {
      if (view.time[i]! - began < SETTLED || !(speed !== undefined && speed[i]! >= SPEED_FROM)) continue;
      if (!(pressure !== undefined && pressure[i]! >= BOOSTED * ambient.pressure)) continue;
      rows.push(i);
    }
    if (rows.length > 0) groups.set(pull, rows);
  }
  const pulls: LeakPull[] = [];
  for (const [pull, rows] of groups) {
    if (rows.length < FEW) continue;
    const surest = metering === 'meter' && !isRefusal(agreement) ? surestRows(rows, agreement) : [];
    const ratios = surest.map((i) => (isRefusal(agreement) ? Number.NaN : agreement.ratio[i]! - 1));
    const us = surest.map((i) => (isRefusal(agreement) ? Number.NaN : agreement.uAt(i)));
    const needs: number[] = [];
    const faster: number[] = [];
    for (const i of rows) {
      if (metering === 'meter' && !isRefusal(agreement) && !isRefusal(measured) && !Number.isNaN(agreement.ratio[i]!))
        excesses.push({ flow: measured.values[i]!, value: agreement.ratio[i]! - 1 });
      if (need !== undefined && !Number.isNaN(need.at(i))) {
        needs.push(need.at(i));
        if (!isRefusal(measured)) fats.push({ flow: measured.values[i]!, value: 1 - need.at(i) / need.cruise });
      }
      if (turbos.length >= 2) faster.push(Math.abs(turbos[0]![i]! / turbos[1]![i]! - 1));
    }
    const excess = ratios.length >= FEW ? median(ratios) : Number.NaN;
    const excessU = ratios.length >= FEW ? median(us) : Number.NaN;
    const rich = needs.length >= FEW && need !== undefined ? 1 - median(needs) / need.cruise : Number.NaN;
    const short = isRefusal(dynamics)
      ? Number.NaN
      : Math.max(
          ...dynamics.responses.map(({ piece, short: each }) =>
            piece.pull === pull && !Number.isNaN(each.value) ? each.value : Number.NEGATIVE_INFINITY,
          ),
        );
    const own = isRefusal(authority) ? undefined : authority.pulls.find((each) => each.pull === pull);
    const signs: Sign[] = [];
    const { divergence, rich: fat, missed, authority: end, speed: apart } = limits;
    // Two signs have to agree: of each it is asked that it is there beyond doubt, and of a size that matters.
    if (excess > divergence!.value && exceeds(excess, excessU, 0, '>') === 'beyond') signs.push('divergence');
    if (!Number.isNaN(rich) && exceeds(rich, RICH_U, fat!.value, fat!.comparison) === 'beyond') signs.push('rich');
    if (Number.isFinite(short) && !isRefusal(dynamics) && dynamics.limitsTold.length > 0) {
      if (exceeds(short, dynamics.pair.u, missed!.value, missed!.comparison) === 'beyond') signs.push('missed');
    }
    if (own !== undefined && own.used >= end!.value) signs.push('authority');
    if (faster.length >= FEW && median(faster) > apart!.value) signs.push('turboSpeed');
    pulls.push({
      pull,
      from: view.time[rows[0]!]!,
      to: view.time[rows[rows.length - 1]!]!,
      excess,
      excessU,
      rich,
      signs,
      ratio: median(rows.map((i) => pressure![i]!)) / ambient.pressure,
      samples: rows.length,
    });
  }
  const told: Sign[] = [];
  if (pulls.some(({ excess }) => !Number.isNaN(excess))) told.push('divergence');
  if (pulls.some(({ rich }) => !Number.isNaN(rich))) told.push('rich');
  if (!isRefusal(dynamics) && dynamics.responses.length > 0) told.push('missed');
  if (!isRefusal(authority) && authority.pulls.length > 0) told.push('authority');
  if (turbos.length >= 2) told.push('turboSpeed');
  const missing = [agreement, dynamics, authority].filter(isRefusal).map((each) => each.missing);
  return {
    pulls,
    metering,
    // The mixture tells without any filling; the air only where it is all there is.
    meterScale: growsWithFlow(fats.length >= MANY ? fats : excesses),
    blind: !isRefusal(agreement) && agreement.blind,
    told,
    missing: {
      channels: [...new Set(missing.flatMap(({ channels }) => channels))],
      conditions: [...new Set(missing.flatMap(({ conditions }) => conditions))],
    },
    channels: [
      ...(isRefusal(authority) ? [] : authority.channels),
      ...view.family('lambda').filter(isFrontLambda).slice(0, 1),
    ],
  };
}

/** Rows where the filling is known best: near the engine speeds it was learned at, and there a leak is largest as well. */
function surestRows(rows: readonly number[], { ratio, uAt }: AirAgreement): number[] {
  const told = rows.filter((i) => !Number.isNaN(ratio[i]!));
  let least = Number.POSITIVE_INFINITY;
  for (const i of told) least = Math.min(least, uAt(i));
  return told.filter((i) => uAt(i) <= SURE * least);
}

/** A leak takes its share where boost is there and the flow still low; a meter that reads high does so at high flow. */
function growsWithFlow(points: Point[]): boolean {
  if (points.length < MANY) return false;
  points.sort((a, b) => a.flow - b.flow);
  const third = Math.floor(points.length / 3);
  const of = (part: readonly Point[]): number => median(part.map(({ value }) => value));
  return of(points.slice(-third)) > of(points.slice(0, third)) + SCALE;
}

interface Point {
  /** g/s */
  readonly flow: number;
  readonly value: number;
}

/** Fuel that the mixture takes over what the base tables give: lambda / target x trims; row by row and its median in cruise. */
function mixtureNeed(
  view: Reads,
  samples: Samples,
): { readonly at: (i: number) => number; readonly cruise: number } | undefined {
  const targets = view.family('lambdaTarget');
  const sensors = view.family('lambda').filter((each) => isFrontLambda(each) && !each.quality.constant);
  const target = samples.held(targetIdOf(sensors[0]?.id ?? '', targets) ?? '');
  const lambdas = sensors.map(({ id }) => samples.held(id)!);
  const longs = view.family('fuelTrimLong').map(({ id }) => samples.held(id)!);
  const shorts = view.family('fuelTrimShort').map(({ id }) => samples.held(id)!);
  if (target === undefined || lambdas.length === 0) return undefined;
  const mean = (columns: readonly Float64Array[], i: number, none: number): number => {
    if (columns.length === 0) return none;
    let sum = 0;
    for (const column of columns) sum += column[i]!;
    return sum / columns.length;
  };
  const at = (i: number): number =>
    (mean(lambdas, i, Number.NaN) / target[i]!) * (1 + totalTrim(mean(shorts, i, 0), mean(longs, i, 0)) / 100);
  const cruise = view.derive(CRUISE);
  const loop = view.derive(CLOSED_LOOP);
  if (isRefusal(cruise) || isRefusal(loop)) return undefined;
  const values: number[] = [];
  const rows = cruise.reduce((total, { start, end }) => total + end - start + 1, 0);
  const stride = Math.max(1, Math.floor(rows / 4000));
  for (const { start, end } of cruise)
    for (let i = start; i <= end; i += stride) {
      const x = loop.mask[i] === 1 ? at(i) : Number.NaN;
      if (!Number.isNaN(x)) values.push(x);
    }
  return values.length >= 30 ? { at, cruise: median(values) } : undefined;
}
