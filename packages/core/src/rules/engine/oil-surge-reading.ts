import { ACCELERATION } from '../../derived/acceleration.js';
import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { segmentsOf } from '../../derived/intervals.js';
import { LATERAL } from '../../derived/lateral.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { OIL_PRESSURE, type OilPressure } from '../../derived/oil-pressure.js';
import { type OwnCells, type OwnPressure, ownCells, ownLowest, ownSamplesOf } from '../../derived/oil-pressure-own.js';
import { type Drive, isRefusal, type Refusal } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { ENGINE_STARTS } from '../../derived/starts.js';
import { windowMinimum } from '../../math/window-minimum.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

const G = 9.80665;
/** g from which corners and brakings count, that long (s), and up to which the car's own pressure is learned. */
export const HARD = 0.6;
const HARD_FOR = 0.4;
const CALM = 0.3;
/** Oil needs this long (s) to leave the pick-up and to come back. */
const SLOSH = 1;
/** rpm above which pressure is missed, and lowest speed whose own pressure stands in for a higher one: there it is lower. */
export const FROM = 3000;
const OWN_FROM = 2000;
/** Seconds of a cell of engine speed straight ahead, and rpm that it may move there within half a second around. */
const CELL = 2;
const MOVES = 1500;
/** The own pressure of a speed further below (rpm) than that shows a drop, but no health. */
const FAR = 750;
/** Seconds of load until every pump has gone to the pressure of load. */
const SWITCHED = 1;
/** Seconds and fresh samples that a drop has to last; slowest log that shows it, Hz. */
const HELD = 0.2;
const FRESH = 3;
export const CORNER_HZ = 10;
/** Slowest log that times the pressure after a start, Hz. */
const START_HZ = 1;
/** rpm at which an engine has caught. */
const CAUGHT = 300;
/** Half-width of what a sensor is off, bar; common practice, no source. */
const TOLERANCE = 0.03;
/** Standard uncertainty of the car's own pressure within a cell of 500 rpm and 10 K, share. Our own choice. */
const OWN_U = 0.04;
/** What happens straight ahead at this share of the rate in corners is not the corners'. */
const AS_OFTEN = 0.3;

export interface Drop {
  readonly from: number;
  readonly to: number;
  /** bar, lowest; own pressure and % below it there. */
  readonly pressure: number;
  readonly own: number;
  readonly ownRpm: number;
  readonly drop: number;
  /** Standard uncertainty: %, bar. */
  readonly dropU: number;
  readonly rpm: number;
  /** g at the hardest within a second before. */
  readonly g: number;
  readonly samples: number;
}

export interface BuildUp {
  readonly from: number;
  /** s from 300 rpm to the pressure; at least so long where it never came. */
  readonly seconds: number;
  readonly u: number;
  readonly came: boolean;
  /** degC; NaN when not recorded. */
  readonly temperature: number;
}

/** Share of the own pressure, bar, rpm, seconds, and the engine speed (rpm) of the own pressure. */
export interface Least {
  readonly share: number;
  readonly pressure: number;
  readonly rpm: number;
  readonly at: number;
  readonly ownRpm: number;
}

export interface SurgeReading {
  readonly drops: readonly Drop[];
  /** Drops that come as often straight ahead: not the corners. */
  readonly everywhere: boolean;
  /** Seconds of judged cornering and of judged hard driving in all (corners and brakings). */
  readonly cornering: number;
  readonly hard: number;
  /** Lowest share of the own pressure there, and where; NaN when nothing was judged. */
  readonly least: Least;
  /** Low pressure that only an own pressure of much lower engine speed could be set against; undefined without. */
  readonly unsure: Least | undefined;
  /** Why corners could not be judged at all. */
  readonly missing: { readonly channels: readonly string[]; readonly conditions: readonly string[] };
  readonly starts: readonly BuildUp[];
  readonly startMissing: { readonly conditions: readonly string[] };
  readonly loadKnown: boolean;
  readonly channels: readonly Channel[];
}

