import { madn } from '../math/madn.js';
import { median, quantile } from '../math/quantile.js';
import { AIR_TORQUE, type TorqueEstimate } from './air-torque.js';
import { linedOf } from './lined.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { ROAD_TORQUE } from './road-torque.js';
import { WARM } from './warm.js';

export type TorqueBasis = 'channel' | 'air' | 'road';

/** Two independent ways to the same torque, compared under load. */
export interface TorqueAgreement {
  readonly first: TorqueBasis;
  readonly second: TorqueBasis;
  /** first / second, median under steady load. */
  readonly ratio: number;
  /** Relative standard uncertainty of the ratio by what is known of both. */
  readonly u: number;
  /** Standard uncertainty of ln(ratio) by the scatter of this comparison and its surroundings alone. */
  readonly scatter: number;
  /** Apart by more than {@link APART}, beyond the scatter of the comparison. */
  readonly differs: boolean;
  /** Seconds compared. */
  readonly seconds: number;
  /** Compared in a cold engine for want of a warm one: friction is then more than either estimate takes it for. */
  readonly cold: boolean;
}

export interface EngineTorque {
  /** N.m at the crank, row by row; NaN where it cannot be told. */
  readonly values: Float64Array;
  /** Relative standard uncertainty at high load. */
  readonly u: number;
  /** What the rows come from. */
  readonly basis: TorqueBasis;
  /** All estimates that could be made. */
  readonly estimates: Readonly<Partial<Record<TorqueBasis, TorqueEstimate>>>;
  /** Factor on `basis` that brings it between the estimates; 1 with one estimate. */
  readonly factor: number;
  readonly agreements: readonly TorqueAgreement[];
  /** Air and road agree with each other and not with the channel, which is left out. */
  readonly outvoted: boolean;
}

/** A control unit's own torque model, in the car it was made for. Common practice, no source. */
const CHANNEL_U = 0.05;
/** Two estimates of a sound model stand this close, relative; common practice, no source. */
const APART = 0.08;
const LEAST_SECONDS = 2;
/** bar: below this mean effective pressure friction, known to half a bar (more while cold), is too much of the torque. Common practice, no source. */
const LEAST_BMEP = 8;

export const ENGINE_TORQUE = recipe<EngineTorque>({
  id: 'engineTorqueReconciled',
  about:
    'Engine torque (N.m): channel, air and road load reconciled under steady load by the weighted mean of their logarithms (weights 1 / u^2), the uncertainty widened by the Birge ratio where they disagree (Birge 1932, from memory).',
  compute(drive) {
    const estimates: Partial<Record<TorqueBasis, TorqueEstimate>> = {};
    const missing: Refusal[] = [];
    for (const [basis, made] of [
      ['channel', channelTorque(drive)],
      ['air', drive.derive(AIR_TORQUE)],
      ['road', drive.derive(ROAD_TORQUE)],
    ] as const) {
      if (isRefusal(made)) missing.push(made);
      else if (made.values.some((x) => x > 0)) estimates[basis] = made;
    }
    const order = (['channel', 'air', 'road'] as const).filter((basis) => estimates[basis] !== undefined);
    const [basis] = order;
    if (basis === undefined) {
      return refuse(`no engine torque: ${missing.map(({ reason }) => reason).join('; ')}`, {
        channels: ['engineTorque'],
        conditions: missing.flatMap(({ missing: each }) => each.conditions),
      });
    }
    const agreements: TorqueAgreement[] = [];
    for (let a = 0; a < order.length; a++)
      for (let b = a + 1; b < order.length; b++) {
        const found = warmFirst(drive, order[a]!, estimates[order[a]!]!, order[b]!, estimates[order[b]!]!);
        if (found !== undefined) agreements.push(found);
      }
    // A control unit whose torque model was not rescaled with the engine is outvoted by air and road.
    const outvoted = isOutvoted(agreements);
    const counted = outvoted ? 'air' : basis;
    const { factor, u } = reconciled(
      counted,
      estimates,
      agreements.filter(({ first }) => !(outvoted && first === 'channel')),
    );
    return {
      values: estimates[counted]!.values.map((x) => x * factor),
      u,
      basis: counted,
      outvoted,
      estimates,
      factor,
      agreements,
    };
  },
});

