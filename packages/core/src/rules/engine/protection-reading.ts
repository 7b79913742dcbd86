import { AXLE_SPEEDS } from '../../derived/axle-speeds.js';
import { ENGINE_TORQUE, type EngineTorque } from '../../derived/engine-torque.js';
import { widened } from '../../derived/intervals.js';
import { TRACTION_BLIND } from '../../derived/knock-decoys.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS, type Segment } from '../../derived/segments.js';
import { SPEED } from '../../derived/speed.js';
import { TORQUE_INTERVENTIONS } from '../../derived/torque-interventions.js';
import { heldMaximum } from '../../math/held-maximum.js';
import type { Channel } from '../../recording/recording.js';

/** Share of the pedal's travel that asks for everything, %. */
const FULL = 90;
/** Seconds of full pedal that any boost may take, and seconds after a start or an intervention. */
const SPOOL = 1.5;
/** Share of the demand, or of the most of the stretch, at which torque has come. Common practice, no source. */
const COME = { demand: 0.95, most: 0.97 } as const;
const AFTER = 0.5;
/** Below this speed (km/h) a start or the traction of first gear may limit the torque on purpose. */
const ROLLING = 30;
/** Axles further apart than this (share, and km/h) may be held by the traction control. Hard pulls slip by 2 to 6 %. */
const SPINNING = { share: 0.04, speed: 0.5 };
/** Less than this share of the demand is a cut for shift or traction, no protection, which leaves a car to drive on. */
const CUT = 0.2;
/** Cold oil limits engine speed and torque on purpose below this (degC). */
const OIL_FROM = 60;
/** rpm between which the rated torque is to be had; above, power falls. */
const PLATEAU = [2500, 4800] as const;
const DEFICIT_HELD = 1;

export interface Deficit {
  readonly from: number;
  readonly to: number;
  /** Demand less actual torque over demand, held for a second. */
  readonly share: number;
  readonly rpm: number;
}

export interface Top {
  readonly from: number;
  readonly to: number;
  /** N.m, by the first thing that tells it: the control unit, else air, else road load. */
  readonly torque: number;
  /** N.m, all that tell it weighed together. */
  readonly reconciled: number;
}

export interface ProtectionObservation {
  /** Neither flags nor wheel speeds tell of the traction control. */
  readonly blind: boolean;
  /** Seconds of full pedal in which demand and actual torque could be compared. */
  readonly compared: number;
  readonly deficits: readonly Deficit[];
  readonly largest: number;
  /** Highest torque held for half a second in each full-load stretch through the plateau. */
  readonly tops: readonly Top[];
  readonly torqueU: number;
  /** Stretches with a flag of the control unit (limp mode, limiter at full pedal, power limit). */
  readonly flags: readonly { readonly id: string; readonly from: number; readonly to: number }[];
  /** Flags that were recorded at all. */
  readonly flagged: readonly string[];
  readonly channels: readonly Channel[];
  readonly notes: readonly string[];
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly optional: (
    id: 'engineTorque' | 'engineTorqueTarget' | 'limpMode' | 'torqueLimiterActive',
  ) => Channel | undefined;
};