export interface SurgeLimits {
  readonly drop: Limit;
  readonly pressure: Limit;
  readonly present: Limit;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly optional: (id: 'engineOilTemperature' | 'coolantTemperature') => Channel | undefined;
};

/** Pressure in corners against the car's own straight ahead, and its build-up after each start. */
export function readSurge(view: Reads, limits: SurgeLimits): SurgeReading | Refusal {
  const oil = view.derive(OIL_PRESSURE);
  if (isRefusal(oil)) return oil;
  const noise = uncertaintyOf(oil.channel, { tolerance: TOLERANCE });
  const u = Math.hypot(noise, oil.zeroError);
  return { ...cornersOf(view, oil, u, limits), ...startsOf(view, oil, limits.present), channels: [oil.channel] };
}

const NOWHERE: Least = {
  share: Number.NaN,
  pressure: Number.NaN,
  rpm: Number.NaN,
  at: Number.NaN,
  ownRpm: Number.NaN,
};

type Corners = Omit<SurgeReading, 'starts' | 'startMissing' | 'channels'>;

function cornersOf(view: Reads, oil: OilPressure, u: number, limits: SurgeLimits): Corners {
  const none: Corners = {
    drops: [],
    everywhere: false,
    cornering: 0,
    hard: 0,
    least: NOWHERE,
    unsure: undefined,
    missing: { channels: [], conditions: [] },
    loadKnown: true,
  };
  const lateral = view.derive(LATERAL);
  const along = view.derive(ACCELERATION);
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples) || isRefusal(lateral))
    return { ...none, missing: { channels: isRefusal(lateral) ? lateral.missing.channels : [], conditions: [] } };
  if (oil.hotBy === undefined) return { ...none, missing: { channels: oil.refused, conditions: [] } };
  if (oil.hz < 0.95 * CORNER_HZ)
    return { ...none, missing: { channels: [], conditions: [`engineOilPressure at >= ${CORNER_HZ} Hz`] } };
  const { time } = view;
  const rows = time.length;
  const g = new Float64Array(rows);
  const turning = new Uint8Array(rows);
  const hard = new Uint8Array(rows);
  const light = new Uint8Array(rows);
  const loaded = new Uint8Array(rows);
  const pulling = new Uint8Array(rows);
  let eased = Number.NEGATIVE_INFINITY;
  const load = view.derive(LOAD_FRACTION);
  for (let i = 0; i < rows; i++) {
    const x = isRefusal(along) || Number.isNaN(along.values[i]!) ? 0 : along.values[i]!;
    g[i] = Math.hypot(lateral.values[i]!, x) / G;
    if (g[i]! >= HARD) hard[i] = 1;
    if (Math.abs(lateral.values[i]!) >= HARD * G) turning[i] = 1;
    // A regulated pump makes less at light load, as in most corners: like is compared with like.
    if (!isRefusal(load) && load.cruiseLow[i] === 1) eased = time[i]!;
    if (!isRefusal(load) && time[i]! - eased >= SWITCHED && time[i]! - time[0]! >= SWITCHED) pulling[i] = 1;
    if (g[i]! > CALM || oil.hot[i] !== 1) continue;
    if (isRefusal(load) || load.cruiseLow[i] === 1) light[i] = 1;
    if (pulling[i] === 1) loaded[i] = 1;
  }
  const options = { minDuration: HARD_FOR, maxGap: 0.15, maxStep: samples.maxStep };
  const inHard = reached(segmentsOf(hard, time, options), time);
  const inTurn = reached(segmentsOf(turning, time, options), time);
  const temperature = view.optional('engineOilTemperature');
  const own = (mask: Uint8Array): OwnCells => {
    const straight = ownSamplesOf(time, oil.fresh, oil.rpm, oil.pressure, mask, temperature, MOVES, 'fastest');
    return ownCells(straight, oil.hz, 0, straight.time.length, CELL);
  };
  const where = { g, inHard, inTurn, pulling, u, maxStep: samples.maxStep, ...limits };
  const found = dropsOf(time, oil, { light: own(light), loaded: own(loaded) }, temperature, where);
  const noOwn = found.unjudged > 0 && found.hard === 0;
  return {
    ...none,
    ...found,
    loadKnown: !isRefusal(load),
    missing: {
      channels: [],
      conditions: noOwn ? [`hot oil, straight ahead at light load above ${OWN_FROM} rpm for >= 5 s`] : [],
    },
  };
}