/** The control unit's torque: N.m, or percent of the reference (SAE J1979 PID 62, 63). */
function channelTorque(drive: Drive): TorqueEstimate | Refusal {
  const torque = drive.channel('engineTorque');
  if (torque !== undefined && !torque.quality.constant)
    return { values: linedOf(drive, 'engineTorque')!, u: CHANNEL_U, source: 'engineTorque' };
  const percent = drive.channel('engineTorquePercent');
  const logged = drive.channel('engineTorqueReference')?.values;
  const reference = logged === undefined ? drive.vehicle.engine.ratedTorque : quantile(logged, 0.5);
  if (percent === undefined || percent.quality.constant || !((reference ?? 0) > 0))
    return refuse('engineTorque is absent', { channels: ['engineTorque'] });
  return {
    values: linedOf(drive, 'engineTorquePercent')!.map((x) => (x / 100) * reference!),
    u: CHANNEL_U,
    source: 'engineTorquePercent',
  };
}

/** Compared in the warm engine; in the cold one where it never was warm under load. */
function warmFirst(...pair: Parameters<typeof compared>): TorqueAgreement | undefined {
  const [drive, first, a, second, b] = pair;
  const warm = drive.derive(WARM);
  const found = isRefusal(warm) ? undefined : compared(drive, first, a, second, b, warm.mask);
  return found ?? compared(drive, first, a, second, b);
}

function compared(
  drive: Drive,
  first: TorqueBasis,
  a: TorqueEstimate,
  second: TorqueBasis,
  b: TorqueEstimate,
  warm?: Uint8Array,
): TorqueAgreement | undefined {
  const speed = linedOf(drive, 'engineSpeed');
  const { displacement } = drive.vehicle.engine;
  const least = displacement === undefined ? 0 : (LEAST_BMEP * 100 * displacement) / (4 * Math.PI);
  const high = Math.max(0.5 * quantile(b.values, 0.98), least);
  const logs: number[] = [];
  let seconds = 0;
  let last = Number.NaN;
  let from = 0;
  const { time } = drive;
  for (let i = 0; i < time.length; i++) {
    const x = a.values[i]!;
    const y = b.values[i]!;
    if (!(y >= high && x > 0) || warm?.[i] === 0 || (speed !== undefined && !(speed[i]! >= 1200))) continue;
    while (time[from]! < time[i]! - 0.5) from++;
    // Moving torque: the estimates lag each other.
    const before = a.values[from]!;
    if (!(Math.abs(before / x - 1) < 0.08)) continue;
    const step = time[i]! - last;
    seconds += step < 1.1 ? step : 0;
    last = time[i]!;
    logs.push(Math.log(x / y));
  }
  if (seconds < LEAST_SECONDS || logs.length < 3) return undefined;
  const middle = median(logs);
  // Errors of slope and gear last for seconds: one independent value in three seconds.
  const scatter = Math.hypot(
    (1.2533 * madn(logs)) / Math.sqrt(Math.max(1, seconds / 3)),
    a.surroundings ?? 0,
    b.surroundings ?? 0,
  );
  return {
    first,
    second,
    ratio: Math.exp(middle),
    u: Math.hypot(a.u, b.u),
    scatter,
    differs: Math.abs(middle) - 1.645 * scatter > Math.log(1 + APART),
    seconds,
    cold: warm === undefined && !isRefusal(drive.derive(WARM)),
  };
}

function isOutvoted(agreements: readonly TorqueAgreement[]): boolean {
  const pair = (first: TorqueBasis, second: TorqueBasis) =>
    agreements.find((each) => each.first === first && each.second === second);
  const [air, road, both] = [pair('channel', 'air'), pair('channel', 'road'), pair('air', 'road')];
  return (
    both !== undefined &&
    !both.differs &&
    air?.differs === true &&
    road !== undefined &&
    air.ratio < 1 === road.ratio < 1
  );
}

/** Weighted mean of ln(estimate / basis); the basis itself is 0. */
function reconciled(
  basis: TorqueBasis,
  estimates: Readonly<Partial<Record<TorqueBasis, TorqueEstimate>>>,
  agreements: readonly TorqueAgreement[],
): { factor: number; u: number } {
  const own = estimates[basis]!;
  const points = [{ x: 0, u: own.u }];
  for (const { first, second, ratio } of agreements)
    if (first === basis) points.push({ x: -Math.log(ratio), u: estimates[second]!.u });
  let total = 0;
  let weights = 0;
  for (const { x, u } of points) {
    total += x / u ** 2;
    weights += 1 / u ** 2;
  }
  const mean = total / weights;
  let chi = 0;
  for (const { x, u } of points) chi += ((x - mean) / u) ** 2;
  const birge = points.length > 1 ? Math.max(1, Math.sqrt(chi / (points.length - 1))) : 1;
  return { factor: Math.exp(mean), u: birge / Math.sqrt(weights) };
}