/** @param least deficit (share of the demand) from which a stretch counts */
export function readProtection(view: Reads, least: number): ProtectionObservation | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const pedal = view.derive(PEDAL_RELATIVE);
  const flags = (['limpMode', 'torqueLimiterActive'] as const).flatMap((id) => {
    const channel = view.optional(id);
    return channel === undefined ? [] : [{ id, values: samples.held(id)! }];
  });
  if (isRefusal(pedal) && flags.length === 0) return refuse(pedal.reason, pedal.missing);
  const { time } = view;
  const interventions = view.derive(TORQUE_INTERVENTIONS);
  // Traction control takes torque without a word: where nothing shows it, nothing can be said.
  const blind = isRefusal(interventions) || interventions.blind.includes(TRACTION_BLIND);
  const free = isRefusal(pedal) || blind ? new Uint8Array(time.length) : freeRows(view, pedal.values);
  const speed = samples.held('engineSpeed');
  const actual = view.optional('engineTorque');
  const target = view.optional('engineTorqueTarget');
  const both =
    actual !== undefined && target !== undefined && !actual.quality.constant && !target.quality.constant
      ? deficitsOf(
          time,
          free,
          samples.held('engineTorqueTarget')!,
          samples.held('engineTorque')!,
          speed,
          least,
          samples.maxStep,
        )
      : { compared: 0, deficits: [], largest: Number.NaN };
  const torque = view.derive(ENGINE_TORQUE);
  const pulls = view.derive(PULLS);
  const tops =
    isRefusal(torque) || isRefusal(pulls) || speed === undefined
      ? []
      : pulls.flatMap((pull) => topOf(pull, torque, speed, free, time, samples.maxStep));
  return {
    ...both,
    blind,
    tops,
    torqueU: isRefusal(torque) ? Number.NaN : torque.u,
    flags: flags.flatMap(({ id, values }) => flagStretches(id, values, time, id === 'limpMode' ? undefined : free)),
    flagged: flags.map(({ id }) => id),
    channels: [actual, target].filter((each) => each !== undefined),
    notes:
      actual !== undefined && freshRate(actual).hz < 2.8
        ? ['Engine torque comes too slowly to see what was held for a second.']
        : [],
  };
}

/** 1 = full pedal for long enough, warm oil, on the move, and nothing that takes torque on purpose. */
function freeRows(view: Reads, pedal: Float64Array): Uint8Array {
  const { time } = view;
  const samples = view.derive(SAMPLES);
  const speed = view.derive(SPEED);
  const interventions = view.derive(TORQUE_INTERVENTIONS);
  const oil = isRefusal(samples)
    ? undefined
    : (samples.held('engineOilTemperature') ?? samples.held('coolantTemperature'));
  const blocked = new Uint8Array(time.length);
  if (!isRefusal(interventions)) {
    for (const mask of [interventions.mask, interventions.traction])
      for (const { start, end } of widened(stretchesOf(mask, time), time, 0, AFTER)) blocked.fill(1, start, end + 1);
  }
  const axles = view.derive(AXLE_SPEEDS);
  const slipping = (i: number): boolean => {
    if (isRefusal(axles)) return false;
    const [front, rear] = [axles.front[i]!, axles.rear[i]!];
    return Math.abs(front - rear) > SPINNING.share * Math.min(front, rear) + SPINNING.speed;
  };
  const free = new Uint8Array(time.length);
  let since = Number.NaN;
  for (let i = 0; i < time.length; i++) {
    const rolling = isRefusal(speed) || speed.values[i]! >= ROLLING;
    if (!(pedal[i]! >= FULL) || !rolling || (oil !== undefined && oil[i]! < OIL_FROM)) {
      since = Number.NaN;
      continue;
    }
    if (Number.isNaN(since)) since = time[i]!;
    if (time[i]! - since >= SPOOL && blocked[i] === 0 && !slipping(i)) free[i] = 1;
  }
  return free;
}

function stretchesOf(mask: Uint8Array, time: Float64Array): Segment[] {
  const found: Segment[] = [];
  for (let i = 0; i < mask.length; i++) {
    if (mask[i] === 0) continue;
    const start = i;
    while (i + 1 < mask.length && mask[i + 1] === 1) i++;
    found.push({ start, end: i, from: time[start]!, to: time[i]! });
  }
  return found;
}