/** 1 in the segments and a second after each. */
function reached(segments: readonly { from: number; to: number; start: number }[], time: Float64Array): Uint8Array {
  const mask = new Uint8Array(time.length);
  for (const { start, to } of segments) for (let i = start; i < time.length && time[i]! <= to + SLOSH; i++) mask[i] = 1;
  return mask;
}

interface Where extends SurgeLimits {
  readonly g: Float64Array;
  readonly inHard: Uint8Array;
  readonly inTurn: Uint8Array;
  /** 1 = loaded for long enough. */
  readonly pulling: Uint8Array;
  readonly u: number;
  readonly maxStep: number;
}

interface Run {
  rows: number[];
  worst: number;
}

interface Own {
  readonly light: OwnCells;
  readonly loaded: OwnCells;
}

function dropsOf(time: Float64Array, oil: OilPressure, own: Own, warmth: Channel | undefined, where: Where) {
  const temperature = warmth === undefined ? undefined : heldValues(warmth.values, time);
  const slowest = windowMinimum(oil.rpm, time, 0.5);
  const drops: Drop[] = [];
  const outside: Drop[] = [];
  let hardRows = 0;
  let turnRows = 0;
  let calmRows = 0;
  let unjudged = 0;
  let least = NOWHERE;
  let unsure: Least | undefined;
  const poor: Drop[] = [];
  const runs: Record<'hard' | 'calm' | 'poor', Run> = {
    hard: { rows: [], worst: -1 },
    calm: { rows: [], worst: -1 },
    poor: { rows: [], worst: -1 },
  };
  const ownAt = (i: number): OwnPressure => {
    const at = (cells: OwnCells) => ownLowest(cells, slowest[i]!, temperature?.[i] ?? Number.NaN, OWN_FROM);
    const [light, loaded] = [at(own.light), at(own.loaded)];
    // Under load a pump makes at least what it makes without; the nearer speed tells more.
    const better = loaded.rpm > 0 && (!(light.rpm >= loaded.rpm) || loaded.pressure > light.pressure);
    const usual = where.pulling[i] === 1 && better ? loaded : light;
    // An engine without any pressure straight ahead is the other rule's.
    return usual.pressure >= where.present.value ? usual : { pressure: Number.NaN, rpm: Number.NaN };
  };
  const close = (run: Run, into: Drop[]): void => {
    const { rows, worst } = run;
    run.rows = [];
    if (rows.length < FRESH) return;
    const first = rows[0]!;
    const last = rows[rows.length - 1]!;
    if (time[last]! - time[first]! + 1 / oil.hz < HELD - 1e-6) return;
    const p = oil.pressure[worst]!;
    const { pressure: usual, rpm: ownRpm } = ownAt(worst);
    let g = 0;
    for (let i = last; i >= 0 && time[i]! >= time[first]! - SLOSH; i--) if (where.g[i]! > g) g = where.g[i]!;
    into.push({
      from: time[first]!,
      to: time[last]!,
      pressure: p,
      own: usual,
      ownRpm,
      drop: 100 * (1 - p / usual),
      dropU: 100 * Math.hypot(where.u / usual, (OWN_U * p) / usual),
      rpm: oil.rpm[worst]!,
      g,
      samples: rows.length,
    });
  };
  let previous = Number.NaN;
  for (const i of oil.fresh) {
    const p = oil.pressure[i]!;
    const hard = where.inHard[i] === 1;
    if (time[i]! - previous > Math.min(where.maxStep, 3.5 / oil.hz)) {
      close(runs.hard, drops);
      close(runs.calm, outside);
      close(runs.poor, poor);
    }
    previous = time[i]!;
    const judged = oil.hot[i] === 1 && slowest[i]! > FROM;
    const { pressure: usual, rpm: ownRpm } = judged ? ownAt(i) : { pressure: Number.NaN, rpm: Number.NaN };
    if (judged && hard && Number.isNaN(usual)) unjudged++;
    const known = judged && !Number.isNaN(usual);
    if (known && hard) {
      hardRows++;
      if (where.inTurn[i] === 1) turnRows++;
      if (!(p / usual >= least.share))
        least = { share: p / usual, pressure: p, rpm: oil.rpm[i]!, at: time[i]!, ownRpm };
    } else if (known) calmRows++;
    const share = 100 * (1 - p / usual);
    const shareU = 100 * Math.hypot(where.u / usual, (OWN_U * p) / usual);
    const poorly = known && exceeds(p, where.u, where.pressure.value, where.pressure.comparison) === 'beyond';
    const low = poorly && exceeds(share, shareU, where.drop.value, where.drop.comparison) === 'beyond';
    for (const [run, mine, into] of [
      [runs.hard, low && hard, drops],
      [runs.calm, low && !hard, outside],
      [runs.poor, poorly && !low && hard && slowest[i]! - ownRpm > FAR, poor],
    ] as const) {
      if (!mine) close(run, into);
      else {
        if (run.rows.length === 0 || p < oil.pressure[run.worst]!) run.worst = i;
        run.rows.push(i);
      }
    }
  }
  close(runs.hard, drops);
  close(runs.calm, outside);
  close(runs.poor, poor);
  for (const each of poor)
    if (!(each.pressure >= (unsure?.pressure ?? Number.NaN)))
      unsure = {
        share: 1 - each.drop / 100,
        pressure: each.pressure,
        rpm: each.rpm,
        at: each.from,
        ownRpm: each.ownRpm,
      };
  const everywhere =
    drops.length > 0 && outside.length / Math.max(1, calmRows) >= (AS_OFTEN * drops.length) / Math.max(1, hardRows);
  return { drops, everywhere, cornering: turnRows / oil.hz, hard: hardRows / oil.hz, least, unsure, unjudged };
}

