import { isRefusal, type Refusal } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { CRUISE, IDLE, LOAD } from '../../derived/segments.js';
import { TOTAL_TRIM } from '../../derived/total-trim.js';
import { OIL_WARM, WARM } from '../../derived/warm.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type View } from '../rule.js';
import { type Cell, cellOf, REGIMES, type Regime, type Signals } from './trim-cells.js';
import type { TrimObservation } from './trim-findings.js';
import { judgeTrims } from './trim-judgement.js';

const CP = 'common practice, no source';

const SEGMENTS = { idle: IDLE, cruise: CRUISE, load: LOAD };
const DERIVED = [TOTAL_TRIM, SAMPLES, IDLE, CRUISE, LOAD, WARM, OIL_WARM] as const;

export const fuelTrim = defineRule({
  id: 'fuel.trim',
  system: 'fuel',
  question: 'How far is the mixture corrected, in which regime, on which bank, and why?',
  why: 'The trim shows what the control unit has to make good: leaks, a tired pump, a dirty air meter, leaking injectors, long before a lamp lights.',
  weight: 2,
  slow: true,
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
    const trims = view.derive(TOTAL_TRIM);
    if (isRefusal(trims)) return trims;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const oil = view.derive(OIL_WARM);
    const cells: Cell[] = [];
    const missing = new Map<Regime, Refusal>();
    const { banks } = trims;
    for (const bank of banks) {
      const error = lambdaErrorOf(view, bank.name);
      const signals: Signals = {
        time: view.time,
        total: bank.total.map((x, i) => (warm.mask[i] === 1 ? x : Number.NaN)),
        ...(bank.shortValues === undefined ? {} : { short: bank.shortValues }),
        quantum: bank.quantum,
        hz: bank.hz,
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
      purgeKnown: trims.purgeKnown,
      ethanolKnown: view.optional('ethanolContent') !== undefined,
      closedLoopCertain: trims.closedLoopCertain,
      certainties: banks.flatMap(({ short, long }) =>
        [long, ...(short ? [short] : [])].map(({ certainty }) => ({ certainty })),
      ),
    };
  },
  judge: judgeTrims,
});

type TrimView = View<string, string, typeof DERIVED>;

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

function firstValue({ values }: Channel): number {
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}
