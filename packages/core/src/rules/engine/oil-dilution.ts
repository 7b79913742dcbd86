import { exceeds } from '../../derived/exceeds.js';
import { OIL_ESTIMATE } from '../../derived/oil-estimate.js';
import { OIL_PRESSURE } from '../../derived/oil-pressure.js';
import { ownLoss } from '../../derived/oil-pressure-own.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { CRUISE, IDLE } from '../../derived/segments.js';
import { TOTAL_TRIM } from '../../derived/total-trim.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, figure, listed, signed } from '../wording.js';
import { type DilutionReading, type Fading, IDLE_SECONDS, readDilution } from './oil-dilution-reading.js';

const CP = 'common practice, no source';
/** Cruising that changes by more than this share of the idle is a mixture that depends on warmth: vapour is less beside the more air of a cruise. */
const ALIKE = 0.8;
const EARLY = `idle for >= ${IDLE_SECONDS} s in closed loop while the oil warms from 35 to 75 °C`;
const LATE = `idle for >= ${IDLE_SECONDS} s with the oil at 80 °C and more, in the same drive`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 5,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'points by which a rich idle trim fades from warming oil (35 to 75 °C) to hot oil (from 80 °C)',
  },
  {
    name: 'pressure',
    value: 15,
    unit: '%',
    comparison: '>',
    source: CP,
    about: "hot oil pressure below the car's own of an earlier drive, same engine speed and oil temperature",
  },
  {
    name: 'level',
    value: 3,
    unit: 'mm',
    comparison: '>',
    source: CP,
    about: 'oil level over that of an earlier drive, hot',
  },
];

export const oilDilution = defineRule({
  id: 'engine.oil-dilution',
  system: 'engine',
  question: 'Is there fuel in the oil?',
  why: 'Fuel thins the film in the bearings. It boils off as the oil warms and is breathed in: the idle is rich until the oil is hot.',
  weight: 1,
  slow: true,
  needs: {
    channels: ['fuelTrimLong.bank1', 'engineOilTemperature'],
    optional: ['fuelTrimLong', 'fuelTrimShort', 'purgeDuty', 'engineOilPressure', 'engineOilLevel', 'engineSpeed'],
    derived: [TOTAL_TRIM, SAMPLES, ROW_SECONDS, IDLE, CRUISE, OIL_ESTIMATE, OIL_PRESSURE],
    conditions: [EARLY, LATE],
  },
  limits,
  method:
    'Total trim at idle in closed loop, median of thirty seconds and more, while the oil warms from 35 to 75 °C against that from 80 °C (from 90 °C where there is enough of it); the first 45 s after a start and four after the pedal is let go are left out. All banks have to be rich and to fade, most of the early idle has to be rich, and cruising must not fade with it, as vapour is little beside its air. A level that has risen, or hot pressure that has fallen, against an earlier drive makes it a repair.',
  decoys: [
    'tank ventilation: high duty is left out; where it is not recorded a part of the idle that is rich does not count, and it stays a doubt',
    'a leaking injector or too much pressure: rich with hot oil as well, so nothing fades; one bank alone is not the oil',
    'ethanol and other lasting errors of the mixture: the same with cold and hot oil',
    'a warm-up map that is off: cruising fades with the idle then',
    'after-start enrichment: open loop, and the first 45 s, left out',
  ],
  cautions: ['Petrol in the oil burns: no naked flame at the oil filler or drain; run the engine in the open only.'],
  proves:
    'From cold: let it idle for a minute or two while the oil passes 40 to 75 °C, drive it hot, and idle for another minute with the oil above 90 °C; short and long trims, oil temperature, pedal and speed at 1 Hz; purge duty, oil pressure and level where they are served.',
  observe: (view) => readDilution(view),
  judge,
});

interface Case {
  readonly input: number;
  /** The bank that faded least. */
  readonly fading: Fading;
  readonly observation: DilutionReading;
  readonly beyond: boolean;
}