/** From the row at which the engine has caught to the first fresh pressure. */
function startsOf(view: Reads, oil: OilPressure, present: Limit): Pick<SurgeReading, 'starts' | 'startMissing'> {
  const starts = view.derive(ENGINE_STARTS);
  const samples = view.derive(SAMPLES);
  if (isRefusal(starts) || isRefusal(samples)) return { starts: [], startMissing: { conditions: [] } };
  if (oil.hz < 0.95 * START_HZ)
    return { starts: [], startMissing: { conditions: [`engineOilPressure at >= ${START_HZ} Hz`] } };
  const { time } = view;
  const speedHz = samples.hz('engineSpeed');
  // Both ends lie in the interval before their sample, each uniform; the slower channel is later by half the difference.
  const u = Math.hypot(1 / oil.hz, 1 / speedHz) / Math.sqrt(12);
  const late = 0.5 * (1 / oil.hz - 1 / speedHz);
  const found: BuildUp[] = [];
  for (const start of starts) {
    let caught = time.findIndex((t, i) => t >= start.from && oil.rpm[i]! >= CAUGHT);
    if (caught < 0 || Number.isNaN(start.to)) continue;
    const from = time[caught]!;
    let came = false;
    let last = from;
    let seen = 0;
    for (const i of oil.fresh) {
      if (i < caught) continue;
      // Stalled, or a gap: nobody saw the pressure come.
      while (caught < i && oil.rpm[caught + 1]! >= CAUGHT && time[caught + 1]! - time[caught]! <= samples.maxStep)
        caught++;
      if (caught < i) break;
      last = time[i]!;
      seen++;
      if (oil.pressure[i]! >= present.value) {
        came = true;
        break;
      }
    }
    if (seen > 0)
      found.push({ from, seconds: Math.max(0, last - from - late), u, came, temperature: start.temperature });
  }
  return { starts: found, startMissing: { conditions: [] } };
}