function deficitsOf(
  time: Float64Array,
  free: Uint8Array,
  wanted: Float64Array,
  actual: Float64Array,
  speed: Float64Array | undefined,
  least: number,
  maxStep: number,
): Pick<ProtectionObservation, 'compared' | 'deficits' | 'largest'> {
  const share = new Float64Array(time.length).fill(Number.NaN);
  const come = hasCome(time, free, wanted, actual, maxStep);
  let compared = 0;
  for (let i = 0; i < time.length; i++) {
    if (come[i] === 0 || !(wanted[i]! > 50)) continue;
    // Below, a turbocharged engine cannot give all that is asked for, however long it is asked.
    if (speed !== undefined && !(speed[i]! >= PLATEAU[0])) continue;
    if (actual[i]! < CUT * wanted[i]!) continue;
    share[i] = 1 - actual[i]! / wanted[i]!;
    if (i > 0) compared += Math.min(time[i]! - time[i - 1]!, maxStep);
  }
  const deficits: Deficit[] = [];
  const over = new Uint8Array(share.length);
  for (let i = 0; i < share.length; i++) if (share[i]! > least) over[i] = 1;
  for (const stretch of stretchesOf(over, time)) {
    const held = heldMaximum(
      share.subarray(stretch.start, stretch.end + 1),
      time.subarray(stretch.start, stretch.end + 1),
      DEFICIT_HELD,
      maxStep,
    );
    if (held.index < 0 || stretch.end - stretch.start < 2) continue;
    deficits.push({
      from: stretch.from,
      to: stretch.to,
      share: held.value,
      rpm: speed?.[stretch.start + held.index] ?? Number.NaN,
    });
  }
  return { compared, deficits, largest: heldMaximum(share, time, DEFICIT_HELD, maxStep).value };
}

/**
 * 1 = torque has come: it has once been that of the demand, or as high as it gets in this stretch of full pedal. Until
 * then a turbocharger may be running up, which takes seconds for a large one or from low engine speed. Torque that is
 * held back stands at its ceiling from the start.
 */
function hasCome(
  time: Float64Array,
  free: Uint8Array,
  wanted: Float64Array,
  actual: Float64Array,
  maxStep: number,
): Uint8Array {
  const come = new Uint8Array(free.length);
  for (const { start, end } of stretchesOf(free, time)) {
    const most = heldMaximum(
      actual.subarray(start, end + 1),
      time.subarray(start, end + 1),
      DEFICIT_HELD / 2,
      maxStep,
    ).value;
    let there = false;
    for (let i = start; i <= end; i++) {
      there ||= actual[i]! >= COME.demand * wanted[i]! || actual[i]! >= COME.most * most;
      if (there) come[i] = 1;
    }
  }
  return come;
}

/** Highest torque held for half a second in a pull that went through the plateau with everything free. */
function topOf(
  pull: Segment,
  torque: EngineTorque,
  speed: Float64Array,
  free: Uint8Array,
  time: Float64Array,
  maxStep: number,
): Top[] {
  const own = (torque.estimates.channel ?? torque.estimates[torque.basis]!).values;
  const values: number[] = [];
  const told: number[] = [];
  const at: number[] = [];
  for (let i = pull.start; i <= pull.end; i++) {
    const inside = free[i] === 1 && speed[i]! >= PLATEAU[0] && speed[i]! <= PLATEAU[1];
    if (!inside || Number.isNaN(torque.values[i]!) || Number.isNaN(own[i]!)) continue;
    values.push(torque.values[i]!);
    told.push(own[i]!);
    at.push(time[i]!);
  }
  const held = heldMaximum(values, at, 0.5, maxStep);
  if (held.index < 0) return [];
  // Still rising when the pedal was lifted: that is no ceiling.
  let level = 0;
  for (let k = 1; k < at.length; k++)
    if (values[k]! >= COME.most * held.value) level += Math.min(at[k]! - at[k - 1]!, maxStep);
  return level < DEFICIT_HELD
    ? []
    : [{ from: pull.from, to: pull.to, torque: heldMaximum(told, at, 0.5, maxStep).value, reconciled: held.value }];
}

/** A flag that stands for half a second; a limiter counts only where nothing else takes torque. */
function flagStretches(
  id: string,
  values: Float64Array,
  time: Float64Array,
  free: Uint8Array | undefined,
): { id: string; from: number; to: number }[] {
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < mask.length; i++) if (values[i]! >= 0.5 && free?.[i] !== 0) mask[i] = 1;
  return stretchesOf(mask, time).flatMap(({ from, to }) => (to - from >= DEFICIT_HELD ? [{ id, from, to }] : []));
}
