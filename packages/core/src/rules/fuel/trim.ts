import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';

import { isRefusal, type Refusal } from '../../derived/recipe.js';
import { freshRate, heldValues } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { CRUISE, IDLE, LOAD } from '../../derived/segments.js';
import { OIL_WARM, WARM } from '../../derived/warm.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type View } from '../rule.js';
import { type Cell, cellOf, REGIMES, type Regime, type Signals, totalTrim, withoutCuts } from './trim-cells.js';
import type { TrimObservation } from './trim-findings.js';
import { judgeTrims } from './trim-judgement.js';

const CP = 'common practice, no source';
/** Step of a trim by SAE J1979 (PID 06 to 09: 100/128 %), for a column that never moves and so shows none. */
const J1979_STEP = 100 / 128;
/** Mixture is out of the controller's hands this long after a fuel cut (s). Common practice, no source. */
const AFTER_CUT = 3;
/** Above this duty (%) fuel vapour from the canister moves the trim. Common practice, no source. */
const PURGE_HIGH = 50;

const SEGMENTS = { idle: IDLE, cruise: CRUISE, load: LOAD };
const DERIVED = [CLOSED_LOOP, FUEL_CUT, SAMPLES, IDLE, CRUISE, LOAD, WARM, OIL_WARM] as const;

export const fuelTrim = defineRule({
  id: 'fuel.trim',
  system: 'fuel',
  question: 'How far is the mixture corrected, in which regime, on which bank, and why?',
  why: 'The trim shows what the control unit has to make good: leaks, a tired pump, a dirty air meter, leaking injectors, long before a lamp lights.',
  weight: 2,
  needs: {
    channels: ['fuelTrimLong.bank1'],
    optional: [
      'fuelTrimLong',
      'fuelTrimShort',
      'coolantTemperature',
      'lambda',
      'lambdaTarget',
      'purgeDuty',
      'timeSinceClear',
      'ethanolContent',
    ],
    derived: DERIVED,
    conditions: ['warm idle >= 30 s', 'warm cruise >= 30 s', 'closed-loop load >= 30 s'],
  },
  limits: [
    {
      name: 'watch',
      value: 10,
      unit: '%',
      comparison: '>',
      source: 'common practice (trade pages: investigate beyond 10 % total)',
      about: 'size of the total trim, lean or rich, median of a regime',
    },
    {
      name: 'repair',
      value: 15,
      unit: '%',
      comparison: '>',
      source: 'common practice (trade pages: codes for lean or rich mixture set from about 15 %)',
      about: 'size of the total trim, lean or rich, median of a regime',
    },
    {
      name: 'stop',
      value: 20,
      unit: '%',
      comparison: '>=',
      source: CP,
      about: 'lean total trim under load, with lambda lean of target or the trim at its end',
    },
    {
      name: 'lean',
      value: 0.03,
      unit: '1',
      comparison: '>',
      source: CP,
      about: 'lambda minus target under load, median',
    },
    {
      name: 'bankDifference',
      value: 6,
      unit: '%',
      comparison: '>',
      source: CP,
      about: 'difference between the banks in a regime, each over at least 60 s',
    },
  ],
  method:
    'Total trim = (1 + short)(1 + long) - 1, per bank, as the median of at least 30 s of idle, cruise and load, with the engine warm and the mixture in closed loop. A finding takes the lower 95 % bound of the median (spread, serial correlation, step of the reading) beyond the limit. Which regimes and banks are off, and in which direction, ranks the causes. Clear takes idle and one of cruise and load on every bank.',
  decoys: [
    'open loop, cold engine, overrun fuel cut and the three seconds after it: left out',
    'high purge duty: left out; not recorded: told as a doubt of a rich finding',
    'the first minute after codes were cleared: left out; all long-term trims exactly zero: reset, never clear',
    'ethanol: a uniform lean shift that the fuel of the profile explains is no finding (from the stoichiometric ratios: E10 +4 %, E85 +49 %)',
    'fuel vapour from the oil: rich idle that fades as the oil gets hot is judged by its hot part',
    'exhaust leak before the sensor: cannot be told from an air leak by trims, named among the causes',
    'factor or additive columns: told apart when the file is read',
  ],
  cautions: [
    'Never run the engine in a closed space; search for leaks with a smoke device or by pressure, not with flammable spray on a hot engine.',
    'Fuel systems hold pressure after switching off: have them opened by a qualified technician.',
  ],
  proves:
    'With the engine warm: one minute of idle, one minute of steady driving above 20 km/h, one minute of steady climbing or acceleration at part load; record short and long trims of every bank, coolant temperature, pedal, speed and load.',
  observe(view): TrimObservation | Refusal {
    const warm = view.derive(WARM);
    if (isRefusal(warm)) return warm;
    const loop = view.derive(CLOSED_LOOP);
    if (isRefusal(loop)) return loop;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const cut = view.derive(FUEL_CUT);
    const base = new Uint8Array(view.time.length);
    for (let i = 0; i < base.length; i++) base[i] = warm.mask[i]! & loop.mask[i]!;
    const mask = withoutCuts(base, isRefusal(cut) ? [] : cut.segments, view.time, AFTER_CUT);
    exclude(mask, view.optional('purgeDuty'), view.time, (x) => x > PURGE_HIGH);
    exclude(mask, view.optional('timeSinceClear'), view.time, (x) => x < 1);
    const oil = view.derive(OIL_WARM);
    const cells: Cell[] = [];
    const missing = new Map<Regime, Refusal>();
    const banks = banksOf(view);
    for (const bank of banks) {
      const error = lambdaErrorOf(view, bank.name);
      const signals: Signals = {
        time: view.time,
        ...totalOf(bank, view.time, mask),
        ...(error === undefined ? {} : { lambdaError: error }),
        ...(isRefusal(oil) ? {} : { hotOil: oil.mask }),
        maxStep: samples.maxStep,
      };
      for (const regime of REGIMES) {
        const segments = view.derive(SEGMENTS[regime]);
        if (isRefusal(segments)) {
          missing.set(regime, segments);
          continue;
        }
        const cell = cellOf(regime, bank.name, segments, signals);
        if (cell !== undefined) cells.push(cell);
      }
    }
    const longs = banks.map(({ long }) => long);
    return {
      cells,
      banks: banks.map(({ name }) => name),
      withoutShort: banks.filter(({ short }) => short === undefined).map(({ name }) => name),
      allLongZero: longs.every((long) => long.quality.samples > 0 && long.quality.constant && firstValue(long) === 0),
      missing: Object.fromEntries(missing),
      purgeKnown: view.optional('purgeDuty') !== undefined,
      ethanolKnown: view.optional('ethanolContent') !== undefined,
      closedLoopCertain: loop.certain,
      certainties: banks.flatMap(({ short, long }) =>
        [long, ...(short ? [short] : [])].map(({ certainty }) => ({ certainty })),
      ),
    };
  },
  judge: judgeTrims,
});