function judge(observed: readonly Observed<DilutionReading>[], context: Context): Judgement {
  const { watch, pressure, level } = context.limits();
  const cases = observed.flatMap(({ input, observation }): Case[] => {
    const { banks } = observation;
    if (banks.length === 0) return [];
    const fading = banks.reduce((a, b) => (b.fade < a.fade ? b : a));
    const vapour = banks.every(
      (bank) => bank.early < 0 && bank.steady && !(bank.cruise > ALIKE * Math.max(bank.fade, watch!.value)),
    );
    const beyond = vapour && exceeds(fading.fade, fading.u, watch!.value, watch!.comparison) === 'beyond';
    return [{ input, fading, observation, beyond }];
  });
  const worst = cases.reduce<Case | undefined>(
    (a, b) =>
      a === undefined ||
      Number(b.beyond) - Number(a.beyond) > 0 ||
      (b.beyond === a.beyond && b.fading.fade > a.fading.fade)
        ? b
        : a,
    undefined,
  );
  const loss = thinned(observed);
  const rise = risen(observed);
  const thin =
    loss !== undefined && exceeds(loss.loss, loss.uncertainty, pressure!.value, pressure!.comparison) === 'beyond';
  const full = rise !== undefined && exceeds(rise.mm, rise.u, level!.value, level!.comparison) === 'beyond';
  const base = {
    measures: {
      ...(worst === undefined
        ? {}
        : {
            fading: { value: worst.fading.fade, unit: '%' },
            warming: { value: worst.fading.early, unit: '%' },
            hot: { value: worst.fading.late, unit: '%' },
          }),
      ...(loss === undefined ? {} : { pressureLoss: { value: loss.loss, unit: '%' } }),
      ...(rise === undefined ? {} : { levelRise: { value: rise.mm, unit: 'mm' } }),
    },
    limits: [watch!, ...(loss === undefined ? [] : [pressure!]), ...(rise === undefined ? [] : [level!])],
    notes: worst?.observation.purgeKnown === false ? ['Tank ventilation not recorded: it could pretend the same.'] : [],
  };
  if (worst === undefined) {
    const early = Math.max(...observed.map(({ observation }) => observation.early));
    const late = Math.max(...observed.map(({ observation }) => observation.late));
    return {
      ...base,
      outcome: 'unproven',
      summary: `Idle in closed loop: ${figure(early, 0)} s while the oil warmed, ${figure(late, 0)} s with hot oil; ${IDLE_SECONDS} s of each in one drive are needed.`,
      missing: {
        channels: [],
        conditions: [
          ...(early < IDLE_SECONDS ? [EARLY] : []),
          ...(late < IDLE_SECONDS || early >= IDLE_SECONDS ? [LATE] : []),
        ],
      },
    };
  }
  const { fading, observation, input } = worst;
  const doubts = [observation.purgeKnown ? 1 : 0.85, observation.closedLoopCertain ? 1 : 0.85];
  const { channels } = observation;
  const told = `idle trim ${signed(fading.early)} % while the oil warmed (${clockTime(fading.from)} to ${clockTime(fading.to)}), ${signed(fading.late)} % with hot oil`;
  if (!worst.beyond) {
    const other = fading.fade >= watch!.value ? why(observation, watch!.value) : '';
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: other === '' ? Math.max(watch!.value - fading.fade, 0) : watch!.value,
        uncertainty: fading.u,
        samples: fading.samples,
        channels,
        doubts,
      }),
      summary: `${told.charAt(0).toUpperCase()}${told.slice(1)}: ${other === '' ? `${fading.fade > watch!.value ? 'near the limit' : `no rich trim that fades by ${figure(watch!.value)} points or more`}` : other}.`,
    };
  }
  const severity: Severity = thin || full ? 'repair' : 'watch';
  const signs = [
    ...(thin ? [`hot oil pressure is ${figure(loss.loss, 0)} % below that of an earlier drive`] : []),
    ...(full ? [`the oil level has risen by ${figure(rise.mm, 0)} mm`] : []),
  ];
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: fading.fade - watch!.value,
      uncertainty: fading.u,
      samples: fading.samples,
      channels,
      doubts,
    }),
    summary: `Rich while the oil warmed, and faded by ${figure(fading.fade)} points (limit ${figure(watch!.value)}): ${told}${signs.length === 0 ? '' : `; ${listed(signs)}`}.`,
    events: [{ input, from: fading.from, to: fading.to, severity, peak: { value: fading.early, unit: '%' } }],
    causes: [
      'many short drives in the cold: fuel that never boils off',
      'an injector that leaks or sprays on the wall; high-pressure pump whose plunger leaks into the oil',
      'enrichment for too long: full-load map, misfires, a cold-running thermostat',
      ...(observation.purgeKnown ? [] : ['tank ventilation, which was not recorded']),
    ],
    advice: [
      'Look at the level and smell the dipstick; a level that rises is fuel.',
      'A long hot drive, then repeat: does it stay away? Otherwise change oil and filter and watch how soon it comes back.',
      'Oil analysis for fuel content and viscosity.',
      'Injector leak test with rail pressure held, and the seal of the high-pressure pump.',
      ...(severity === 'repair' ? ['No full load before the oil has been changed.'] : []),
    ],
  };
}

/** Why a trim that fades is not taken for vapour. */
function why({ banks }: DilutionReading, limit: number): string {
  if (banks.some(({ early }) => early >= 0)) return 'it was not rich';
  if (banks.some(({ steady }) => !steady)) return 'rich for a part of the time only, as tank ventilation is';
  if (banks.some(({ cruise, fade }) => cruise > ALIKE * Math.max(fade, limit)))
    return 'cruising changed with it, so it is the mixture while warming up, not vapour';
  return '';
}

/** Hot oil pressure lost from an earlier drive to a later one; the largest. */
function thinned(observed: readonly Observed<DilutionReading>[]) {
  let most: ReturnType<typeof ownLoss>;
  observed.forEach(({ observation }, k) => {
    for (let j = 0; j < k; j++) {
      const found = ownLoss(observed[j]!.observation.own, observation.own);
      if (found !== undefined && found.loss > (most?.loss ?? 0)) most = found;
    }
  });
  return most;
}

/** mm that the hot oil level has risen by from an earlier drive to a later one; the largest. */
function risen(observed: readonly Observed<DilutionReading>[]): { mm: number; u: number } | undefined {
  const known = observed.map(({ observation }) => observation).filter((o) => !Number.isNaN(o.level));
  let most: { mm: number; u: number } | undefined;
  known.forEach((later, k) => {
    for (let j = 0; j < k; j++) {
      const earlier = known[j]!;
      const mm = later.level - earlier.level;
      if (most === undefined || mm > most.mm) most = { mm, u: Math.hypot(earlier.levelU, later.levelU, 0.5) };
    }
  });
  return most;
}