type TrimView = View<string, string, typeof DERIVED>;

interface Bank {
  readonly name: string;
  readonly long: Channel;
  readonly short?: Channel;
}

function banksOf(view: Pick<TrimView, 'family'>): Bank[] {
  const shorts = new Map(view.family('fuelTrimShort').map((channel) => [bankName(channel), channel]));
  return view.family('fuelTrimLong').map((long) => {
    const name = bankName(long);
    const short = shorts.get(name);
    return { name, long, ...(short === undefined ? {} : { short }) };
  });
}

function bankName({ id }: Channel): string {
  return id.split('.')[1] ?? 'bank1';
}

function totalOf(
  bank: Bank,
  time: Float64Array,
  mask: Uint8Array,
): Pick<Signals, 'total' | 'short' | 'quantum' | 'hz'> {
  const long = heldValues(bank.long.values, time);
  const short = bank.short === undefined ? undefined : heldValues(bank.short.values, time);
  const total = new Float64Array(time.length).fill(Number.NaN);
  for (let i = 0; i < total.length; i++) if (mask[i] === 1) total[i] = totalTrim(short?.[i] ?? 0, long[i]!);
  const channels = bank.short === undefined ? [bank.long] : [bank.long, bank.short];
  const quantum = Math.hypot(...channels.map(({ quality }) => (quality.quantum > 0 ? quality.quantum : J1979_STEP)));
  const hz = freshRate(bank.short ?? bank.long).hz;
  return {
    total,
    ...(short === undefined ? {} : { short }),
    quantum,
    hz: Number.isNaN(hz) ? Number.POSITIVE_INFINITY : hz,
  };
}

/** Lambda minus target row by row; a target that is not recorded is 1, as closed loop means. */
function lambdaErrorOf(view: Pick<TrimView, 'optional' | 'time'>, bank: string): Float64Array | undefined {
  const lambda = view.optional(`lambda.${bank}`) ?? view.optional('lambda');
  if (lambda === undefined || lambda.quality.constant) return undefined;
  const target = view.optional(`lambdaTarget.${bank}`) ?? view.optional('lambdaTarget');
  const read = heldValues(lambda.values, view.time);
  const wanted = target === undefined || target.quality.constant ? undefined : heldValues(target.values, view.time);
  const error = new Float64Array(read.length);
  for (let i = 0; i < error.length; i++) error[i] = read[i]! - (wanted === undefined ? 1 : wanted[i]!);
  return error;
}

function exclude(
  mask: Uint8Array,
  channel: Channel | undefined,
  time: Float64Array,
  when: (x: number) => boolean,
): void {
  if (channel === undefined) return;
  const values = heldValues(channel.values, time);
  for (let i = 0; i < mask.length; i++) if (when(values[i]!)) mask[i] = 0;
}

function firstValue({ values }: Channel): number {
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}
